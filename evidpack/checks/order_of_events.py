"""Were things done in order? Check 7, on the reconciled line."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from evidpack.checks.clock_model import Order, Placement, order, slack_s
from evidpack.checks.day_parts import Session
from evidpack.checks.day_readings import Readings
from evidpack.checks.look import Look
from evidpack.checks.order_of_papers import SOURCE, before_seal, report_signed_after
from evidpack.checks.order_of_tests import set_up_before_opinion
from evidpack.checks.saying import Say, captures, figure, upper_first
from evidpack.checks.session_bounds import one_place_at_a_time, within_session, without_session
from evidpack.checks.times import duration_text
from evidpack.model.findings import Finding
from evidpack.model.values import JsonValue

_CLOCKS: Final = "Clock checks of the clocks concerned would narrow it."


class _Tally:
    """Pairs of events: which captures were in order, out of order, undecidable or untimed."""

    __slots__ = ("by", "late_s", "slack_s", "untimed")

    def __init__(self) -> None:
        self.by: dict[Order, list[int]] = {one: [] for one in Order}
        self.untimed: list[int] = []
        self.late_s = 0.0
        self.slack_s = 0.0

    def add(self, number: int, first: Placement | None, second: Placement | None) -> None:
        """One pair that should be in order."""
        if first is None or second is None:
            self.untimed.append(number)
            return
        decided = order(first, second)
        self.by[decided].append(number)
        if decided is Order.NO:
            self.late_s = max(self.late_s, first.at_s - second.at_s)
        elif decided is Order.UNDECIDABLE:
            self.slack_s = max(self.slack_s, slack_s(first, second) or 0.0)


def order_of_events(look: Look, say: Say) -> Iterator[Finding]:
    """Check 7: opinion, reading, still, report and seal in order, each within its session.

    That set-up tests come before and closing tests after the readings is what check 4 says, on
    the same line; where it can't decide, it says so.
    """
    for session in look.sessions:
        readings = look.readings_of(session)
        if look.rolled_readings:
            kept = readings.without_numbers(look.rolled_readings)
            readings = readings.where(readings.places_of(kept))
        if not readings:
            yield say.not_applicable(
                session.subject, f"Session {session.id} has no readings to put in order."
            )
            continue
        yield from set_up_before_opinion(look, say, session, readings)
        yield from _opinions(look, say, session, readings)
        yield from _stills(look, say, session, readings)
        yield from within_session(look, say, session, readings)
    yield from one_place_at_a_time(look, say)
    yield from without_session(look, say)
    yield from report_signed_after(look, say)
    yield from before_seal(look, say)


def _opinions(look: Look, say: Say, session: Session, readings: Readings) -> Iterator[Finding]:
    opinions = readings.column("opinion_time")
    absent: Sequence[int] = readings.numbers
    tally = _Tally()
    if opinions is not None:
        pairs = zip(opinions, readings.numbers, strict=True)
        absent = [number for value, number in pairs if value is None]
        _tally_opinions(look, readings, opinions, tally)
    if absent:
        yield say.missing(
            session.subject,
            f"When the operator formed the opinion is not on record for {captures(absent)} of "
            f"session {session.id}.",
            "The operator can supply it from the notes made at the time.",
            needs="opinion_time",
            measured=len(absent),
        )
    late = tally.by[Order.NO]
    if late:
        yield say.failed(
            captures(late),
            f"The opinion is timed after the reading for {captures(late)}, by up to "
            f"{duration_text(tally.late_s)}.",
            "The operator can explain the entry.",
            measured=figure(tally.late_s),
            limit=0,
            unit="s",
            source=SOURCE,
        )
    yield from _decided(say, session, tally, "opinion and reading")


def _tally_opinions(
    look: Look, readings: Readings, opinions: Sequence[JsonValue], tally: _Tally
) -> None:
    """Opinion and reading of each record: two stamps of one clock, nearly always in order as
    recorded.
    """
    lines, halves = readings.of_day(look.reading_lines), readings.half_widths_s
    formed = readings.instants_s("opinion_time")
    in_order = tally.by[Order.YES]
    for place, (value, formed_s, at_s) in enumerate(
        zip(opinions, formed, readings.at_s, strict=True)
    ):
        if value is None:
            continue
        number = readings.numbers[place]
        clear = formed_s is not None and at_s is not None and formed_s <= at_s
        if clear and lines[place].name is not None and place not in halves:
            in_order.append(number)
            continue
        opinion = look.place(readings[place].record, "opinion_time")
        tally.add(number, opinion, look.placements.get(number))


def _stills(look: Look, say: Say, session: Session, readings: Readings) -> Iterator[Finding]:
    stills = look.stills_of_captures
    if not stills:
        return
    tally = _Tally()
    for reading in readings.with_numbers(stills):
        for still in stills[reading.number]:
            tally.add(
                reading.number, look.placements.get(reading.number), look.place(still, "time")
            )
    early = sorted(set(tally.by[Order.NO]))
    if early:
        yield say.query(
            captures(early),
            f"The still is timed before the reading for {captures(early)}, by up to "
            f"{duration_text(tally.late_s)}.",
            "The maker's handbook or the workshop can say which comes first on this meter.",
            measured=figure(tally.late_s),
            limit=0,
            unit="s",
            source=SOURCE,
        )
    yield from _decided(say, session, tally, "reading and still")


def _decided(say: Say, session: Session, tally: _Tally, what: str) -> Iterator[Finding]:
    """The pass, and what can't be decided, of one kind of pair."""
    if tally.untimed:
        yield say.missing(
            session.subject,
            f"The order of {what} can't be told for {captures(tally.untimed)}: a time is missing "
            "or names no instant.",
            _CLOCKS,
            needs="order",
            measured=len(set(tally.untimed)),
        )
    overlap = tally.by[Order.UNDECIDABLE]
    if overlap:
        within = (
            f"lie within {figure(tally.slack_s):g} s, which these clocks can't tell apart"
            if tally.slack_s
            else "were stamped by clocks of which one was never compared"
        )
        yield say.missing(
            session.subject,
            f"The order of {what} can't be told for {captures(overlap)}: they {within}.",
            _CLOCKS,
            needs="order",
            measured=len(set(overlap)),
        )
    done = tally.by[Order.YES]
    if done:
        yield say.passed(
            session.subject,
            f"{upper_first(what)} are in order for {captures(done)} of session {session.id}.",
            measured=len(set(done)),
            source=SOURCE,
        )
