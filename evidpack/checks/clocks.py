"""Is each clock right? Check 6."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Final, cast

from evidpack.checks.clock_drift import drift_of
from evidpack.checks.clock_model import ClockLine, Comparison
from evidpack.checks.clock_patterns import epoch_named, offset_pattern
from evidpack.checks.day_parts import Reading
from evidpack.checks.look import Look
from evidpack.checks.saying import Say, captures, figure, upper_first
from evidpack.checks.times import DAY_S, Moment, duration_text, read_moment, utc_text
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.stamps import StampStatus
from evidpack.rules.rule_values import RuleValue

_ADVICE: Final = (
    "The operator can supply a check of this clock against a reference of the same day."
)
_STAMPED: Final = (
    RecordKind.READING,
    RecordKind.DEVICE_TEST,
    RecordKind.STILL,
    RecordKind.FRAME_TIME,
)


@dataclass(slots=True)
class _Stamps:
    """What the records of one clock show: the last stamp, and the odd ones."""

    last_s: float | None = None
    captures: dict[StampStatus, list[int]] = field(default_factory=dict)
    others: dict[StampStatus, int] = field(default_factory=dict)
    rolled: list[Moment] = field(default_factory=list)

    def odd(self, status: StampStatus) -> int:
        """How many stamps have this status."""
        return len(self.captures.get(status, ())) + self.others.get(status, 0)

    def add(self, look: Look, moment: Moment) -> None:
        """One stamp of a record that is no reading."""
        if moment.status is not StampStatus.DETERMINED:
            self.others[moment.status] = self.others.get(moment.status, 0) + 1
        if look.rolled(moment):
            self.rolled.append(moment)
        elif moment.at_s is not None:
            self.see(moment.at_s)

    def see(self, at_s: float) -> None:
        """Keep the latest stamp."""
        if self.last_s is None or at_s > self.last_s:
            self.last_s = at_s


def clock_and_offset(look: Look, say: Say) -> Iterator[Finding]:
    """Check 6: zone known, stamps that exist, offset and drift within limits, no pattern."""
    stamps = _stamps_by_clock(look)
    if not stamps:
        yield say.not_applicable("day", "No record of this day was stamped by a clock.")
    compared = {record.text("clock") for record in look.day.of(RecordKind.CLOCK_CHECK)}
    for name in sorted(stamps):
        line = look.line_of(name)
        unplaced = tuple(_zone(look, say, name, stamps[name]))
        yield from unplaced
        yield from _odd_stamps(say, name, stamps[name], look.day.description.date)
        yield from _odd_checks(look, say, name)
        if unplaced and not line.comparisons and name in compared:
            yield _no_zone_no_offset(look, say, name)
        else:
            yield from _offset(look, say, line, stamps[name])
        if not _jumped(look, line):
            yield from drift_of(look, say, line)


def _jumped(look: Look, line: ClockLine) -> bool:
    """Whether some checks of a clock look like a wrong hour or date and others do not: what lies
    between them is no drift, and the offset is said already."""
    width = look.rules.value("clock_pattern_width").number
    patterns = {offset_pattern(one.offset_s, width) for one in line.comparisons}
    return len(patterns) > 1 and patterns != {None}


def _stamps_by_clock(look: Look) -> dict[str, _Stamps]:
    found: dict[str, _Stamps] = {}
    names = [line.name for line in look.reading_lines]
    for name in set(names):
        if name is not None:
            found[name] = _stamps_of_readings(look, names, name)
    for kind in _STAMPED[1:]:
        for record in look.day.of(kind):
            clock = look.clock_of(record)
            moment = read_moment(record.values.get("time"))
            if clock is not None and moment is not None:
                found.setdefault(clock, _Stamps()).add(look, moment)
    return found


def _stamps_of_readings(look: Look, names: Sequence[str | None], name: str) -> _Stamps:
    """The stamps of the readings of one clock; `names` says which clock stamped each reading."""
    readings, rolled, stamps = look.readings, look.rolled_readings, _Stamps()
    times = readings.at_s
    if rolled or readings.half_widths_s or None in times:
        odd = set(readings.half_widths_s)
        odd.update(place for place, at_s in enumerate(times) if at_s is None)
        odd.update(place for one in rolled if (place := readings.place_of(one)) is not None)
        for place in sorted(odd):
            if names[place] == name:
                _add_odd(stamps, readings[place], rolled=readings.numbers[place] in rolled)
        times = [None if place in odd else at_s for place, at_s in enumerate(times)]
    if names.count(name) != len(names):
        times = [at_s for at_s, one in zip(times, names, strict=True) if one == name]
    if None in times:
        times = [at_s for at_s in times if at_s is not None]
    stamps.last_s = max(cast("Sequence[float]", times), default=None)
    return stamps


def _add_odd(stamps: _Stamps, reading: Reading, *, rolled: bool) -> None:
    """A reading whose time names no single instant, or whose date is not of the day."""
    moment = reading.moment
    if moment is None:
        return
    if rolled:
        stamps.rolled.append(moment)
    if moment.status is not StampStatus.DETERMINED:
        stamps.captures.setdefault(moment.status, []).append(reading.number)


def _zone(look: Look, say: Say, name: str, stamps: _Stamps) -> Iterator[Finding]:
    clock = look.day.description.clocks.get(name)
    if clock is not None and clock.zone is not None:
        return
    if stamps.odd(StampStatus.NO_ZONE) or clock is None:
        yield say.missing(
            f"clock {name}",
            f"No zone is declared for clock {name}, so its times can't be placed.",
            "The operator can say to which zone this clock was set.",
            needs="clock_zone",
            measured=stamps.odd(StampStatus.NO_ZONE),
        )


def _odd_checks(look: Look, say: Say, name: str) -> Iterator[Finding]:
    """Clock checks that state an uncertainty below 0; its size counts for the offset."""
    below = [
        (record.source, uncertainty)
        for record in look.day.of(RecordKind.CLOCK_CHECK)
        if record.text("clock") == name
        and (uncertainty := record.number("uncertainty_s")) is not None
        and uncertainty < 0
    ]
    if below:
        yield say.query(
            f"clock {name}",
            f"{'A check' if len(below) == 1 else f'{len(below)} checks'} of clock {name} "
            f"{'states' if len(below) == 1 else 'state'} an uncertainty below 0: {below[0][1]:g} s "
            f"({below[0][0]}).",
            "Whoever compared the clock can say how far the comparison can be trusted.",
            measured=len(below),
            limit=0,
            source="common practice, no source: an uncertainty is not negative",
        )


def _no_zone_no_offset(look: Look, say: Say, name: str) -> Finding:
    """The comparisons could not be placed for want of the zone, which is said already."""
    return say.missing(
        f"clock {name}",
        f"Without its zone the checks of clock {name} can't be used, so its offset is not known.",
        "The operator can say to which zone this clock was set.",
        needs="clock_checks",
        rule=look.rules.value("clock_offset_limit"),
        told_by="6",
    )


def _odd_stamps(say: Say, name: str, stamps: _Stamps, day: date) -> Iterator[Finding]:
    subject = f"clock {name}"
    twice = stamps.odd(StampStatus.AMBIGUOUS)
    if twice:
        yield say.missing(
            subject,
            f"{_times(stamps, StampStatus.AMBIGUOUS)} of clock {name} lie in the hour that occurs twice on a "
            "clock-change night, so each may mean two instants an hour apart.",
            "The operator can say whether the clock had been changed; a clock check in that hour "
            "would decide it.",
            needs="single_instant",
            measured=twice,
        )
    never = stamps.odd(StampStatus.NONEXISTENT)
    if never:
        yield say.query(
            subject,
            f"{_times(stamps, StampStatus.NONEXISTENT)} of clock {name} did not exist in its zone: the clock was not put "
            "forward, or another zone was set.",
            "The operator can say to which zone this clock was set.",
            measured=never,
            source="PEP 495 and the time-zone data named in the seal statement",
        )
    if stamps.rolled:
        first = stamps.rolled[0]
        named = epoch_named(first.local, day)
        yield say.failed(
            subject,
            f"{_counted(len(stamps.rolled))} of clock {name} "
            f"{'bears' if len(stamps.rolled) == 1 else 'bear'} a date that is days away from "
            f"the day, the first {first.text}" + (f": {named}." if named else "."),
            "The workshop can say whether the clock lost its date; a clock check would place it.",
            measured=first.text,
            source="common practice, no source: dates more than two days from the day",
        )


def _counted(number: int) -> str:
    return "1 time" if number == 1 else f"{number} times"


def _times(stamps: _Stamps, status: StampStatus) -> str:
    numbers = stamps.captures.get(status, [])
    others = stamps.others.get(status, 0)
    parts = [f"the times of {captures(numbers)}"] if numbers else []
    if others:
        parts.append(f"{_counted(others)} of other records")
    text = " and ".join(parts)
    return upper_first(text)


def _offset(look: Look, say: Say, line: ClockLine, stamps: _Stamps) -> Iterator[Finding]:
    rule = look.rules.value("clock_offset_limit")
    subject = f"clock {line.name}"
    period_s = look.rules.value("clock_period").number * DAY_S
    latest = stamps.last_s
    near = [
        one
        for one in line.comparisons
        if latest is None or abs(one.reference_s - latest) <= period_s
    ]
    if not near:
        period = f"within {look.rules.value('clock_period').number:g} days "
        yield say.missing(
            subject,
            f"No check of clock {line.name} against a reference {period if line.comparisons else ''}"
            "is on record, so its offset is not known.",
            _ADVICE,
            needs="clock_checks",
            rule=rule,
        )
        return
    yield _judged(say, rule, subject, near, look.rules.value("clock_pattern_width").number)


def _judged(
    say: Say, rule: RuleValue, subject: str, near: Sequence[Comparison], pattern_width_s: float
) -> Finding:
    """The largest offset, with its uncertainty, against the limit."""
    worst = max(near, key=lambda one: (abs(one.offset_s) + one.uncertainty_s, one.reference_s))
    offset, uncertainty = worst.offset_s, worst.uncertainty_s
    signed = f"{duration_text(offset)} {'ahead of' if offset > 0 else 'behind'} the reference"
    if offset == 0:
        signed = "equal to the reference"
    sentence = (
        f"{upper_first(subject)} was {signed} at {utc_text(worst.reference_s)} "
        f"(uncertainty {figure(uncertainty):g} s, k = 2)"
    )
    pattern = offset_pattern(offset, pattern_width_s)
    if pattern:
        sentence += f", {pattern}"
    measured = figure(offset)
    if abs(offset) + uncertainty <= rule.number:
        return say.passed(subject, f"{sentence}.", measured=measured, rule=rule)
    if abs(offset) - uncertainty <= rule.number:
        return say.query(
            subject,
            f"{sentence}, and whether that is within {rule.number:g} s can't be told.",
            "The operator can supply a closer comparison of this clock.",
            measured=measured,
            rule=rule,
        )
    return say.failed(
        subject,
        f"{sentence}, which is more than {rule.number:g} s.",
        "The operator can explain the offset; times are shown as recorded, and the estimated "
        "UTC time stands beside them.",
        measured=measured,
        rule=rule,
    )
