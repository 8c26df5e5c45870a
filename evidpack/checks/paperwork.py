"""Is the certificate for this meter, and was it in date? Checks 1 and 2."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from itertools import pairwise
from typing import Final

from evidpack.checks.certificate_lookup import (
    SERIAL_SOURCE,
    calibration_for,
    calibrations_of,
    calibrations_of_others,
    device_of,
    last_day_covered,
    meters_used,
    plain,
)
from evidpack.checks.day_parts import Session
from evidpack.checks.look import Look
from evidpack.checks.saying import Say, names
from evidpack.checks.serials import serials_in_logs
from evidpack.checks.times import read_date
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import Record

_OFFICE: Final = "The unit's records office can supply"
_SINCE_SOURCE: Final = "common practice, no source: a calibration covers the meter as it was left"


def certificate_is_for_this_meter(look: Look, say: Say) -> Iterator[Finding]:
    """Check 1: serial, type and firmware of certificate and meter are equal, and readings and
    tests name the session's meter.
    """
    if not look.sessions:
        yield say.missing(
            "day",
            "No session says which meter was used.",
            "The operator can supply the sessions and their meters.",
            needs="calibration_certificate",
        )
    for meter in meters_used(look):
        yield from _certificate_of(look, say, meter)
    yield from serials_in_logs(look, say)


def _certificate_of(look: Look, say: Say, meter: str) -> Iterator[Finding]:
    if not calibrations_of(look, meter):
        yield _of_another(look, say, meter)
        return
    certificate = calibration_for(look, meter, look.day.description.date)
    if certificate is not None:
        yield from _type_and_firmware(look, say, meter, certificate)


def _of_another(look: Look, say: Say, meter: str) -> Finding:
    """No certificate for this meter: none at all, or for a serial that no session names."""
    subject = f"meter {meter}"
    others = calibrations_of_others(look)
    if not others:
        return say.missing(
            subject,
            f"There is no calibration certificate for meter {meter}.",
            f"{_OFFICE} the calibration certificate.",
            needs="calibration_certificate",
        )
    serials = sorted({record.text("serial") or "no serial" for record in others})
    stated = names(
        f"certificate {record.text('number') or 'without number'} is for "
        f"{record.text('serial') or 'no serial'}"
        for record in others
    )
    return say.failed(
        subject,
        f"No calibration certificate is for meter {meter}, which was used: {stated}.",
        f"{_OFFICE} the certificate with this serial, or the laboratory a correction.",
        measured=[*serials],
        limit=meter,
        source=SERIAL_SOURCE,
    )


def _type_and_firmware(look: Look, say: Say, meter: str, certificate: Record) -> Iterator[Finding]:
    subject = f"meter {meter}"
    number = certificate.text("number") or "without number"
    device = device_of(look, meter)
    agreed = ["serial"]
    for name, word in (("type", "type"), ("firmware", "firmware")):
        stated = certificate.text(name)
        actual = device.text(name) if device is not None else None
        if stated is None or actual is None:
            silent = "the meter's record" if actual is None else f"certificate {number}"
            yield say.missing(
                subject,
                f"The {word} of meter {meter} can't be compared: {silent} does not state it.",
                f"{_OFFICE} the {word} from the meter's start-up screen or handbook.",
                needs="firmware" if name == "firmware" else "meter_type",
            )
        elif plain(stated) != plain(actual):
            yield say.failed(
                subject,
                f"Certificate {number} is for {word} {stated}, but meter {meter} is {word} {actual}.",
                "The laboratory can say which version it calibrated.",
                measured=actual,
                limit=stated,
                source=SERIAL_SOURCE,
            )
        else:
            agreed.append(word)
    yield say.passed(
        subject,
        f"Certificate {number} is for meter {meter}: {', '.join(agreed)} agree.",
        measured=meter,
        limit=certificate.text("serial"),
        source=SERIAL_SOURCE,
    )


def calibration_in_date(look: Look, say: Say) -> Iterator[Finding]:
    """Check 2: calibrated ≤ session ≤ calibrated + interval, no repair or seal break since."""
    for session in look.sessions:
        dates = session.dates
        if dates is None:
            yield say.missing(
                session.subject,
                f"Session {session.id} has no start or end that names a date.",
                "The operator can supply when the session was.",
                needs="calibration_certificate",
            )
            continue
        found = calibrations_of(look, session.meter)
        if not found:
            yield say.missing(
                session.subject,
                f"There is no calibration certificate for meter {session.meter} of session "
                f"{session.id}.",
                f"{_OFFICE} the calibration certificate.",
                needs="calibration_certificate",
                told_by="1" if session.meter else None,
            )
            continue
        certificate = calibration_for(look, session.meter, dates[0])
        if certificate is not None:
            yield from _cover(look, say, session, certificate, dates)
        yield from _contradicting(say, session, found)


def _cover(
    look: Look, say: Say, session: Session, certificate: Record, dates: tuple[date, date]
) -> Iterator[Finding]:
    number = certificate.text("number") or "without number"
    calibrated = read_date(certificate.values.get("calibrated"))
    until = last_day_covered(look, certificate)
    if calibrated is None or until is None:
        yield say.missing(
            session.subject,
            f"Certificate {number} states no date of calibration.",
            "The laboratory can supply the date of calibration.",
            needs="calibration_certificate",
        )
        return
    yield from _covered(look, say, session, number, (calibrated, until), dates)


def _covered(
    look: Look,
    say: Say,
    session: Session,
    number: str,
    cover: tuple[date, date],
    dates: tuple[date, date],
) -> Iterator[Finding]:
    """The dates of a session against the first and last day that a calibration covers."""
    rule = look.rules.value("calibration_interval")
    calibrated, until = cover
    limit = f"{calibrated.isoformat()} to {until.isoformat()}"
    broken = tuple(_since(look, say, session, calibrated, dates))
    wrong, why = _outside(session, number, cover, dates)
    if wrong is not None:
        advice = f"{_OFFICE} the certificate that was in force on the day, if there is one."
        measured = wrong.isoformat()
        yield say.failed(
            session.subject, why, advice, measured=measured, rule=rule, limit=limit, unit="date"
        )
    yield from broken
    if wrong is None and not broken:
        yield say.passed(
            session.subject,
            f"Meter {session.meter} was calibrated on {calibrated} (certificate {number}), "
            f"which covers session {session.id} until {until}.",
            measured=calibrated.isoformat(),
            rule=rule,
            limit=limit,
            unit="date",
        )


def _outside(
    session: Session, number: str, cover: tuple[date, date], dates: tuple[date, date]
) -> tuple[date | None, str]:
    """The date that is not covered and why, or None."""
    calibrated, until = cover
    if dates[0] < calibrated:
        why = (
            f"Meter {session.meter} was calibrated on {calibrated} (certificate {number}), after "
            f"session {session.id} of {dates[0]}."
        )
        return dates[0], why
    if dates[1] > until:
        why = (
            f"The calibration of {calibrated} (certificate {number}) covered meter "
            f"{session.meter} until {until}, and session {session.id} ended on {dates[1]}."
        )
        return dates[1], why
    return None, ""


def _since(
    look: Look, say: Say, session: Session, calibrated: date, dates: tuple[date, date]
) -> Iterator[Finding]:
    """Repairs, broken tamper seals and firmware changes between calibration and session."""
    words = {
        "repair": "was repaired",
        "tamper-seal-broken": "had its tamper seal broken",
        "firmware-changed": "had its firmware changed",
    }
    for record in look.day.of(RecordKind.METER_EVENT):
        happened = read_date(record.values.get("date"))
        if happened is None or plain(record.text("meter") or "") != plain(session.meter):
            continue
        if not calibrated <= happened <= dates[1]:
            continue
        event = record.text("event") or ""
        sentence = (
            f"Meter {session.meter} {words.get(event, event)} on {happened}, after its "
            f"calibration of {calibrated} and before the end of session {session.id}"
        )
        advice = "The workshop can say what was done, and the laboratory whether it recalibrated."
        edge = happened == calibrated or happened >= dates[0]
        why = "; the dates alone don't say which came first." if edge else "."
        speak = say.query if edge or event == "firmware-changed" else say.failed
        yield speak(
            session.subject,
            sentence + why,
            advice,
            measured=happened.isoformat(),
            limit=calibrated.isoformat(),
            unit="date",
            source=_SINCE_SOURCE,
        )


def _contradicting(say: Say, session: Session, found: Sequence[Record]) -> Iterator[Finding]:
    """Two certificates with one number, or of one date, that say different things."""
    for first, second in pairwise(found):
        numbers = (first.text("number") or "", second.text("number") or "")
        same_number = plain(numbers[0]) == plain(numbers[1])
        same_day = first.values.get("calibrated") == second.values.get("calibrated")
        stated = [
            {name: value for name, value in one.values.items() if not name.startswith("typed")}
            for one in (first, second)
        ]
        if (same_number or same_day) and stated[0] != stated[1]:
            yield say.query(
                session.subject,
                f"Certificates {numbers[0]} and {numbers[1]} for meter {session.meter} contradict "
                "each other.",
                "The laboratory can say which certificate stands.",
                measured=list(numbers),
                source="common practice, no source",
            )
