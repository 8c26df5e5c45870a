"""Where readings lie on the UTC line, each worked out when it is asked for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from evidpack.checks.clock_model import ClockLine, Placement
from evidpack.checks.day_readings import Readings


class Placements(Mapping[int, Placement]):
    """Placements of readings by capture number; `lines` has the line of each reading's clock."""

    def __init__(self, readings: Readings, lines: Sequence[ClockLine]) -> None:
        self._readings = readings
        self._lines = lines

    def __getitem__(self, number: int) -> Placement:
        place = self._readings.place_of(number)
        at_s = None if place is None else self._readings.at_s[place]
        if place is None or at_s is None:
            raise KeyError(number)
        half_width_s = self._readings.half_widths_s.get(place, 0.0)
        return self._lines[place].place(at_s, half_width_s)

    def __iter__(self) -> Iterator[int]:
        pairs = zip(self._readings.numbers, self._readings.at_s, strict=True)
        return (number for number, at_s in pairs if at_s is not None)

    def __len__(self) -> int:
        return sum(1 for _ in self)
