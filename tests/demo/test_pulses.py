from __future__ import annotations

import random
import statistics
from dataclasses import replace
from pathlib import Path

import pytest

from evidpack.demo import places
from evidpack.demo.plan import DISAGREEING
from evidpack.demo.pulses import MPH_MPS, along_road_m, burst, position_m, slant_m, slope
from tests.demo.reading_back import rows


def test_the_cosine_effect_is_that_of_the_worked_example() -> None:
    # x = 5 m, y = 6 m, R = 100 m, 70 mph → 69.786 mph; v·√(1 − (x² + y²)/R²), computed.
    site = replace(places.BRIDGE, offset_m=5.0, height_m=6.0)
    step_s = 1e-4
    moved = position_m(100.0, 70 * MPH_MPS, step_s, site) - 100.0
    assert moved / step_s / MPH_MPS == pytest.approx(69.786, abs=0.001)


@pytest.mark.parametrize("site", [places.ROADSIDE, places.BRIDGE])
def test_slant_range_and_place_along_the_road_are_inverse(site: places.Site) -> None:
    assert slant_m(along_road_m(123.4, site), site) == pytest.approx(123.4)
    assert along_road_m(123.4, site) < 123.4


def test_slope_agrees_with_the_standard_library() -> None:
    one = burst(120.0, 30.0, places.ROADSIDE, random.Random(3))
    expected = statistics.linear_regression(one.times_s, one.ranges_m).slope
    assert slope(one.times_s, one.ranges_m) == pytest.approx(expected, rel=1e-12)


def _pulses(row: dict[str, str]) -> tuple[list[float], list[float]]:
    times = [float(part) / 1000 for part in row["Pulse times ms"].split(";")]
    return times, [float(part) for part in row["Pulse ranges m"].split(";")]


def test_shown_speeds_follow_from_the_exported_pulses_but_for_one(export: Path) -> None:
    apart = {}
    for row in rows(export / "logs" / "readings.csv"):
        line = statistics.linear_regression(*_pulses(row))
        assert (line.slope < 0) == (row["Direction"] == "TOWARDS"), row["Ref"]
        apart[row["Ref"]] = int(row["Speed mph"]) - abs(line.slope) / 0.44704
    odd = apart.pop(f"C{DISAGREEING:03d}")
    assert 2.5 <= odd <= 3.5
    assert {ref: gap for ref, gap in apart.items() if abs(gap) > 0.5} == {}


def test_pulses_scatter_like_noise_and_end_at_the_shown_range(export: Path) -> None:
    for row in rows(export / "logs" / "readings.csv"):
        times, ranges = _pulses(row)
        assert len(times) == len(ranges) == 31
        line = statistics.linear_regression(times, ranges)
        residuals = [
            r - line.intercept - line.slope * t for t, r in zip(times, ranges, strict=True)
        ]
        assert 0.015 < statistics.stdev(residuals) < 0.05, row["Ref"]
        assert float(row["Range m"]) == pytest.approx(ranges[-1], abs=0.15)
        assert all(20 <= one <= 600 for one in ranges)  # the approved window
