"""The day as the checks look at it: each thing read once, in the order in which it is told.

A `Look` holds nothing but what follows from its day and rule set, so that a check of a look is a
pure function of both.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import UTC, datetime, time, timedelta
from functools import cached_property
from itertools import zip_longest
from typing import Final, cast

from evidpack.checks.clock_model import ClockLine, Comparison, Placement
from evidpack.checks.day_parts import Reading, Session
from evidpack.checks.day_readings import Readings
from evidpack.checks.displays import finest_step
from evidpack.checks.placements import Placements
from evidpack.checks.times import DAY_S, Moment, read_moment
from evidpack.model.columns import Columns
from evidpack.model.day import Day
from evidpack.model.fields import RecordKind
from evidpack.model.records import Record
from evidpack.model.stamps import StampStatus
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
    def readings(self) -> Readings:
        """Readings in the order of their capture numbers."""
        return Readings.of(
            Columns(self.day.of(RecordKind.READING)), Columns(self.day.of(RecordKind.CAPTURE))
        )

    @property
    def still_count(self) -> int:
        """How many stills the day has."""
        return len(self.day.of(RecordKind.STILL))

    @cached_property
    def stills_of_captures(self) -> Mapping[int, tuple[Record, ...]]:
        """Still records by the number of the capture that they were joined to. One that fits several
        is compared with none: check 18 says so.
        """
        found: dict[int, list[Record]] = {}
        for record in self.day.of(RecordKind.STILL):
            if record.text("joined") == "doubly matched":
                continue
            joined = record.values.get("captures")
            for number in joined if isinstance(joined, list) else ():
                if isinstance(number, int):
                    found.setdefault(number, []).append(record)
        return {
            number: tuple(sorted(group, key=lambda one: one.text("path") or ""))
            for number, group in found.items()
        }

    def identified(self, name: str | None) -> tuple[Reading, ...]:
        """The readings with the identifier that they share with stills and reviews."""
        return tuple(self.readings[place] for place in self._identified.get(name or "", ()))

    @property
    def identifiers(self) -> Collection[str]:
        """Every identifier of a capture."""
        return self._identified.keys()

    @cached_property
    def sharing_identifiers(self) -> Sequence[tuple[Reading, ...]]:
        """Readings that share their identifier with another, in the order of the identifiers."""
        names = self.readings.column("capture") or ()
        if len(set(names)) == len(names):
            return ()
        return [
            tuple(self.readings[place] for place in places)
            for _, places in sorted(self._identified.items())
            if len(places) > 1
        ]

    @cached_property
    def _identified(self) -> Mapping[str, list[int]]:
        found: dict[str, list[int]] = {}
        for place, name in enumerate(self.readings.column("capture") or ()):
            if isinstance(name, str):
                found.setdefault(name, []).append(place)
        return found

    @cached_property
    def by_session(self) -> Mapping[str | None, Readings]:
        """Readings by session; None for those of no session."""
        sessions = self.readings.sessions
        if len(set(sessions)) == 1:
            return {sessions[0]: self.readings}
        found: dict[str | None, list[int]] = {}
        for place, session in enumerate(sessions):
            found.setdefault(session, []).append(place)
        return {name: self.readings.where(places) for name, places in found.items()}

    def readings_of(self, session: Session) -> Readings:
        """The readings of a session."""
        found = self.by_session.get(session.id)
        return self.readings.where(()) if found is None else found

    @cached_property
    def speed_steps(self) -> Mapping[str, float]:
        """The smallest step of the speed display, by unit."""
        readings = self.readings
        found: dict[str, set[float]] = {}
        for unit, speed in set(zip(readings.speed_units, readings.speeds, strict=True)):
            if speed is not None:
                found.setdefault(unit, set()).add(speed)
        return {unit: finest_step(speeds) for unit, speeds in found.items()}

    @cached_property
    def range_steps(self) -> Mapping[str, float]:
        """The smallest step of the range display, by unit."""
        metres, feet = (self.readings.column(name) for name in ("range_m", "range_ft"))
        shown: dict[str, set[float]] = {"m": set(), "ft": set()}
        for value, other in set(zip_longest(metres or (), feet or ())):
            one, unit = (other, "ft") if value is None else (value, "m")
            if isinstance(one, (int, float)) and not isinstance(one, bool):
                shown[unit].add(float(one))
        return {unit: finest_step(values) for unit, values in shown.items() if values}

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
    def reading_lines(self) -> Sequence[ClockLine]:
        """The line of the clock that stamped each reading."""
        known: dict[str, ClockLine] = {}
        lines: list[ClockLine] = []
        for path, count in self.readings.row_paths:
            if path not in known:
                known[path] = self.line_of(self.day.description.log_clocks.get(path) or None)
            lines += [known[path]] * count
        return self.readings.of_rows(lines)

    @cached_property
    def placed_s(self) -> Sequence[float | None]:
        """Where each reading lies on the UTC line, seconds since 1970; None where it has no place."""
        readings, lines = self.readings, self.reading_lines
        if lines and lines.count(lines[0]) == len(lines) and None not in readings.at_s:
            return lines[0].places_s(cast("Sequence[float]", readings.at_s))
        return [
            None if at_s is None else line.places_s((at_s,))[0]
            for at_s, line in zip(readings.at_s, lines, strict=True)
        ]

    def placed_of(self, readings: Readings) -> Sequence[float | None]:
        """`placed_s` of some of the readings."""
        return readings.of_day(self.placed_s)

    def timed(
        self, readings: Readings, *, leave_out: Collection[int] = ()
    ) -> tuple[Sequence[float], Sequence[int]]:
        """Places on the UTC line and capture numbers of the readings that have a place; those
        with some numbers left out.
        """
        placed, numbers = self.placed_of(readings), readings.numbers
        if not leave_out and None not in placed:
            return cast("Sequence[float]", placed), numbers
        pairs = [
            (at_s, number)
            for at_s, number in zip(placed, numbers, strict=True)
            if at_s is not None and number not in leave_out
        ]
        return [at_s for at_s, _ in pairs], [number for _, number in pairs]

    @cached_property
    def placements(self) -> Mapping[int, Placement]:
        """Where each reading lies on the UTC line, by capture number."""
        return Placements(self.readings, self.reading_lines)

    @cached_property
    def rolled_readings(self) -> frozenset[int]:
        """Numbers of the captures whose recorded date lies more than two days from the day."""
        noon = datetime.combine(self.day.description.date, time(12), UTC).timestamp()
        near = DAY_S  # so near to the day's noon that no zone can make it two days
        readings = self.readings
        times = readings.at_s
        if times and None not in times:
            known = cast("Sequence[float]", times)
            if -near < min(known) - noon and max(known) - noon < near:
                return frozenset()
        far = [
            place
            for place, at_s in enumerate(times)
            if at_s is None or not -near < at_s - noon < near
        ]
        return frozenset(
            readings.numbers[place]
            for place in far
            if (moment := readings[place].moment) is not None and self.rolled(moment)
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
