"""Deciding whether a measured error is within a tolerance, with a guard band.

ILAC-G8:09/2019 4.2.3: with tolerance limit TL and guard band w, a value is a pass up to TL − w, a
conditional pass up to TL, a conditional fail up to TL + w and a fail beyond; w = U by default.
JCGM 106: with guarded rejection a value is rejected beyond TL + z·u.
"""

from __future__ import annotations

from enum import IntEnum
from typing import Final

_DIGITS: Final = 9  # decimals read as floats: finer than any certificate


class Decision(IntEnum):
    """The four ways, the worse the higher."""

    PASS = 0
    CONDITIONAL_PASS = 1
    CONDITIONAL_FAIL = 2
    FAIL = 3

    @property
    def words(self) -> str:
        """As findings print it."""
        return self.name.lower().replace("_", " ")


def upper_decision(value: float, limit: float, guard: float) -> Decision:
    """The decision against an upper tolerance limit; all in one unit, `guard` not negative."""
    distance = round(value - limit, _DIGITS)
    guard = round(guard, _DIGITS)
    if distance <= -guard:
        return Decision.PASS
    if distance <= 0:
        return Decision.CONDITIONAL_PASS
    return Decision.CONDITIONAL_FAIL if distance <= guard else Decision.FAIL


def four_way(value: float, low: float, high: float, guard: float) -> Decision:
    """The worse of the decisions on either side of an interval, each by itself."""
    return max(upper_decision(value, high, guard), upper_decision(-value, -low, guard))


def guarded_rejection_limit(limit: float, standard_uncertainty: float, z: float) -> float:
    """The value above which non-conformity is established with the confidence that z stands for
    (1.64 for 95 %, 3.09 for 99.9 %, one-sided; JCGM 106, from memory), where the uncertainty at
    the limit is `standard_uncertainty`.
    """
    return limit + z * standard_uncertainty


def relative_rejection_limit(limit: float, relative_uncertainty: float, z: float) -> float:
    """The same where the uncertainty is a share of the measured value: v − z·u·v > limit."""
    return limit / (1 - z * relative_uncertainty)
