"""Offset, drift and placement on one UTC line."""

from __future__ import annotations

import math
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.checks.clock_model import ClockLine, Comparison, Order, Placement, order, slack_s

RATE = 10 / (14 * 86_400)
T0 = 1_778_745_600.0  # 2026-05-14T08:00:00Z


def compare(at: float, offset: float, u: float = 0.1, *, reset: bool = False) -> Comparison:
    return Comparison(clock_s=T0 + at + offset, reference_s=T0 + at, uncertainty_s=u, reset=reset)


def line(*comparisons: Comparison) -> ClockLine:
    return ClockLine("meter", 1.0, comparisons, RATE)


def test_ten_seconds_in_fourteen_days_is_8_27_ppm() -> None:
    """SI 2022/71 Sch. 1: ±10 s over 14 days (the rate computed)."""
    assert pytest.approx(8.27, abs=5e-3) == RATE * 1e6


def test_drift_from_two_checks_is_the_difference_over_the_time() -> None:
    drift = line(compare(0, 1.0), compare(10_000, 2.0)).drift()
    assert drift is not None
    assert drift.rate == pytest.approx(1.0 / 10_000)
    assert drift.uncertainty == pytest.approx(0.1 * math.sqrt(2) / 10_000, rel=1e-3)


def test_drift_from_more_checks_is_the_least_squares_slope() -> None:
    offsets = [(0, 0.0), (1000, 0.3), (2000, 0.1), (3000, 0.6)]
    drift = line(*(compare(at, offset) for at, offset in offsets)).drift()
    mean_t, mean_o = 1500, 0.25
    slope = sum((t - mean_t) * (o - mean_o) for t, o in offsets) / sum(
        (t - mean_t) ** 2 for t, _ in offsets
    )
    assert drift is not None
    assert drift.rate == pytest.approx(slope)


@pytest.mark.parametrize(
    "comparisons", [(), (compare(0, 1.0),), (compare(0, 1.0), compare(0, 1.0))]
)
def test_no_drift_without_two_checks_apart(comparisons: tuple[Comparison, ...]) -> None:
    assert line(*comparisons).drift() is None


def test_between_two_checks_the_offset_is_interpolated() -> None:
    found = line(compare(0, 1.0), compare(1000, 3.0)).offset_at(T0 + 500 + 2.0)
    assert found is not None
    assert found[0] == pytest.approx(2.0, abs=1e-6)
    assert found[1] == pytest.approx(math.hypot(0.05, 0.05), rel=1e-6)


def test_beyond_the_checks_the_offset_is_held_and_its_uncertainty_grows() -> None:
    clock = line(compare(0, 1.0), compare(1000, 3.0))
    later, earlier = clock.offset_at(T0 + 1003 + 86_400), clock.offset_at(T0 + 1.0 - 86_400)
    assert later is not None
    assert earlier is not None
    assert later == pytest.approx((3.0, 0.1 + RATE * 86_400))
    assert earlier == pytest.approx((1.0, 0.1 + RATE * 86_400))


def test_a_clock_that_was_never_compared_has_no_uncertainty() -> None:
    place = line().place(T0)
    assert (place.at_s, place.uncertainty_s, place.raw_s) == (T0, None, T0)


def test_the_recorded_stamp_stays_beside_the_placement() -> None:
    place = line(compare(0, 5.0)).place(T0 + 100)
    assert place.raw_s == T0 + 100
    assert place.at_s == pytest.approx(T0 + 95)


def test_a_clock_set_back_by_an_hour_gives_both_readings_of_a_stamp() -> None:
    """An hour ahead, set right at T0: a stamp in the repeated hour may lie on either side."""
    clock = line(compare(0, 3600.0, reset=True))
    assert clock.place(T0 + 1800 - 3600).at_s == pytest.approx(T0 + 1800 - 7200, abs=1)
    assert clock.place(T0 + 4000).at_s == pytest.approx(T0 + 4000, abs=1)
    both = clock.place(T0 + 1800)
    assert both.at_s == pytest.approx(T0, abs=1)
    assert both.uncertainty_s == pytest.approx(1800, abs=1)
    assert clock.offset_at(T0 + 1800) is None


def test_a_stamp_that_a_clock_set_forward_never_showed_is_not_placed() -> None:
    clock = line(compare(0, -3600.0, reset=True))
    assert clock.place(T0 - 1800).uncertainty_s is None
    assert clock.place(T0 + 60).at_s == pytest.approx(T0 + 60)
    assert clock.place(T0 - 3700).at_s == pytest.approx(T0 - 100, abs=1)


@given(
    st.lists(
        st.tuples(st.integers(0, 10_000), st.floats(-5, 5)),
        min_size=1,
        max_size=5,
        unique_by=lambda p: p[0],
    )
)
def test_the_order_of_the_checks_does_not_matter(checks: list[tuple[int, float]]) -> None:
    made = [compare(at, offset) for at, offset in checks]
    expected = line(*made).place(T0 + 5_000)
    for shuffled in list(permutations(made))[:10]:
        assert line(*shuffled).place(T0 + 5_000) == expected


@given(st.integers(-14, 14), st.floats(0, 20_000), st.floats(-10, 10))
def test_shifting_clock_and_checks_alike_moves_nothing_but_the_line(
    hours: int, at: float, offset: float
) -> None:
    """Zone invariance: the same instants in another zone are the same seconds."""
    shift = 3600.0 * hours
    moved = Comparison(clock_s=T0 + offset + shift, reference_s=T0 + shift, uncertainty_s=0.1)
    here, there = line(compare(0, offset)).place(T0 + at), line(moved).place(T0 + at + shift)
    assert there.at_s - here.at_s == pytest.approx(shift, abs=1e-5)
    assert there.uncertainty_s == pytest.approx(here.uncertainty_s, abs=1e-9)


def placed(
    at: float,
    *,
    clock: str | None = "meter",
    u: float | None = 0.3,
    res: float = 1.0,
    half: float = 0.0,
) -> Placement:
    return Placement(T0 + at, u, T0 + at, clock, res, half)


@pytest.mark.parametrize(
    ("later_s", "expected"),
    [(2.0, Order.YES), (0.0, Order.YES), (-1.0, Order.UNDECIDABLE), (-1.001, Order.NO)],
)
def test_on_one_clock_only_its_resolution_counts(later_s: float, expected: Order) -> None:
    assert order(placed(0), placed(later_s)) is expected


@pytest.mark.parametrize(
    ("later_s", "expected"),
    [
        (1.5, Order.YES),
        (1.49, Order.UNDECIDABLE),
        (0.0, Order.UNDECIDABLE),
        (-1.5, Order.UNDECIDABLE),
        (-1.51, Order.NO),
    ],
)
def test_on_two_clocks_uncertainties_and_resolution_count(later_s: float, expected: Order) -> None:
    first, second = placed(0, u=0.3), placed(later_s, clock="camera", u=0.4, res=0.1)
    assert slack_s(first, second) == pytest.approx(0.5 + 1.0)
    assert order(first, second) is expected


def test_a_clock_that_was_never_compared_decides_nothing_against_another() -> None:
    assert order(placed(0, u=None), placed(9_999, clock="camera")) is Order.UNDECIDABLE
    assert slack_s(placed(0, u=None), placed(1, clock="camera")) is None
    assert order(placed(0, u=None), placed(5, u=None)) is Order.YES  # one clock: offset cancels


def test_an_ambiguous_hour_leaves_order_open_even_on_one_clock() -> None:
    assert order(placed(0, half=1800), placed(600)) is Order.UNDECIDABLE
    assert order(placed(0, half=1800), placed(1802)) is Order.YES


@given(st.floats(-1e5, 1e5), st.floats(0, 50), st.floats(0, 50))
def test_two_events_are_never_each_before_the_other(apart: float, u1: float, u2: float) -> None:
    first, second = placed(0, u=u1), placed(apart, clock="camera", u=u2)
    forward, backward = order(first, second), order(second, first)
    if forward is Order.NO:
        assert backward is Order.YES
    if forward is Order.YES and apart > 0:
        assert backward in {Order.NO, Order.UNDECIDABLE}
