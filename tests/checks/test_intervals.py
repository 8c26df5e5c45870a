"""Intervals against sets of numbers, one by one."""

from __future__ import annotations

import itertools

from hypothesis import given
from hypothesis import strategies as st

from evidpack.checks.intervals import contains, merge, subtract

SPANS = st.lists(
    st.tuples(st.integers(-20, 20), st.integers(0, 8)).map(lambda p: (p[0], p[0] + p[1])),
    max_size=8,
)


def numbers(intervals: list[tuple[int, int]]) -> set[int]:
    return {n for low, high in intervals for n in range(low, high + 1)}


@given(SPANS, SPANS)
def test_subtraction_equals_that_of_sets(
    first: list[tuple[int, int]], second: list[tuple[int, int]]
) -> None:
    found = subtract(first, second)
    assert numbers(found) == numbers(first) - numbers(second)
    assert found == sorted(found)


@given(SPANS)
def test_merged_intervals_hold_the_same_numbers_and_do_not_touch(
    spans: list[tuple[int, int]],
) -> None:
    found = merge(spans)
    assert numbers(found) == numbers(spans)
    assert all(a[1] + 1 < b[0] for a, b in itertools.pairwise(found))


def test_an_interval_that_runs_backwards_is_empty() -> None:
    assert merge([(5, 3)]) == []
    assert subtract([(5, 3)], []) == []


def test_both_ends_belong_to_an_interval() -> None:
    assert [contains((2, 4), n) for n in (1, 2, 4, 5)] == [False, True, True, False]
