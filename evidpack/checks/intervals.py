"""Closed intervals of whole numbers."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeAlias

Interval: TypeAlias = tuple[int, int]


def merge(intervals: Iterable[Interval]) -> list[Interval]:
    """The same numbers as sorted intervals that don't touch."""
    found: list[Interval] = []
    for low, high in sorted(intervals):
        if found and low <= found[-1][1] + 1:
            found[-1] = (found[-1][0], max(found[-1][1], high))
        elif high >= low:
            found.append((low, high))
    return found


def subtract(intervals: Iterable[Interval], holes: Iterable[Interval]) -> list[Interval]:
    """The numbers of `intervals` that are in none of `holes`."""
    cuts = merge(holes)
    found: list[Interval] = []
    index = 0
    for low, high in merge(intervals):
        at = low
        while index < len(cuts) and cuts[index][1] < low:
            index += 1
        cut = index
        while cut < len(cuts) and cuts[cut][0] <= high:
            if cuts[cut][0] > at:
                found.append((at, cuts[cut][0] - 1))
            at = max(at, cuts[cut][1] + 1)
            cut += 1
        if at <= high:
            found.append((at, high))
    return found


def contains(interval: Interval, number: int) -> bool:
    """Whether a number lies in an interval."""
    return interval[0] <= number <= interval[1]
