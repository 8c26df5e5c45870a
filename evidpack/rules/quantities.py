"""Exact speeds and lengths from the floats of a rule set."""

from __future__ import annotations

from decimal import Decimal
from typing import cast

from evidpack.model.units import Length, LengthUnit, Speed, SpeedUnit


def _exact(value: float) -> Decimal:
    """The shortest decimal that reads back as this float: what the file said."""
    return Decimal(int(value)) if value.is_integer() else Decimal(repr(value))


def exact_speed(value: float, unit: str) -> Speed:
    """A speed in `unit` (mph, km/h or m/s)."""
    return Speed(value=_exact(value), unit=cast("SpeedUnit", unit))


def exact_length(value: float, unit: str) -> Length:
    """A length in `unit` (m or ft)."""
    return Length(value=_exact(value), unit=cast("LengthUnit", unit))
