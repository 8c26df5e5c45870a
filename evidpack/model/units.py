"""Speeds and lengths that keep the unit in which they were exported.

A display shows whole mph or whole km/h; converting early would lose its resolution, so the
exported number stays as it is and conversions are exact decimals.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Final, Literal

SpeedUnit = Literal["mph", "km/h", "m/s"]
LengthUnit = Literal["m", "ft"]

# 1 mile = 1609.344 m and 1 foot = 0.3048 m exactly (international yard and pound agreement,
# 1959; from memory).
_METRES_PER_SECOND: Final[dict[str, Decimal]] = {
    "mph": Decimal("0.44704"),
    "km/h": Decimal(1) / Decimal("3.6"),
    "m/s": Decimal(1),
}
_METRES: Final[dict[str, Decimal]] = {"m": Decimal(1), "ft": Decimal("0.3048")}

# The ending of a value's name says its unit: ``speed_mph``, ``range_m``.
SPEED_SUFFIX: Final[dict[str, str]] = {"mph": "mph", "km/h": "kmh", "m/s": "mps"}
LENGTH_SUFFIX: Final[dict[str, str]] = {"m": "m", "ft": "ft"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Speed:
    """A speed as exported. `value` is in `unit`."""

    value: Decimal
    unit: SpeedUnit

    @property
    def mps(self) -> float:
        """Metres per second."""
        return float(self.value * _METRES_PER_SECOND[self.unit])

    def in_unit(self, unit: SpeedUnit) -> float:
        """This speed as a float in another unit."""
        if unit == self.unit:
            return float(self.value)
        return float(self.value * _METRES_PER_SECOND[self.unit] / _METRES_PER_SECOND[unit])

    def __str__(self) -> str:
        return f"{self.value} {self.unit}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Length:
    """A length as exported. `value` is in `unit`."""

    value: Decimal
    unit: LengthUnit

    @property
    def metres(self) -> float:
        """Metres."""
        return float(self.value * _METRES[self.unit])

    def __str__(self) -> str:
        return f"{self.value} {self.unit}"
