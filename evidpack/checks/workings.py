"""The numbers behind a check, line by line, for `explain`."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

from evidpack.checks.approvals import window_for
from evidpack.checks.certificate_contents import tolerance_of
from evidpack.checks.certificate_lookup import calibrations_of, last_day_covered, meters_used
from evidpack.checks.clock_model import order, slack_s
from evidpack.checks.day_parts import Reading
from evidpack.checks.deadlines import cases
from evidpack.checks.displays import UNIT_MPS
from evidpack.checks.geometry import cosine_factor, site_of
from evidpack.checks.limit_orders import limit_for
from evidpack.checks.look import Look
from evidpack.checks.position import distance_m, place_of
from evidpack.checks.pulse_judge import PulseJudge
from evidpack.checks.readings import pulse_series
from evidpack.checks.regression import PulseFitter
from evidpack.checks.second_speed import reading_uncertainty_mps
from evidpack.checks.threshold import practice
from evidpack.checks.times import duration_text, utc_text
from evidpack.model.fields import RecordKind

MAX_LINES: Final = 200


def _calibrations(look: Look) -> Iterator[str]:
    for meter in meters_used(look):
        for certificate in calibrations_of(look, meter):
            yield (
                f"meter {meter}: certificate {certificate.text('number')} calibrated "
                f"{certificate.values.get('calibrated')}, last day covered "
                f"{last_day_covered(look, certificate)} [{certificate.source}]"
            )
    for session in look.sessions:
        if session.dates is not None:
            yield f"session {session.id}: {session.dates[0]} to {session.dates[1]}"


def _tolerances(look: Look) -> Iterator[str]:
    for meter in meters_used(look):
        for certificate in calibrations_of(look, meter):
            for name in ("speed_error", "speed_error_found"):
                found = tolerance_of(look, certificate, name)
                if found is not None:
                    yield (
                        f"certificate {certificate.text('number')}, {name}: e = {found.error:+g}, "
                        f"U = {found.uncertainty:g}, w = {found.guard:g} {found.unit}; upper: "
                        f"TH − w = {found.high - found.guard:g}, TH = {found.high:g}, TH + w = "
                        f"{found.high + found.guard:g}; lower: TL + w = {found.low + found.guard:g}, "
                        f"TL = {found.low:g}, TL − w = {found.low - found.guard:g}: "
                        f"{found.decision.words} [{certificate.source}]"
                    )


def _distances(look: Look) -> Iterator[str]:
    for record in look.day.of(RecordKind.DEVICE_TEST):
        measured, surveyed = record.length("measured"), record.length("surveyed")
        if measured is not None and surveyed is not None:
            yield (
                f"|{measured.metres:g} m − {surveyed.metres:g} m| = "
                f"{round(abs(measured.metres - surveyed.metres), 6):g} m [{record.source}]"
            )


def _clocks(look: Look) -> Iterator[str]:
    for name, line in look.clock_lines.items():
        for one in line.comparisons:
            yield (
                f"clock {name}: showed {utc_text(one.clock_s)}, reference "
                f"{utc_text(one.reference_s)}: o = {one.offset_s:+.3f} s, U = "
                f"{one.uncertainty_s:g} s{', then set right' if one.reset else ''}"
            )
        drift = line.drift()
        if drift is not None:
            yield (
                f"clock {name}: drift = {drift.rate:+.3e} s/s = {drift.rate * 1e6:+.3f} ppm, "
                f"U = {drift.uncertainty * 1e6:.3f} ppm"
            )


def _order(look: Look) -> Iterator[str]:
    for reading in look.readings:
        place = look.placements.get(reading.number)
        if place is None:
            yield f"capture {reading.number}: its time names no instant [{reading.record.source}]"
            continue
        width = "not known" if place.uncertainty_s is None else f"{place.uncertainty_s:.2f} s"
        yield (
            f"capture {reading.number}: recorded {utc_text(place.raw_s)}, offset "
            f"{place.raw_s - place.at_s:+.3f} s (U {width}), reconciled {utc_text(place.at_s)} "
            f"[{reading.record.source}]"
        )
        opinion = look.place(reading.record, "opinion_time")
        if opinion is not None:
            yield (
                f"  opinion {duration_text(place.at_s - opinion.at_s)} before the reading, slack "
                f"{slack_s(opinion, place)} s: in order {order(opinion, place).value}"
            )
        for still in look.stills_of_captures.get(reading.number, ()):
            taken = look.place(still, "time")
            if taken is not None:
                slack = slack_s(place, taken)
                yield (
                    f"  still {taken.at_s - place.at_s:+.3f} s from the reading, slack "
                    f"{'not known' if slack is None else f'{slack:.2f} s'}: in order "
                    f"{order(place, taken).value}"
                )


def _shown(reading: Reading) -> str:
    return "no speed" if reading.speed is None else f"{reading.speed:g} {reading.speed_unit}"


def _slopes(look: Look) -> Iterator[str]:
    fitter = PulseFitter(look.rules.value("sawtooth_step").metres)
    judge = PulseJudge(look)
    sessions = {session.id: session for session in look.sessions}
    for name in sorted(look.by_session, key=str):
        window = window_for(look, sessions.get(name) if name is not None else None)
        yield (
            f"session {name}: window {window.range_min_m:g} to {window.range_max_m:g} m "
            f"({window.range_source}), speed {window.speed_min or '0'} to "
            f"{window.speed_max or 'no upper limit stated'}"
        )
        for reading in look.by_session[name]:
            times, ranges = pulse_series(reading)
            train = fitter.fit(times, ranges)
            shown = f"shown {_shown(reading)} at {reading.range_m} m"
            if train is None:
                yield f"capture {reading.number}: {shown}, no pulse train [{reading.record.source}]"
                continue
            factor = UNIT_MPS.get(reading.speed_unit, 1.0)
            yield (
                f"capture {reading.number}: {shown}; n = {train.count}, b = "
                f"{train.slope_mps:.4f} m/s = {abs(train.slope_mps) / factor:.3f} "
                f"{reading.speed_unit}, u(b) = {train.slope_sd_mps:.4f} m/s, s = "
                f"{train.noise_m:.4f} m, reset {train.reset_m:.3f} m, allowed ± "
                f"{judge.allowance_mps(reading, train) / factor:.3f} {reading.speed_unit} "
                f"[{reading.record.source}]"
            )


def _second(look: Look) -> Iterator[str]:
    for record in look.day.of(RecordKind.MARK):
        for reading in look.identified(record.text("capture")):
            distance, interval = record.length("distance"), record.number("interval_s")
            if distance is None or not interval:
                continue
            own = reading_uncertainty_mps(look, reading)
            yield (
                f"capture {reading.number}: d = {distance.metres:g} m, u(d) = "
                f"{record.length('distance_uncertainty')}, t = {interval:g} s, u(t) = "
                f"{record.number('interval_uncertainty_s')} s, v = "
                f"{distance.metres / interval:.4f} m/s; reading {reading.speed} "
                f"{reading.speed_unit}, U = {own} m/s [{record.source}]"
            )


def _cosines(look: Look) -> Iterator[str]:
    for session in look.sessions:
        site = site_of(look, session)
        offset = site.length("offset") if site is not None else None
        if site is None or offset is None:
            continue
        height = site.length("height")
        y = height.metres if height is not None else 0.0
        for reading in look.by_session.get(session.id, ()):
            if reading.range_m is None:
                continue
            factor = cosine_factor(offset.metres, y, reading.range_m)
            shown = "impossible" if factor is None else f"{factor:.6f}"
            yield (
                f"capture {reading.number}: x = {offset.metres:g} m, y = {y:g} m, R = "
                f"{reading.range_m:g} m: factor {shown}"
            )


def _positions(look: Look) -> Iterator[str]:
    for session in look.sessions:
        site = site_of(look, session)
        due = place_of(site)
        if site is None or due is None:
            continue
        yield f"site {session.site}: {due.latitude:g}, {due.longitude:g} degrees [{site.source}]"
        stood = place_of(session.record)
        if stood is not None:
            yield (
                f"session {session.id}: {stood.latitude:g}, {stood.longitude:g} degrees, "
                f"{distance_m(stood, due):.1f} m away [{session.record.source}]"
            )
        for reading in look.by_session.get(session.id, ()):
            taken = place_of(reading.record)
            if taken is not None:
                yield (
                    f"capture {reading.number}: {taken.latitude:g}, {taken.longitude:g} degrees, "
                    f"{distance_m(taken, due):.1f} m away [{reading.record.source}]"
                )


def _thresholds(look: Look) -> Iterator[str]:
    sessions = {session.id: session for session in look.sessions}
    for reading in look.readings:
        speed, limit = reading.record.speed("speed"), reading.record.speed("limit")
        if limit is None:
            due = limit_for(look, sessions.get(reading.session or ""))
            limit = None if due is None else due[0]
        if speed is None or limit is None:
            yield f"capture {reading.number}: speed or limit missing [{reading.record.source}]"
            continue
        found = practice(speed, limit, look.rules)
        yield (
            f"capture {reading.number}: raw {speed}, limit {limit}; kept {found.kept:g} against "
            f"{found.needed:g} {found.unit}: {'reached' if found.reached else 'not reached'} "
            f"[{reading.record.source}]"
        )


def _events(look: Look) -> Iterator[str]:
    for case in cases(look):
        events = ", ".join(f"{name} {day}" for name, day in sorted(case.events.items()))
        yield f"{case.subject}: offence {case.offence}; {events or 'no events on record'}"


WORKINGS: Final[dict[str, Callable[[Look], Iterator[str]]]] = {
    "2": _calibrations,
    "2b": _tolerances,
    "2c": _tolerances,
    "4": _order,
    "5": _distances,
    "6": _clocks,
    "7": _order,
    "10": _slopes,
    "11": _order,
    "12": _second,
    "14": _cosines,
    "15": _positions,
    "16": _thresholds,
    "20": _events,
}
