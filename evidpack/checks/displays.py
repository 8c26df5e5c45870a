"""Displays: units of speed as floats, and the smallest step told from what was shown."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

# Metres per second; model.units holds the exact decimals.
UNIT_MPS: Final = {"mph": 0.44704, "km/h": 1 / 3.6, "m/s": 1.0}


def display_step(shown: float) -> float:
    """The step that one number implies by its decimals, at most 1."""
    if shown == int(shown):
        return 1.0
    return float(10.0 ** -min(len(repr(shown).partition(".")[2]), 9))


def finest_step(shown: Iterable[float]) -> float:
    """The step of a display that showed all these numbers: 120 beside 120.4 is 120.0."""
    return min((display_step(value) for value in set(shown)), default=1.0)
