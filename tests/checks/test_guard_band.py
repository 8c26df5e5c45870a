"""Decisions with a guard band against ILAC-G8 and JCGM 106."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.checks.guard_band import (
    Decision,
    four_way,
    guarded_rejection_limit,
    relative_rejection_limit,
    upper_decision,
)

P, CP, CF, F = Decision.PASS, Decision.CONDITIONAL_PASS, Decision.CONDITIONAL_FAIL, Decision.FAIL


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (0.5, P),
        (0.7, P),
        (0.7000001, CP),
        (1.0, CP),
        (1.0000001, CF),
        (1.3, CF),
        (1.3000001, F),
        (9, F),
    ],
)
def test_the_four_ways_of_ilac_g8_at_and_past_each_edge(value: float, expected: Decision) -> None:
    """ILAC-G8:09/2019 4.2.3: TL = 1, w = U = 0.3; pass up to TL − w, fail above TL + w."""
    assert upper_decision(value, 1.0, 0.3) is expected


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (-1.6, P),
        (-1.8, CP),
        (-2.2, CF),
        (-2.4, CF),
        (-2.41, F),
        (0.6, P),
        (0.8, CP),
        (1.2, CF),
        (1.5, F),
    ],
)
def test_each_side_of_an_asymmetric_tolerance_is_decided_by_itself(
    value: float, expected: Decision
) -> None:
    """NHTSA lidar module 2.11: +1/−2 mph, here with U = 0.4 mph."""
    assert four_way(value, -2, 1, 0.4) is expected


def test_without_a_guard_band_there_are_two_ways() -> None:
    assert {upper_decision(v, 1.0, 0.0) for v in (0.0, 0.5, 1.0)} == {P}
    assert upper_decision(1.000001, 1.0, 0.0) is F


def test_jcgm_106_guarded_rejection_of_a_road_speed() -> None:
    """JCGM 106, road speed: limit 100 km/h, u = 2 % of the value, 99.9 % → 107 printed,
    106.59 computed (text from memory)."""
    limit = relative_rejection_limit(100, 0.02, 3.09)
    assert limit == pytest.approx(106.59, abs=5e-3)
    assert round(limit) == 107
    assert guarded_rejection_limit(100, 2, 3.09) == pytest.approx(106.18)  # u fixed at the limit


@pytest.mark.parametrize(
    ("confidence", "z"), [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)]
)
def test_the_z_values_are_one_sided_normal_quantiles(confidence: float, z: float) -> None:
    """JCGM 106 (from memory) against the standard library's normal distribution."""
    from statistics import NormalDist

    assert NormalDist().inv_cdf(confidence) == pytest.approx(z, abs=5.1e-3)


@given(st.floats(-10, 10), st.floats(-10, 10), st.floats(0, 3))
def test_a_larger_error_is_never_decided_better(first: float, second: float, guard: float) -> None:
    low, high = sorted((first, second))
    assert upper_decision(low, 1.0, guard) <= upper_decision(high, 1.0, guard)


@given(st.floats(-5, 5), st.floats(0.01, 3), st.floats(0.01, 3), st.floats(0, 2))
def test_mirroring_the_error_mirrors_the_tolerance(
    error: float, low: float, high: float, guard: float
) -> None:
    assert four_way(error, -low, high, guard) is four_way(-error, -high, low, guard)
