"""Straight lines by least squares, and what the pulse ranges of a reading say.

Ordinary least squares of y on x with equal weights: slope b = Sxy/Sxx, intercept a = ȳ − b·x̄,
residual variance s² = Σe²/(n − 2), u(b) = s/√Sxx, u(a) = s·√(1/n + x̄²/Sxx) (JCGM 100:2008, H.3,
which the tests repeat with its numbers).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from operator import mul, sub


@dataclass(frozen=True, slots=True)
class Line:
    """A fitted line in the units of y and x."""

    count: int
    slope: float
    intercept: float
    slope_sd: float
    intercept_sd: float
    residual_sd: float
    correlation: float  # between intercept and slope
    x_mean: float
    x_spread: float  # Sxx

    def at(self, x: float) -> tuple[float, float]:
        """The value of the line at x and its standard uncertainty."""
        spread = (x - self.x_mean) ** 2 / self.x_spread
        return (
            self.intercept + self.slope * x,
            self.residual_sd * math.sqrt(1 / self.count + spread),
        )


def fit_line(x: Sequence[float], y: Sequence[float]) -> Line:
    """The least-squares line through two points or more, not all at one x.

    With two points the standard deviations are zero. Raises ValueError for fewer, for lengths
    that differ, and where all x are equal.
    """
    count = len(x)
    if count != len(y):
        raise ValueError("x and y differ in length")
    if count < 2:
        raise ValueError("a line needs two points")
    x_mean, y_mean = math.fsum(x) / count, math.fsum(y) / count
    dx = [value - x_mean for value in x]
    dy = [value - y_mean for value in y]
    spread = math.fsum(map(mul, dx, dx))
    if not spread > 0:
        raise ValueError("all x are equal")
    slope = math.fsum(map(mul, dx, dy)) / spread
    squares = math.fsum((b - slope * a) ** 2 for a, b in zip(dx, dy, strict=True))
    residual = math.sqrt(squares / (count - 2)) if count > 2 else 0.0
    mean_square = math.fsum(value * value for value in x)
    return Line(
        count=count,
        slope=slope,
        intercept=y_mean - slope * x_mean,
        slope_sd=residual / math.sqrt(spread),
        intercept_sd=residual * math.sqrt(mean_square / (count * spread)),
        residual_sd=residual,
        correlation=-x_mean * count / math.sqrt(count * mean_square) if mean_square else 0.0,
        x_mean=x_mean,
        x_spread=spread,
    )


@dataclass(frozen=True, slots=True)
class PulseTrain:
    """What the pulses of one reading say: the slope (metres per second, positive when receding),
    its standard deviation, the standard deviation about the line (metres), and the largest reset
    against the trend (metres; 0 where none could reach `step`).
    """

    slope_mps: float
    slope_sd_mps: float
    noise_m: float
    reset_m: float
    count: int


class PulseFitter:
    """Fits many pulse trains; remembers the sums of time series that come again."""

    def __init__(self, step_m: float) -> None:
        self._step_m = step_m
        self._times: dict[tuple[float, ...], tuple[list[float], float] | None] = {}

    def fit(self, times_s: Sequence[float], ranges_m: Sequence[float]) -> PulseTrain | None:
        """The pulse train, or None where there are fewer than three pulses, the two series
        differ in length or the times do not rise.
        """
        count = len(times_s)
        if count != len(ranges_m) or count < 3:
            return None
        weights = self._weights(times_s)
        if weights is None:
            return None
        dx, spread = weights
        origin = ranges_m[0]
        near = [value - origin for value in ranges_m]
        mean = sum(near) / count
        slope = sum(map(mul, dx, near)) / spread
        squares = sum(map(mul, near, near)) - count * mean * mean - slope * slope * spread
        squares = max(squares, 0.0)
        noise = math.sqrt(squares / (count - 2))
        # A reset of J between neighbours leaves residuals with a sum of squares of J²/2 or more;
        # below half of that for the step looked for, there is nothing to look for.
        reset = 0.0
        if squares >= self._step_m * self._step_m / 4:
            reset = largest_reset(times_s, ranges_m)
        return PulseTrain(slope, noise / math.sqrt(spread), noise, reset, count)

    def _weights(self, times_s: Sequence[float]) -> tuple[list[float], float] | None:
        key = tuple(times_s)
        if key not in self._times:
            if len(self._times) > 1024:
                self._times.clear()
            self._times[key] = _centred(key)
        return self._times[key]


def _centred(times_s: tuple[float, ...]) -> tuple[list[float], float] | None:
    if any(later <= earlier for earlier, later in pairwise(times_s)):
        return None
    mean = math.fsum(times_s) / len(times_s)
    dx = [value - mean for value in times_s]
    return dx, math.fsum(map(mul, dx, dx))


def largest_reset(times_s: Sequence[float], ranges_m: Sequence[float]) -> float:
    """The largest step between neighbouring pulses away from the typical slope, metres.

    The typical slope is the median of the slopes between neighbours: a sawtooth keeps it on its
    ramp, so its reset stands out by its whole height. A linear sweep has no reset and can't be
    found so.
    """
    from statistics import median

    steps: list[float] = list(map(sub, ranges_m[1:], ranges_m))
    gaps: list[float] = list(map(sub, times_s[1:], times_s))
    typical = median(step / gap for step, gap in zip(steps, gaps, strict=True))
    return max(float(abs(step - typical * gap)) for step, gap in zip(steps, gaps, strict=True))


def even_slope_sd(sigma_m: float, duration_s: float, count: int) -> float:
    """Standard deviation of the slope for evenly spaced pulses with range noise `sigma_m`:
    σ/T·√(12(N−1)/(N(N+1))), metres per second.
    """
    return sigma_m / duration_s * math.sqrt(12 * (count - 1) / (count * (count + 1)))
