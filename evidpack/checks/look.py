"""The day as the checks look at it: each thing read once, in the order in which it is told.

A `Look` holds nothing but what follows from its day and rule set, so that a check of a look is a
pure function of both.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, time, timedelta
from functools import cached_property
from operator import attrgetter
from typing import Final

from evidpack.checks.clock_model import ClockLine, Comparison, Placement
from evidpack.checks.day_parts import Reading, Session
from evidpack.checks.displays import finest_step
from evidpack.checks.times import DAY_S, Moment, read_moment
from evidpack.model.day import Day
from evidpack.model.fields import RecordKind
from evidpack.model.records import Record
from evidpack.model.stamps import StampStatus
from evidpack.model.values import JsonValue
from evidpack.rules.rule_values import RuleSet


class Look:
    """A day and a rule set, with what several checks need."""

    def __init__(self, day: Day, rules: RuleSet) -> None:
        self.day = day
        self.rules = rules

    @cached_property
    def sessions(self) -> tuple[Session, ...]:
        """Sessions in the order of their identifiers."""
        found = [Session(record) for record in self.day.of(RecordKind.SESSION)]
        return tuple(sorted(found, key=lambda one: one.id))

    @cached_property
    def readings(self) -> tuple[Reading, ...]:
        """Readings in the order of their capture numbers."""
        captures = self._captures_by_source()
        found = []
        for place, record in enumerate(self.day.of(RecordKind.READING), 1):
            source = record.source
            capture = captures.get((source.path, source.line, source.place))
            if capture is None:
                found.append(Reading(place, record, record.text("session")))
                continue
            number, session = capture.get("number"), capture.get("session")
            found.append(
                Reading(
                    number if isinstance(number, int) else place,
                    record,
                    session if isinstance(session, str) else record.text("session"),
                )
            )
        found.sort(key=attrgetter("number"))
        return tuple(found)

    def _captures_by_source(
        self,
    ) -> dict[tuple[str, int | None, int], Mapping[str, JsonValue]]:
        found = {}
        for record in self.day.of(RecordKind.CAPTURE):
            source = record.source
            found[source.path, source.line, source.place] = record.values
        return found

    @cached_property
    def capture_records(self) -> Mapping[int, Record]:
        """Capture records by number."""
        found = {}
        for record in self.day.of(RecordKind.CAPTURE):
            number = record.integer("number")
            if number is not None:
                found[number] = record
        return found

    @property
    def still_count(self) -> int:
        """How many stills the day has."""
        return len(self.day.of(RecordKind.STILL))

    @cached_property
    def stills_of_captures(self) -> Mapping[int, tuple[Record, ...]]:
        """Still records by the number of each capture that they were joined to."""
        found: dict[int, list[Record]] = {}
        for record in self.day.of(RecordKind.STILL):
            joined = record.values.get("captures")
            for number in joined if isinstance(joined, list) else ():
                if isinstance(number, int):
                    found.setdefault(number, []).append(record)
        return {
            number: tuple(sorted(group, key=lambda one: one.text("path") or ""))
            for number, group in found.items()
        }

    @cached_property
    def by_identifier(self) -> Mapping[str, tuple[Reading, ...]]:
        """Readings by the identifier that they share with stills and reviews."""
        found: dict[str, list[Reading]] = {}
        for reading in self.readings:
            identifier = reading.record.text("capture")
            if identifier is not None:
                found.setdefault(identifier, []).append(reading)
        return {name: tuple(group) for name, group in found.items()}

    @cached_property
    def by_session(self) -> Mapping[str | None, tuple[Reading, ...]]:
        """Readings by session; None for those of no session."""
        found: dict[str | None, list[Reading]] = {}
        for reading in self.readings:
            found.setdefault(reading.session, []).append(reading)
        return {name: tuple(group) for name, group in found.items()}

    @cached_property
    def speed_steps(self) -> Mapping[str, float]:
        """The smallest step of the speed display, by unit."""
        found: dict[str, set[float]] = {}
        for reading in self.readings:
            if reading.speed is not None:
                found.setdefault(reading.speed_unit, set()).add(reading.speed)
        return {unit: finest_step(speeds) for unit, speeds in found.items()}

    def clock_of(self, record: Record) -> str | None:
        """The name of the clock that stamped a record; None where a person typed the time."""
        return self.day.description.log_clocks.get(record.source.path) or (
            record.text("clock") if record.kind in _OWN_CLOCK else None
        )

    @cached_property
    def clock_lines(self) -> Mapping[str, ClockLine]:
        """Every clock that is described or compared, by name, in order."""
        default = self.rules.value("clock_check_uncertainty").number
        found: dict[str, list[Comparison]] = {name: [] for name in self.day.description.clocks}
        for record in self.day.of(RecordKind.CLOCK_CHECK):
            comparison = _comparison(record, default)
            name = record.text("clock")
            if name is not None and comparison is not None:
                found.setdefault(name, []).append(comparison)
        return {
            name: ClockLine(name, self.resolution_s(name), found[name], self.allowed_rate)
            for name in sorted(found)
        }

    @property
    def allowed_rate(self) -> float:
        """Seconds a second that a clock may gain or lose by the rule set."""
        limit = self.rules.value("clock_offset_limit").number
        return limit / (self.rules.value("clock_period").number * DAY_S)

    def resolution_s(self, clock: str | None) -> float:
        """The smallest step of a clock, or of a typed time, seconds."""
        known = self.day.description.clocks.get(clock) if clock is not None else None
        if known is not None:
            return known.resolution_s
        return 1.0 if clock is not None else self.rules.value("typed_time_resolution").number

    @cached_property
    def _typed(self) -> ClockLine:
        zero = Comparison(clock_s=0.0, reference_s=0.0, uncertainty_s=0.0)
        return ClockLine(None, self.resolution_s(None), [zero], 0.0)

    def line_of(self, clock: str | None) -> ClockLine:
        """The line of a clock; a typed time counts as read from a right clock."""
        if clock is None:
            return self._typed
        found = self.clock_lines.get(clock)
        if found is None:
            found = ClockLine(clock, self.resolution_s(clock), (), self.allowed_rate)
        return found

    def place(self, record: Record, name: str) -> Placement | None:
        """The time `name` of a record on the UTC line; None where it names no instant."""
        moment = read_moment(record.values.get(name))
        if moment is None or moment.at_s is None:
            return None
        return self.line_of(self.clock_of(record)).place(moment.at_s, moment.half_width_s)

    def place_typed(self, moment: Moment | None) -> Placement | None:
        """A typed time on the UTC line."""
        if moment is None or moment.at_s is None:
            return None
        return self._typed.place(moment.at_s, moment.half_width_s)

    @cached_property
    def placements(self) -> Mapping[int, Placement]:
        """Where each reading lies on the UTC line, by capture number."""
        found: dict[int, Placement] = {}
        lines: dict[str, ClockLine] = {}
        for reading in self.readings:
            at_s = reading.at_s
            if at_s is None:
                continue
            path = reading.record.source.path
            line = lines.get(path)
            if line is None:
                line = lines[path] = self.line_of(self.clock_of(reading.record))
            found[reading.number] = line.place(at_s, reading.half_width_s)
        return found

    @cached_property
    def rolled_readings(self) -> frozenset[int]:
        """Numbers of the captures whose recorded date lies more than two days from the day."""
        noon = datetime.combine(self.day.description.date, time(12), UTC).timestamp()
        near = DAY_S  # so near to the day's noon that no zone can make it two days
        return frozenset(
            reading.number
            for reading in self.readings
            if not (reading.at_s is not None and -near < reading.at_s - noon < near)
            and (moment := reading.moment) is not None
            and self.rolled(moment)
        )

    def rolled(self, moment: Moment) -> bool:
        """Whether a recorded date lies more than two days from the day: a clock that lost it."""
        away = moment.local.date() - self.day.description.date
        return abs(away) > timedelta(days=2)

    def tests_of(self, session: Session) -> tuple[Record, ...]:
        """Device tests of a session: those that name it, else those of its meter in its time."""
        slack = self.resolution_s(None)
        found = []
        for record in self.day.of(RecordKind.DEVICE_TEST):
            named = record.text("session")
            if named is not None:
                if named == session.id:
                    found.append(record)
                continue
            place = self.place(record, "time")
            if place is not None and session.contains(place.at_s, slack):
                found.append(record)
        return tuple(found)


_OWN_CLOCK: Final = frozenset({RecordKind.STILL, RecordKind.CLIP})


def _comparison(record: Record, default_uncertainty_s: float) -> Comparison | None:
    shown = read_moment(record.values.get("time"))
    reference = read_moment(record.values.get("reference_time"))
    if shown is None or reference is None or shown.at_s is None or reference.at_s is None:
        return None
    if StampStatus.AMBIGUOUS in {shown.status, reference.status}:
        return None
    uncertainty = record.number("uncertainty_s")
    return Comparison(
        clock_s=shown.at_s,
        reference_s=reference.at_s,
        uncertainty_s=default_uncertainty_s if uncertainty is None else abs(uncertainty),
        reset=record.flag("resynchronised") is True,
    )
