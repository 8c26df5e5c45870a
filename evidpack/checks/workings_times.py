"""The numbers behind the checks of device tests, clocks and order, for `explain`."""

from __future__ import annotations

from collections.abc import Iterator

from evidpack.checks.clock_model import Placement, order, slack_s
from evidpack.checks.look import Look
from evidpack.checks.saying import figure
from evidpack.checks.strays import strays
from evidpack.checks.times import duration_text, precise_utc_text
from evidpack.model.fields import RecordKind


def _width(place: Placement) -> str:
    return "not known" if place.uncertainty_s is None else f"{place.uncertainty_s:.2f} s"


def bracket(look: Look) -> Iterator[str]:
    """Check 4: first and last reading of each session, and where each test lies beside them."""
    for session in look.sessions:
        readings = look.readings_of(session)
        left_out = look.rolled_readings.union(strays(look, session))
        times, numbers = look.timed(readings, leave_out=left_out)
        if not times:
            yield f"session {session.id}: no timed reading"
            continue
        edges = [look.placements[numbers[times.index(edge)]] for edge in (min(times), max(times))]
        first, last = (precise_utc_text(edge.at_s) for edge in edges)
        yield f"session {session.id}: first reading {first}, last {last}, on the reconciled line"
        for record in look.tests_of(session):
            place = look.place(record, "time")
            if place is None:
                yield f"  {record.text('test')}: its time names no instant [{record.source}]"
                continue
            before, after = order(place, edges[0]).value, order(edges[1], place).value
            yield (
                f"  {record.text('test')} {record.text('result')} on {record.text('meter')}: "
                f"{precise_utc_text(place.at_s)} (U {_width(place)}); before the first: {before}, "
                f"after the last: {after} [{record.source}]"
            )


def distances(look: Look) -> Iterator[str]:
    """Check 5: measured and surveyed distance of each test."""
    for record in look.day.of(RecordKind.DEVICE_TEST):
        measured, surveyed = record.length("measured"), record.length("surveyed")
        if measured is not None and surveyed is not None:
            yield (
                f"|{measured.metres:g} m − {surveyed.metres:g} m| = "
                f"{round(abs(measured.metres - surveyed.metres), 6):g} m [{record.source}]"
            )


def clocks(look: Look) -> Iterator[str]:
    """Check 6: each comparison of each clock, and the drift they give."""
    for name, line in look.clock_lines.items():
        for one in line.comparisons:
            yield (
                f"clock {name}: showed {precise_utc_text(one.clock_s)}, reference "
                f"{precise_utc_text(one.reference_s)}: o = {one.offset_s:+.3f} s, U = "
                f"{one.uncertainty_s:g} s{', then set right' if one.reset else ''}"
            )
        drift = line.drift()
        if drift is not None:
            yield (
                f"clock {name}: drift = {drift.rate:+.3e} s/s = {drift.rate * 1e6:+.3f} ppm, "
                f"U = {drift.uncertainty * 1e6:.3f} ppm"
            )


def sequence(look: Look) -> Iterator[str]:
    """Check 7: each reading on the reconciled line, and what stands before and after it."""
    for session in look.sessions:
        bounds = [look.place_typed(one) for one in (session.start, session.end)]
        shown = [precise_utc_text(one.at_s) if one else "no instant" for one in bounds]
        yield f"session {session.id}: {shown[0]} to {shown[1]} [{session.record.source}]"
    for reading in look.readings:
        place = look.placements.get(reading.number)
        if place is None:
            yield f"capture {reading.number}: its time names no instant [{reading.record.source}]"
            continue
        yield (
            f"capture {reading.number}: recorded {precise_utc_text(place.raw_s)}, offset "
            f"{place.raw_s - place.at_s:+.3f} s (U {_width(place)}), reconciled "
            f"{precise_utc_text(place.at_s)} [{reading.record.source}]"
        )
        opinion = look.place(reading.record, "opinion_time")
        if opinion is not None:
            apart, slack = place.at_s - opinion.at_s, slack_s(opinion, place)
            yield (
                f"  opinion {duration_text(apart)} {'before' if apart >= 0 else 'after'} the "
                f"reading, slack {_seconds(slack)}: in order {order(opinion, place).value}"
            )
        yield from stills_of(look, reading.number, place)
    for record in look.day.of(RecordKind.REPORT):
        signed = look.place(record, "signed")
        if signed is not None:
            yield f"report signed {precise_utc_text(signed.at_s)} [{record.source}]"


def stills_of(look: Look, number: int, place: Placement) -> Iterator[str]:
    """The stills of a capture beside its reading."""
    for still in look.stills_of_captures.get(number, ()):
        taken = look.place(still, "time")
        if taken is not None:
            yield (
                f"  still {taken.at_s - place.at_s:+.3f} s from the reading, slack "
                f"{_seconds(slack_s(place, taken))}: in order {order(place, taken).value}"
            )


def _seconds(slack: float | None) -> str:
    return "not known" if slack is None else f"{figure(slack):g} s"
