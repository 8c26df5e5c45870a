"""Was the operator certified for this type of meter? Check 3."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Final

from evidpack.checks.certificate_lookup import SERIAL_SOURCE, certificates, device_of, plain
from evidpack.checks.day_parts import Session
from evidpack.checks.look import Look
from evidpack.checks.saying import Say, captures, names
from evidpack.checks.times import add_months, read_date, read_instant
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import Record
from evidpack.model.values import JsonValue

_OFFICE: Final = "The unit's training records can supply it."
_OPEN: Final = float("inf")


def operator_certified(look: Look, say: Say) -> Iterator[Finding]:
    """Check 3: person, meter type and dates of the operator certificate cover the session."""
    for session in look.sessions:
        people = operators_of(session)
        if not people:
            yield say.missing(
                session.subject,
                f"Who operated the meter in session {session.id} is not on record.",
                "The day report or the operator can supply it.",
                needs="operator",
            )
            continue
        for person in people:
            if str(person.get("role", "operator")).casefold() == "operator":
                yield from _person(look, say, session, str(person.get("id", "")))
        yield from _present(look, say, session, people)
        yield from _testers(look, say, session, people)


def operators_of(session: Session) -> tuple[Mapping[str, JsonValue], ...]:
    """The people of a session: id, and role, from, until where given."""
    people = session.record.values.get("operators")
    if not isinstance(people, list):
        return ()
    return tuple(person for person in people if isinstance(person, dict))


def _person(look: Look, say: Say, session: Session, person: str) -> Iterator[Finding]:
    subject = f"operator {person} in session {session.id}"
    held = [
        record
        for record in certificates(look, "operator")
        if plain(record.text("holder") or "") == plain(person)
    ]
    dates = session.dates
    if not held:
        yield _of_others(look, say, session, person)
        return
    if dates is None:
        yield say.missing(
            subject,
            f"Session {session.id} has no start or end that names a date.",
            _OFFICE,
            needs="operator_certificate",
        )
        return
    held.sort(key=lambda one: (str(one.values.get("valid_from", "")), one.text("number") or ""))
    verdicts = [_verdict(look, session, record, dates) for record in held]
    best = min(verdicts, key=lambda one: one[0])
    yield _told(look, say, subject, best)


def _of_others(look: Look, say: Say, session: Session, person: str) -> Finding:
    """No certificate of this person: none at all, or one of somebody who was not there."""
    subject = f"operator {person} in session {session.id}"
    there = {
        plain(str(one.get("id", ""))) for other in look.sessions for one in operators_of(other)
    }
    others = [
        record
        for record in certificates(look, "operator")
        if plain(record.text("holder") or "") not in there
    ]
    if not others:
        return say.missing(
            subject,
            f"There is no operator certificate for operator {person} of session {session.id}.",
            _OFFICE,
            needs="operator_certificate",
        )
    stated = names(
        f"certificate {record.text('number') or 'without number'} is for "
        f"{record.text('holder') or 'no holder'}"
        for record in others
    )
    return say.failed(
        subject,
        f"No operator certificate is for operator {person} of session {session.id}: {stated}.",
        "The unit's training records can supply the certificate of the person who operated.",
        measured=[*sorted({record.text("holder") or "no holder" for record in others})],
        limit=person,
        source=SERIAL_SOURCE,
    )


def _told(look: Look, say: Say, subject: str, verdict: _Verdict) -> Finding:
    rank, sentence, measured, limit = verdict
    source = SERIAL_SOURCE if rank == _WRONG_TYPE else "dates as the certificate states them"
    interval = look.rules.find("operator_interval")
    if interval is not None and "computed" in sentence:
        source = interval.cite
    unit = None if rank == _WRONG_TYPE else "date"
    if rank == _COVERS:
        return say.passed(
            subject, sentence, measured=measured, limit=limit, unit=unit, source=source
        )
    if rank == _UNKNOWN:
        return say.missing(subject, sentence, _OFFICE, needs="operator_certificate")
    return say.failed(
        subject,
        sentence,
        "The unit's training records can supply the certificate in force on the day.",
        measured=measured,
        limit=limit,
        unit=unit,
        source=source,
    )


_COVERS: Final = 0
_UNKNOWN: Final = 1
_OUT_OF_DATE: Final = 2
_WRONG_TYPE: Final = 3
_Verdict = tuple[int, str, JsonValue, JsonValue]


def _verdict(look: Look, session: Session, record: Record, dates: tuple[date, date]) -> _Verdict:
    """How well one certificate covers a session: rank, sentence, measured, limit."""
    name = f"Operator certificate {record.text('number') or 'without number'}"
    device = device_of(look, session.meter)
    stated = record.text("type")
    actual = device.text("type") if device is not None else None
    if stated is None or actual is None:
        silent = "the certificate" if stated is None else "the meter's record"
        sentence = f"{name} can't be matched to the meter's type: {silent} states no type."
        return _UNKNOWN, sentence, None, None
    if plain(stated) != plain(actual):
        sentence = (
            f"{name} is for type {stated}, but the meter of session {session.id} is type {actual}."
        )
        return _WRONG_TYPE, sentence, actual, stated
    return _dates_cover(look, session, record, name, dates)


def _dates_cover(
    look: Look, session: Session, record: Record, name: str, dates: tuple[date, date]
) -> _Verdict:
    first = read_date(record.values.get("valid_from")) or read_date(record.values.get("issued"))
    last, how = read_date(record.values.get("valid_until")), "as stated"
    interval = look.rules.find("operator_interval")
    if last is None and first is not None and interval is not None:
        last, how = add_months(first, interval.whole), "computed from the interval"
    if first is None or last is None:
        return _UNKNOWN, f"{name} does not state from when to when it is valid.", None, None
    covered = f"{first.isoformat()} to {last.isoformat()}"
    days = dates[0].isoformat() if dates[0] == dates[1] else f"{dates[0]} to {dates[1]}"
    if first <= dates[0] and dates[1] <= last:
        sentence = f"{name} covers session {session.id} of {days} ({covered}, {how})."
        return _COVERS, sentence, days, covered
    sentence = f"{name} is valid {covered} ({how}), not on {days}, when session {session.id} was."
    return _OUT_OF_DATE, sentence, days, covered


def _present(
    look: Look, say: Say, session: Session, people: tuple[Mapping[str, JsonValue], ...]
) -> Iterator[Finding]:
    """Readings at a time at which no operator is declared."""
    times = []
    for person in people:
        if str(person.get("role", "operator")).casefold() == "operator":
            start = read_instant(person.get("from"))[0]
            end = read_instant(person.get("until"))[0]
            times.append((-_OPEN if start is None else start, _OPEN if end is None else end))
    if any(start == -_OPEN and end == _OPEN for start, end in times):
        return
    slack = look.resolution_s(None)
    readings = look.readings_of(session)
    alone = [
        number
        for number, at_s in zip(readings.numbers, look.placed_of(readings), strict=True)
        if at_s is not None
        and not any(start - slack <= at_s <= end + slack for start, end in times)
    ]
    if alone:
        yield say.query(
            session.subject,
            f"No operator is declared for the time of {captures(alone)} in session {session.id}.",
            "The operators can say who used the meter then.",
            measured=len(alone),
            limit=0,
            source="the operators' times as declared in day.toml",
        )


def _testers(
    look: Look, say: Say, session: Session, people: tuple[Mapping[str, JsonValue], ...]
) -> Iterator[Finding]:
    """Device tests of a session by somebody who is not declared to have been there."""
    there = {plain(str(person.get("id", ""))) for person in people}
    there |= {
        plain(record.text("name") or "")
        for record in look.day.of(RecordKind.OPERATOR)
        if plain(record.text("id") or "") in there
    }
    tests: dict[str, int] = {}
    for record in look.tests_of(session):
        tester = record.text("operator")
        if tester is not None and plain(tester) not in there:
            tests[tester] = tests.get(tester, 0) + 1
    for tester, count in sorted(tests.items()):
        yield say.query(
            session.subject,
            f"{count} device {'test' if count == 1 else 'tests'} of session {session.id} "
            f"{'was' if count == 1 else 'were'} done by {tester}, who is not declared for it.",
            "The operators can say who tested the meter; day.toml can then name all who were there.",
            measured=tester,
            limit=[str(person.get("id", "")) for person in people],
            source="the people of the session as declared in day.toml",
        )
