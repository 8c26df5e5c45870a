"""The readings of a day in columns, so that a check of 100,000 looks at lists and not at objects."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterable, Iterator, Sequence
from functools import cached_property
from typing import Final, TypeVar, cast, overload

from evidpack.checks.day_parts import Reading
from evidpack.checks.times import read_instant
from evidpack.model.columns import Columns
from evidpack.model.tables import MICROSECONDS, NO_INSTANT
from evidpack.model.values import JsonValue

_T = TypeVar("_T")
_SPEEDS: Final = (("speed_mph", "mph"), ("speed_kmh", "km/h"), ("speed_mps", "m/s"))
SPEED_NAMES: Final = tuple(name for name, _ in _SPEEDS)
_FOOT_M: Final = 0.3048


class Readings(Sequence[Reading]):
    """Readings in the order of their capture numbers.

    A column has one value for each reading, in the same order.  A reading by itself is made when
    it is asked for.  `rows` says where each stands in `columns`, `day_places` where among all
    readings of the day.
    """

    def __init__(
        self,
        columns: Columns,
        rows: Sequence[int],
        numbers: Sequence[int],
        sessions: Sequence[str | None],
        *,
        day_places: Sequence[int] | None = None,
    ) -> None:
        self._columns = columns
        self._rows = rows
        self.numbers = numbers
        self.sessions = sessions
        self._day_places = range(len(numbers)) if day_places is None else day_places

    @classmethod
    def of(cls, readings: Columns, captures: Columns) -> Readings:
        """All readings of a day, numbered by the captures that have their sources, else by place.

        A reading belongs to the session of its capture, else to the one that it names itself.
        """
        count = len(readings.records)
        numbers, sessions = _numbers_and_sessions(readings, captures)
        rows: Sequence[int] = range(count)
        if list(numbers) == list(range(1, count + 1)):
            return cls(readings, rows, range(1, count + 1), sessions)
        rows = sorted(rows, key=numbers.__getitem__)
        return cls(readings, rows, [numbers[row] for row in rows], [sessions[row] for row in rows])

    def __len__(self) -> int:
        return len(self.numbers)

    @overload
    def __getitem__(self, index: int) -> Reading: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Reading]: ...
    def __getitem__(self, index: int | slice) -> Reading | Sequence[Reading]:
        if isinstance(index, slice):
            return tuple(self[place] for place in range(*index.indices(len(self))))
        place = range(len(self))[index]
        return Reading(
            number=self.numbers[place],
            record=self._columns.records[self._rows[place]],
            session=self.sessions[place],
            at_s=self.at_s[place],
            half_width_s=self.half_widths_s.get(place, 0.0),
            speed=self.speeds[place],
            speed_unit=self.speed_units[place],
            range_m=self.ranges_m[place],
        )

    def __iter__(self) -> Iterator[Reading]:
        return map(self.__getitem__, range(len(self)))

    def where(self, places: Sequence[int]) -> Readings:
        """The readings at these places, which rise."""
        return Readings(
            self._columns,
            self._of_places(self._rows, places),
            self._of_places(self.numbers, places),
            self._of_places(self.sessions, places),
            day_places=self._of_places(self._day_places, places),
        )

    def with_numbers(self, numbers: Iterable[int]) -> Iterator[Reading]:
        """The readings that have one of these capture numbers, in the order of the numbers."""
        for number in sorted(set(numbers)):
            place = self.place_of(number)
            if place is not None:
                yield self[place]

    def without_numbers(self, numbers: Collection[int]) -> Sequence[int]:
        """The capture numbers that are none of these."""
        if not numbers:
            return self.numbers
        return [number for number in self.numbers if number not in numbers]

    def place_of(self, number: int) -> int | None:
        """Where the reading of a capture number stands, or None."""
        if isinstance(self.numbers, range):
            return number - self.numbers.start if number in self.numbers else None
        return self._places.get(number)

    def places_of(self, numbers: Iterable[int]) -> Sequence[int]:
        """Where the readings of these rising capture numbers stand."""
        return [place for number in numbers if (place := self.place_of(number)) is not None]

    def keys(self, *names: str) -> Sequence[Hashable]:
        """For each reading a key that is equal where all these values and the session are."""
        columns: list[Sequence[Hashable]] = [self.sessions]
        for name in names:
            column = self.column(name)
            if column is not None:
                columns.append(cast("Sequence[Hashable]", column))
        varied = [column for column in columns if len(set(column)) > 1]
        if len(varied) == 1:
            return varied[0]
        return list(zip(*varied, strict=True)) if varied else [None] * len(self)

    def column(self, name: str) -> Sequence[JsonValue] | None:
        """A value of each record, None where it has none; None where no record has any."""
        found = self._columns.get(name)
        if found is None:
            return None
        picked = self._picked(found)
        return None if picked is not found and picked.count(None) == len(picked) else picked

    def instants_s(self, name: str) -> Sequence[float | None]:
        """A time of each record, seconds since 1970 UTC; None where it names no single instant."""
        found = self._picked(self._columns.instants(name))
        if NO_INSTANT not in found:
            return [instant / MICROSECONDS for instant in found]
        return [None if one == NO_INSTANT else one / MICROSECONDS for one in found]

    def of_day(self, values: Sequence[_T]) -> Sequence[_T]:
        """Of values for each reading of the day those of these readings."""
        return self._of_places(values, self._day_places)

    def of_rows(self, values: Sequence[_T]) -> Sequence[_T]:
        """Of values for each record of the day those of these readings."""
        return self._picked(values)

    @property
    def row_paths(self) -> Iterator[tuple[str, int]]:
        """The paths of all records of the day: runs of a path and how many."""
        return self._columns.paths()

    @cached_property
    def at_s(self) -> Sequence[float | None]:
        """Times in seconds since 1970 UTC, the middle of what an ambiguous one may mean; None
        where one names no instant.
        """
        found = self.instants_s("time")
        odd = self._odd_times
        if not odd:
            return found
        return [odd[place][0] if place in odd else at for place, at in enumerate(found)]

    @cached_property
    def half_widths_s(self) -> dict[int, float]:
        """Half of what an ambiguous time leaves open, seconds, by place; others leave nothing."""
        return {place: half for place, (_, half) in self._odd_times.items() if half}

    @cached_property
    def _odd_times(self) -> dict[int, tuple[float | None, float]]:
        """Times that name no single instant, by place."""
        instants = self._picked(self._columns.instants("time"))
        values = self.column("time") if NO_INSTANT in instants else None
        if values is None:
            return {}
        return {
            place: read_instant(values[place])
            for place, instant in enumerate(instants)
            if instant == NO_INSTANT
        }

    @property
    def speeds(self) -> Sequence[float | None]:
        """Speeds, each in its exported unit."""
        return self._speeds[0]

    @property
    def speed_units(self) -> Sequence[str]:
        """The unit of each speed; empty where there is none."""
        return self._speeds[1]

    @cached_property
    def _speeds(self) -> tuple[Sequence[float | None], Sequence[str]]:
        speeds: list[float | None] = [None] * len(self)
        units = [""] * len(self)
        for name, unit in reversed(_SPEEDS):  # the first that is there counts
            column = self.column(name)
            if column is None:
                continue
            if None not in column:
                speeds, units = _numbers(column), [unit] * len(self)
                continue
            for place, value in enumerate(column):
                if value is not None:
                    speeds[place], units[place] = _number(value), unit
        return speeds, units

    @cached_property
    def ranges_m(self) -> Sequence[float | None]:
        """Ranges in metres."""
        metres, feet = self.column("range_m"), self.column("range_ft")
        found = [None] * len(self) if metres is None else _numbers(metres)
        if feet is None or None not in found:
            return found
        return [
            one if one is not None or (foot := _number(value)) is None else foot * _FOOT_M
            for one, value in zip(found, feet, strict=True)
        ]

    @cached_property
    def _places(self) -> dict[int, int]:
        return {number: place for place, number in enumerate(self.numbers)}

    def _picked(self, values: Sequence[_T]) -> Sequence[_T]:
        return self._of_places(values, self._rows)

    @staticmethod
    def _of_places(values: Sequence[_T], places: Sequence[int]) -> Sequence[_T]:
        if isinstance(places, range):
            if places == range(len(values)):
                return values
            return values[places.start : places.stop]
        return [values[place] for place in places]


def all_between(values: Sequence[float | None], low: float, high: float) -> bool:
    """Whether there are values, none is missing and all lie between two limits."""
    if not values or None in values:
        return False
    known = cast("Sequence[float]", values)
    return low <= min(known) and max(known) <= high


def _numbers(values: Sequence[JsonValue]) -> list[float | None]:
    if set(map(type, values)) <= {int, float}:
        return list(map(float, cast("Sequence[float]", values)))
    return [_number(value) for value in values]


def _number(value: JsonValue) -> float | None:
    if isinstance(value, (int, float)) and value is not True and value is not False:
        return float(value)
    return None


def _numbers_and_sessions(
    readings: Columns, captures: Columns
) -> tuple[Sequence[int], Sequence[str | None]]:
    """The capture number and the session of each reading, in the order of the records."""
    count = len(readings.records)
    own = _texts(readings.get("session") or [None] * count)
    if not len(captures.records):
        return range(1, count + 1), own
    numbers = captures.get("number") or [None] * len(captures.records)
    sessions = captures.get("session") or [None] * len(captures.records)
    if not captures.stands_beside(readings):
        known = {source: place for place, source in enumerate(captures.sources())}
        places = [known.get(source) for source in readings.sources()]
        numbers = [None if place is None else numbers[place] for place in places]
        sessions = [None if place is None else sessions[place] for place in places]
    elif isinstance(numbers, range) and None not in sessions:
        return numbers, _texts(sessions)
    return (
        [one if isinstance(one, int) else row for row, one in enumerate(numbers, start=1)],
        [
            one if isinstance(one, str) else stated
            for one, stated in zip(sessions, own, strict=True)
        ],
    )


def _texts(values: Sequence[JsonValue]) -> Sequence[str | None]:
    if set(map(type, values)) <= {str, type(None)}:
        return cast("Sequence[str | None]", values)
    return [value if isinstance(value, str) else None for value in values]
