"""One clock against a reference: offset and drift, and recorded stamps on one UTC line.

Offset = what the clock showed − what the reference showed, seconds; drift = change of offset by
elapsed time, (o₂ − o₁)/(t₂ − t₁).  Between two comparisons the offset is interpolated, beyond them
it is held and its uncertainty grows by the rate that the rule set allows.  A comparison after which
the clock was set right ends one stretch and begins another.  A recorded stamp is never changed:
a `Placement` stands beside it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from typing import NamedTuple

from evidpack.checks.regression import fit_line


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """One clock check: seconds since 1970 UTC of the clock and of the reference, expanded
    uncertainty (k = 2) of the comparison in seconds, and whether the clock was then set right.
    """

    clock_s: float
    reference_s: float
    uncertainty_s: float
    reset: bool = False

    @property
    def offset_s(self) -> float:
        """Clock − reference, seconds."""
        return self.clock_s - self.reference_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """Drift in seconds per second with its expanded uncertainty (k = 2)."""

    rate: float
    uncertainty: float


class Placement(NamedTuple):
    """Where a stamp lies on the UTC line: `at_s` seconds since 1970, `uncertainty_s` expanded
    (k = 2), or None where the clock was never compared; `raw_s` is the stamp as recorded.
    """

    at_s: float
    uncertainty_s: float | None
    raw_s: float
    clock: str | None
    resolution_s: float
    half_width_s: float = 0.0  # half of the hour that an ambiguous stamp leaves open


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stretch:
    """The time between two settings of a clock: points (clock_s, offset_s, uncertainty_s)."""

    points: tuple[tuple[float, float, float], ...]
    begins_s: float  # reference time
    ends_s: float


class ClockLine:
    """Comparisons of one clock, and what follows from them."""

    __slots__ = ("_stretches", "allowed_rate", "comparisons", "name", "resolution_s")

    def __init__(
        self,
        name: str | None,
        resolution_s: float,
        comparisons: Sequence[Comparison],
        allowed_rate: float,
    ) -> None:
        self.name = name
        self.resolution_s = resolution_s
        self.comparisons = tuple(sorted(comparisons, key=lambda one: one.reference_s))
        self.allowed_rate = allowed_rate
        self._stretches = _stretches(self.comparisons)

    def drift(self) -> Drift | None:
        """The drift over the longest stretch with two comparisons or more, by least squares of
        offset on reference time; None where there is none. Two comparisons give
        (o₂ − o₁)/(t₂ − t₁).
        """
        best = max(self._stretches, key=_length, default=None)
        if best is None or _length(best) <= 0:
            return None
        times = [clock - offset for clock, offset, _ in best.points]
        line = fit_line(times, [offset for _, offset, _ in best.points])
        spread = math.sqrt(sum((time - line.x_mean) ** 2 for time in times))
        worst = max(uncertainty for _, _, uncertainty in best.points)
        return Drift(rate=line.slope, uncertainty=worst / spread)

    def offset_at(self, raw_s: float) -> tuple[float, float] | None:
        """Offset and expanded uncertainty (k = 2) at a recorded time, or None where unknown or
        where two settings of the clock make it undecidable.
        """
        found = self._candidates(raw_s)
        return found[0] if len(found) == 1 else None

    def place(self, raw_s: float, half_width_s: float = 0.0) -> Placement:
        """Where a recorded time lies on the UTC line."""
        if len(self._stretches) == 1:  # nearly always: a clock that was not set during the day
            offset, uncertainty = self._offset(self._stretches[0], raw_s)
            return Placement(
                raw_s - offset, uncertainty, raw_s, self.name, self.resolution_s, half_width_s
            )
        found = self._candidates(raw_s)
        if not found:
            return Placement(raw_s, None, raw_s, self.name, self.resolution_s, half_width_s)
        low = min(raw_s - offset - uncertainty for offset, uncertainty in found)
        high = max(raw_s - offset + uncertainty for offset, uncertainty in found)
        at, spread = (low + high) / 2, (high - low) / 2
        return Placement(at, spread, raw_s, self.name, self.resolution_s, half_width_s)

    def places_s(self, raw_s: Sequence[float]) -> list[float]:
        """`at_s` of the placement of each recorded time."""
        if not self._stretches:
            return list(raw_s)
        if len(self._stretches) == 1:
            points = self._stretches[0].points
            first, offset, _ = points[0]
            if len(points) == 1:
                return [raw - offset for raw in raw_s]
            if len(points) == 2:
                last, end, _ = points[1]
                # As `_offset` does it, written out: a log has very many times between two checks.
                return [
                    raw - offset
                    if raw <= first
                    else raw - end
                    if raw >= last
                    else raw - (offset + (raw - first) / (last - first) * (end - offset))
                    for raw in raw_s
                ]
        return [self.place(raw).at_s for raw in raw_s]

    def _candidates(self, raw_s: float) -> list[tuple[float, float]]:
        if len(self._stretches) == 1:
            return [self._offset(self._stretches[0], raw_s)]
        found = []
        for stretch in self._stretches:
            offset, uncertainty = self._offset(stretch, raw_s)
            at = raw_s - offset
            if stretch.begins_s - uncertainty <= at <= stretch.ends_s + uncertainty:
                found.append((offset, uncertainty))
        return found

    def _offset(self, stretch: _Stretch, raw_s: float) -> tuple[float, float]:
        points = stretch.points
        first, last = points[0], points[-1]
        if raw_s <= first[0]:
            return first[1], first[2] + self.allowed_rate * (first[0] - raw_s)
        if raw_s >= last[0]:
            return last[1], last[2] + self.allowed_rate * (raw_s - last[0])
        index = 1
        while points[index][0] < raw_s:
            index += 1
        (t1, o1, u1), (t2, o2, u2) = points[index - 1], points[index]
        share = (raw_s - t1) / (t2 - t1)
        return o1 + share * (o2 - o1), math.hypot((1 - share) * u1, share * u2)


def _stretches(comparisons: Sequence[Comparison]) -> tuple[_Stretch, ...]:
    found: list[_Stretch] = []
    points: list[tuple[float, float, float]] = []
    begins = -math.inf
    for one in comparisons:
        points.append((one.clock_s, one.offset_s, one.uncertainty_s))
        if one.reset:
            found.append(
                _Stretch(points=_by_clock(points), begins_s=begins, ends_s=one.reference_s)
            )
            begins = one.reference_s
            points = [(one.reference_s, 0.0, one.uncertainty_s)]
    if points:
        found.append(_Stretch(points=_by_clock(points), begins_s=begins, ends_s=math.inf))
    return tuple(found)


def _by_clock(points: list[tuple[float, float, float]]) -> tuple[tuple[float, float, float], ...]:
    return tuple(sorted(points))


def _length(stretch: _Stretch) -> float:
    """Reference time between the first and the last comparison, seconds."""
    times = [clock - offset for clock, offset, _ in stretch.points]
    return max(times) - min(times)


class Order(Enum):
    """Whether one event came before another."""

    YES = "yes"
    NO = "no"
    UNDECIDABLE = "undecidable"


def slack_s(first: Placement, second: Placement) -> float | None:
    """Combined clock uncertainty (k = 2, root sum of squares) plus the coarser resolution plus
    what ambiguous stamps leave open, seconds; None where a clock was never compared.  On one
    clock the uncertainty of its offset cancels.
    """
    open_s = max(first.resolution_s, second.resolution_s) + first.half_width_s + second.half_width_s
    if first.clock is not None and first.clock == second.clock:
        return open_s
    if first.uncertainty_s is None or second.uncertainty_s is None:
        return None
    return math.hypot(first.uncertainty_s, second.uncertainty_s) + open_s


def order(first: Placement, second: Placement) -> Order:
    """Whether `first` came before (or with) `second`.

    On one clock stamps that are equal or rise are in order as recorded; otherwise a difference
    within the slack is undecidable.
    """
    slack = slack_s(first, second)
    if slack is None:
        return Order.UNDECIDABLE
    same = first.clock is not None and first.clock == second.clock
    between = second.at_s - first.at_s
    if same:
        between = second.raw_s - first.raw_s
        if between >= 0 and not (first.half_width_s or second.half_width_s):
            return Order.YES
    if between >= slack:
        return Order.YES
    return Order.NO if -between > slack else Order.UNDECIDABLE
