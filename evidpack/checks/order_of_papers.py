"""Were report and seal made after what they cover? The end of check 7."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from evidpack.checks.clock_model import Order, Placement, order
from evidpack.checks.look import Look
from evidpack.checks.saying import Say, captures, figure, upper_first
from evidpack.checks.times import duration_text
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding

SOURCE: Final = "common practice, no source; slack computed from clock checks and resolutions"


def report_signed_after(look: Look, say: Say) -> Iterator[Finding]:
    """Each report was signed after the last reading and the closing tests that it covers."""
    for record in sorted(look.day.of(RecordKind.REPORT), key=lambda one: one.source.order):
        signed = look.place(record, "signed")
        named = record.text("session")
        last = _last_reading(look, named)
        if signed is not None and last is not None:  # check 17 says where a report is not signed
            yield _signed(say, named, signed, last, _closing(look, named))


def _last_reading(look: Look, named: str | None) -> Placement | None:
    """The last reading of a session, or of the day; of equal times the first."""
    readings = look.readings if named is None else look.by_session.get(named)
    if readings is None:
        return None
    times, numbers = look.timed(readings)
    return look.placements[numbers[times.index(max(times))]] if times else None


def _closing(look: Look, named: str | None) -> Placement | None:
    """The last device test of a session, or of the day."""
    closing = [
        place
        for session in look.sessions
        if named in {None, session.id}
        for test in look.tests_of(session)
        if (place := look.place(test, "time")) is not None
    ]
    return max(closing, key=lambda one: one.at_s, default=None)


def _signed(
    say: Say, named: str | None, signed: Placement, last: Placement, closing: Placement | None
) -> Finding:
    subject = f"report of session {named}" if named else "day report"
    if order(last, signed) is Order.NO:
        return say.failed(
            subject,
            f"The {subject} was signed {duration_text(last.at_s - signed.at_s)} before the "
            "last reading that it covers.",
            "The person who signed can explain it.",
            measured=figure(signed.at_s - last.at_s),
            limit=0,
            unit="s",
            source=SOURCE,
        )
    if closing is not None and order(closing, signed) is Order.NO:
        return say.query(
            subject,
            f"The {subject} was signed {duration_text(closing.at_s - signed.at_s)} before the "
            "closing tests were done.",
            "The person who signed can explain it.",
            measured=figure(signed.at_s - closing.at_s),
            limit=0,
            unit="s",
            source=SOURCE,
        )
    return say.passed(
        subject,
        f"The {subject} was signed after the last reading and the closing tests.",
        source=SOURCE,
    )


def before_seal(look: Look, say: Say) -> Iterator[Finding]:
    """No reading, test or signature is timed after the check or the claimed sealing time."""
    now = look.day.now.timestamp()
    # What a time leaves open makes it only earlier.
    times, numbers = look.timed(look.readings)
    pairs = zip(numbers, times, strict=True) if times and max(times) > now else ()
    after = [number for number, at_s in pairs if at_s > now]
    late = [number for number in after if _is_later(look, look.placements[number])]
    tests = sum(
        _is_later(look, look.place(test, "time")) for test in look.day.of(RecordKind.DEVICE_TEST)
    )
    if late or tests:
        parts = [captures(late)] if late else []
        parts += [f"{tests} device {'test' if tests == 1 else 'tests'}"] if tests else []
        yield say.failed(
            captures(late) if late else "device tests",
            f"{upper_first(' and '.join(parts))} {'is' if len(late) + tests == 1 else 'are'} timed "
            "after this check or seal was made.",
            "The operator can say how the meter's clock was set; the office can check its own.",
            measured=len(late) + tests,
            limit=0,
            source=SOURCE,
        )
    else:  # a report follows what it is about
        yield from _reports(look, say)


def _reports(look: Look, say: Say) -> Iterator[Finding]:
    """Reports that are signed after the check or the claimed sealing time."""
    for record in sorted(look.day.of(RecordKind.REPORT), key=lambda one: one.source.order):
        signed = look.place(record, "signed")
        if signed is None or not _is_later(look, signed):
            continue
        named = record.text("session")
        subject = f"report of session {named}" if named else "day report"
        after = signed.at_s - look.day.now.timestamp()
        yield say.failed(
            subject,
            f"The {subject} bears a signature of {duration_text(after)} after this check or seal "
            "was made.",
            "The person who signed can explain it.",
            measured=figure(after),
            limit=0,
            unit="s",
            source=SOURCE,
        )


def _is_later(look: Look, place: Placement | None) -> bool:
    """Whether a time lies after the check or the claimed sealing time beyond all doubt."""
    if place is None:
        return False
    slack = (place.uncertainty_s or 0.0) + place.half_width_s + place.resolution_s
    return place.at_s - slack > look.day.now.timestamp()
