"""Was the meter tested before and after? Check 4."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from evidpack.checks.certificate_lookup import plain
from evidpack.checks.clock_model import Order, Placement, order
from evidpack.checks.day_parts import Session
from evidpack.checks.fixed_distance import test_time
from evidpack.checks.look import Look
from evidpack.checks.saying import Say, captures
from evidpack.checks.strays import strays
from evidpack.checks.times import Moment, read_moment
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import Record

_ADVICE: Final = (
    "The operator can supply the test log or form, or explain why there is no such test."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bracket:
    """What the tests have to bracket: sessions of one meter, their tests and readings."""

    subject: str
    tests: tuple[Record, ...]  # on the meter of the sessions
    elsewhere: tuple[Record, ...]  # on another meter
    misdated: tuple[Record, ...]  # days away from the day, so they count for nothing
    first: Placement
    last: Placement
    first_number: int
    last_number: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Side:
    """One side of the bracket: before the first reading, or after the last."""

    word: str
    rule: str
    number: int
    edge: Placement

    def order(self, test: Placement) -> Order:
        """Whether a test lies on this side."""
        return order(test, self.edge) if self.word == "before" else order(self.edge, test)


def tests_before_and_after(look: Look, say: Say) -> Iterator[Finding]:
    """Check 4: every required test passed before the first and after the last reading."""
    for group in _groups(look):
        subject = _subject(look, group)
        bracket = _bracket(look, group, subject)
        if bracket is None:
            yield say.not_applicable(subject, f"No timed readings in {subject} to bracket.")
            continue
        if not (bracket.tests or bracket.elsewhere or bracket.misdated):
            yield say.missing(
                subject,
                f"No device test is on record for {subject}.",
                _ADVICE,
                needs="device_tests",
                rule=look.rules.value("tests_before"),
            )
            continue
        sides = (
            _Side(
                word="before", rule="tests_before", number=bracket.first_number, edge=bracket.first
            ),
            _Side(word="after", rule="tests_after", number=bracket.last_number, edge=bracket.last),
        )
        for side in sides:
            yield from _one_side(look, say, bracket, side)
        yield from _zero(say, bracket)


def _groups(look: Look) -> Iterator[tuple[Session, ...]]:
    if look.rules.value("tests_scope").text == "session":
        for session in look.sessions:
            yield (session,)
        return
    by_meter: dict[str, list[Session]] = {}
    for session in look.sessions:
        by_meter.setdefault(session.meter, []).append(session)
    for _, group in sorted(by_meter.items()):
        yield tuple(group)


def _subject(look: Look, group: Sequence[Session]) -> str:
    if look.rules.value("tests_scope").text == "session":
        return group[0].subject
    return f"the shift of meter {group[0].meter}"


def _bracket(look: Look, group: Sequence[Session], subject: str) -> _Bracket | None:
    timed = [edges for session in group if (edges := _first_and_last(look, session)) is not None]
    if not timed:
        return None
    first, last = min(first for first, _ in timed)[1], max(last for _, last in timed)[1]
    tests = {record.source: record for session in group for record in look.tests_of(session)}
    if len(group) > 1 or look.rules.value("tests_scope").text == "shift":
        for record in look.day.of(RecordKind.DEVICE_TEST):
            if plain(record.text("meter") or "") == plain(group[0].meter):
                tests[record.source] = record
    meter = plain(group[0].meter)
    found = [tests[source] for source in sorted(tests, key=str)]
    misdated = [one for one in found if _misdated(look, one)]
    found = [one for one in found if one not in misdated]
    own = [one for one in found if plain(one.text("meter") or meter) == meter]
    return _Bracket(
        subject=subject,
        tests=tuple(own),
        elsewhere=tuple(one for one in found if one not in own),
        misdated=tuple(misdated),
        first=look.placements[first],
        last=look.placements[last],
        first_number=first,
        last_number=last,
    )


_Timed = tuple[float, int]  # seconds since 1970 on the UTC line, capture number


def _first_and_last(look: Look, session: Session) -> tuple[_Timed, _Timed] | None:
    """The first and the last reading of a session; None where none has a place on the line. One
    whose date is not of the day, or that lies outside the session, is left out.
    """
    readings = look.readings_of(session)
    away = strays(look, session)
    few = 2 * len(away) < len(readings)  # check 7 says which: they are none of this session's
    left_out = look.rolled_readings.union(away) if few else look.rolled_readings
    times, numbers = look.timed(readings, leave_out=left_out)
    if not times:
        return None
    first, last = min(times), max(times)
    from_end = times[::-1].index(last)  # of equal times the higher number counts as last
    return (first, numbers[times.index(first)]), (last, numbers[len(times) - 1 - from_end])


def _one_side(look: Look, say: Say, bracket: _Bracket, side: _Side) -> Iterator[Finding]:
    rule = look.rules.value(side.rule)
    results = {name: _results(look, bracket, side, name) for name in rule.texts}
    passed = [name for name in rule.texts if results[name] == "passed"]
    yield from _not_counted(look, say, bracket, side, results)
    yield from _adverse(look, say, bracket, side, results)
    undecided = [name for name in rule.texts if results[name] == "undecidable"]
    if undecided:
        yield say.missing(
            bracket.subject,
            f"Whether these tests came {side.word} {captures([side.number])} can't be decided with "
            f"these clocks: {', '.join(undecided)}.",
            "A clock check of the clocks concerned would narrow it.",
            needs="order",
            measured=list(undecided),
            rule=rule,
        )
    if len(passed) == len(rule.texts):
        word = "first" if side.word == "before" else "last"
        yield say.passed(
            bracket.subject,
            f"All {len(passed)} required tests passed {side.word} the {word} reading "
            f"({captures([side.number])}).",
            measured=list(passed),
            rule=rule,
        )


def _not_counted(
    look: Look, say: Say, bracket: _Bracket, side: _Side, results: Mapping[str, str]
) -> Iterator[Finding]:
    """Tests that are there, but on another meter or with a date days away: checks 1 and 6 say so."""
    due = f"Tests of {bracket.subject} that are due {side.word} {captures([side.number])}"
    elsewhere = [name for name, result in results.items() if result == "elsewhere"]
    misdated = [name for name, result in results.items() if result == "misdated"]
    dates = sorted(
        {
            moment.text.partition("T")[0]
            for one in bracket.misdated
            if one.text("test") in misdated and (moment := _time(one)) is not None
        }
    )
    stamped = all(look.clock_of(one) for one in bracket.misdated)
    for found, why, told_by in (
        (elsewhere, "on record for another meter only", "1"),
        (misdated, f"dated {', '.join(dates)}, days away from the day", "6" if stamped else None),
    ):
        if found:
            yield say.missing(
                bracket.subject,
                f"{due} are {why}: {', '.join(found)}.",
                _ADVICE,
                needs="device_tests",
                measured=[*found],
                rule=look.rules.value(side.rule),
                told_by=told_by,
            )


def _adverse(
    look: Look, say: Say, bracket: _Bracket, side: _Side, results: Mapping[str, str]
) -> Iterator[Finding]:
    rule = look.rules.value(side.rule)
    word = "first" if side.word == "before" else "last"
    where = f"{side.word} the {word} reading ({captures([side.number])})"
    absent = [name for name, result in results.items() if result == "absent"]
    if absent:
        yield say.failed(
            bracket.subject,
            f"In {bracket.subject} no test is on record {where} for: {', '.join(absent)}.",
            _ADVICE,
            measured=[name for name in rule.texts if name not in absent],
            rule=rule,
        )
    for name, result in results.items():
        if result == "failed":
            yield say.failed(
                bracket.subject,
                f"The {name} test of {bracket.subject} failed {where}.",
                "The operator can say what was done after the failed test.",
                measured=name,
                rule=rule,
            )
        elif result == "mixed":
            yield say.query(
                bracket.subject,
                f"The {name} test of {bracket.subject} failed and was passed later, {where}.",
                "The operator can say what was changed between the two tests.",
                measured=name,
                rule=rule,
            )


def _results(look: Look, bracket: _Bracket, side: _Side, name: str) -> str:
    """``passed``, ``mixed`` (a fail, then a pass nearer to the readings), ``failed``,
    ``undecidable``, ``elsewhere`` (on another meter alone), ``misdated`` or ``absent``.
    """
    here: list[tuple[float, str]] = []
    undecidable = False
    for record in bracket.tests:
        if record.text("test") != name:
            continue
        place = look.place(record, "time")
        decided = Order.UNDECIDABLE if place is None else side.order(place)
        if decided is Order.YES and place is not None:
            here.append((place.at_s, record.text("result") or ""))
        elif decided is Order.UNDECIDABLE:
            undecidable = True
    if not here:
        if undecidable:
            return "undecidable"
        for word, tests in (("elsewhere", bracket.elsewhere), ("misdated", bracket.misdated)):
            if any(one.text("test") == name and _lies_on(look, side, one) for one in tests):
                return word
        return "absent"
    here.sort()
    # The last test stands on either side: a re-test is there to replace what came before it.
    if here[-1][1] != "pass":
        return "failed"
    return "mixed" if any(result != "pass" for _, result in here) else "passed"


def _lies_on(look: Look, side: _Side, test: Record) -> bool:
    place = look.place(test, "time")
    return place is not None and side.order(place) is Order.YES


def _time(test: Record) -> Moment | None:
    return read_moment(test.values.get("time"))


def _misdated(look: Look, test: Record) -> bool:
    """Whether a test is dated more than two days from the day: before the meter was there, perhaps."""
    moment = _time(test)
    return moment is not None and look.rolled(moment)


def _zero(say: Say, bracket: _Bracket) -> Iterator[Finding]:
    for record in bracket.tests:
        shown = record.speed("shown_speed")
        if record.text("test") == "zero" and shown is not None and shown.value != 0:
            yield say.failed(
                bracket.subject,
                f"The zero test of {bracket.subject} at {test_time(record)} showed {shown} on a "
                "target that stood still.",
                "The operator or the workshop can say why.",
                measured=float(shown.value),
                limit=0,
                unit=shown.unit,
                source="a static target reads 0, from memory (common practice)",
            )
