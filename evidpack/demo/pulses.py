"""What a laser meter sees of a vehicle: ranges of pulses, and the speed that follows from them.

The slant range to a point x along the road, a to the side and h below is √(x² + a² + h²); for a
vehicle at speed v it changes by v·cos θ, so the meter shows no more than the true speed.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from evidpack.demo.places import Site

COUNT: Final = 31
SPACING_S: Final = 0.01
NOISE_M: Final = 0.03
MPH_MPS: Final = 0.44704  # 1609.344 m an hour, exact


@dataclass(frozen=True, slots=True, kw_only=True)
class Burst:
    """Pulses of one reading: times from the first in seconds, ranges in metres as exported."""

    times_s: tuple[float, ...]
    ranges_m: tuple[float, ...]

    @property
    def speed_mph(self) -> float:
        """Magnitude of the least-squares slope of range on time, mph."""
        return abs(slope(self.times_s, self.ranges_m)) / MPH_MPS


def slope(xs: Sequence[float], ys: Sequence[float]) -> float:
    """Least-squares slope of y on x."""
    x_mean, y_mean = sum(xs) / len(xs), sum(ys) / len(ys)
    products = sum((x - x_mean) * (y - y_mean) for x, y in zip(xs, ys, strict=True))
    return products / sum((x - x_mean) ** 2 for x in xs)


def along_road_m(range_m: float, site: Site) -> float:
    """How far along the road a point at this slant range lies, metres."""
    return math.sqrt(range_m**2 - site.offset_m**2 - site.height_m**2)


def slant_m(along_m: float, site: Site) -> float:
    """The inverse of `along_road_m`."""
    return math.sqrt(along_m**2 + site.offset_m**2 + site.height_m**2)


def position_m(range_m: float, speed_mps: float, after_s: float, site: Site) -> float:
    """Slant range so many seconds after it was `range_m`, metres."""
    way = 1.0 if site.receding else -1.0
    return slant_m(along_road_m(range_m, site) + way * speed_mps * after_s, site)


def burst(range_m: float, speed_mps: float, site: Site, rng: random.Random) -> Burst:
    """The pulses of a reading that ends at `range_m`, with the meter's noise."""
    times = [round(number * SPACING_S, 3) for number in range(COUNT)]
    end = times[-1]
    ranges = [
        position_m(range_m, speed_mps, time - end, site) + rng.gauss(0.0, NOISE_M) for time in times
    ]
    return Burst(times_s=tuple(times), ranges_m=tuple(round(one, 2) for one in ranges))
