"""Check 14: cosine factor and range chain."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.checks.geometry import cosine_factor, reachable_m
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Outcome
from evidpack.model.values import JsonValue
from tests.checks.days import (
    CHECKS_LOG,
    Record,
    change,
    clean_records,
    drop,
    findings,
    is_a,
    only,
    reading,
    record,
)

MPH = 0.44704


@pytest.mark.parametrize(
    ("degrees", "factor"),
    [
        (1, 0.999848),
        (3, 0.998630),
        (5, 0.996195),
        (10, 0.984808),
        (15, 0.965926),
        (20, 0.939693),
        (30, 0.866025),
    ],
)
def test_the_cosine_table(degrees: float, factor: float) -> None:
    """Cosine table (computed): a lateral offset of R·sin(angle)."""
    assert cosine_factor(100 * math.sin(math.radians(degrees)), 0, 100) == pytest.approx(
        factor, abs=5e-7
    )


@pytest.mark.parametrize(("degrees", "shown"), [(0, 55), (10, 54), (20, 52), (30, 48), (40, 42)])
def test_the_published_rounding_of_55_mph(degrees: float, shown: int) -> None:
    """An online radar handbook, ch. 2: 55 mph at 0 to 40 degrees."""
    factor = cosine_factor(100 * math.sin(math.radians(degrees)), 0, 100)
    assert factor is not None
    assert round(55 * factor) == shown


def test_a_bridge() -> None:
    """x = 5 m, y = 6 m, R = 100 m, 70 mph → 69.786 (computed)."""
    factor = cosine_factor(5, 6, 100)
    assert factor is not None
    assert 70 * factor == pytest.approx(69.786, abs=5e-4)


@pytest.mark.parametrize(("x", "y", "r"), [(5, 0, 5), (3, 4, 5), (10, 0, 5), (1, 1, 0), (1, 1, -9)])
def test_no_factor_nearer_than_the_offset(x: float, y: float, r: float) -> None:
    assert cosine_factor(x, y, r) is None


@given(st.floats(0, 30), st.floats(0, 30), st.floats(50, 1000), st.floats(0.1, 10))
def test_the_factor_favours_the_driver_and_knows_no_unit(
    x: float, y: float, r: float, k: float
) -> None:
    factor, scaled = cosine_factor(x, y, r), cosine_factor(k * x, k * y, k * r)
    assert factor is not None
    assert 0 < factor <= 1
    assert scaled == pytest.approx(factor, rel=1e-9)


@given(
    first=st.floats(0, 60),
    pedals=st.lists(st.floats(-1, 1), min_size=1, max_size=20),
    acceleration=st.floats(1, 12),
    step=st.floats(0.01, 0.5),
)
def test_every_drive_that_is_driven_step_by_step_is_reachable(
    first: float, pedals: list[float], acceleration: float, step: float
) -> None:
    """A slow reference: any mixture of braking and speeding up, never reversing."""
    speed, way = first, 0.0
    for pedal in pedals:
        after = max(0.0, speed + pedal * acceleration * step)
        rate = (after - speed) / step
        way += speed * step + rate * step * step / 2
        speed = after
    found = reachable_m(first, speed, step * len(pedals), acceleration * (1 + 1e-9))
    assert found is not None
    assert found[0] - 1e-6 <= way <= found[1] + 1e-6


@pytest.mark.parametrize(
    ("speeds", "time", "span"),
    [
        ((20.0, 20.0), 2.0, (30.0, 50.0)),
        ((38.89, 0.0), 4.9, (75.62, 117.49)),
        ((0.0, 0.0), 2.0, (0.0, 10.0)),
    ],
)
def test_the_shortest_and_longest_way(
    speeds: tuple[float, float], time: float, span: tuple[float, float]
) -> None:
    """By hand with 10 m/s²: 20 m/s, brake for 1 s, speed up for 1 s: 15 + 15 m."""
    found = reachable_m(*speeds, time, 10)
    assert found is not None
    assert found == pytest.approx(span, abs=0.1)


def test_a_change_of_speed_that_is_too_quick_can_not_be_driven() -> None:
    assert reachable_m(30, 0, 2.9, 10) is None


def said(*readings: Record, more: list[Record] | None = None):
    base = drop(clean_records(1), is_a(RecordKind.READING))
    return findings("14", [*base, *(more or []), *readings])


def pair(
    *, first: tuple[float, float], second: tuple[float, float], clock: str, **more: JsonValue
) -> list[Record]:
    """Two readings (mph, m) of one plate, the second at `clock`."""
    return [
        reading(1, "10:00:00", speed=first[0], range_m=first[1], plate="IQ1=00O", **more),
        reading(2, clock, speed=second[0], range_m=second[1], plate="iq1 = 00o", **more),
    ]


def chains(*readings: Record, more: list[Record] | None = None):
    return [one for one in said(*readings, more=more) if "one vehicle" in one.sentence]


def test_the_published_range_chain_oddity_is_a_query() -> None:
    """Published slides: 87 mph at 689.1 m, then 0 mph at 625.8 m just under 5 s later: 63.3 m,
    about 28 mph on average."""
    found = only(
        chains(*pair(first=(87, 689.1), second=(0, 625.8), clock="10:00:05")), Outcome.QUERY
    )
    assert "63.3 m at 28.3 mph on average" in found.sentence
    assert found.measured == pytest.approx(28.3)
    assert found.subject == "captures 1–2"


def test_no_finding_of_a_chain_names_a_plate() -> None:
    for one in said(*pair(first=(87, 689.1), second=(0, 625.8), clock="10:00:05")):
        assert "IQ1" not in one.sentence.upper()


@pytest.mark.parametrize(
    ("second", "clock"),
    [((70, 118.8), "10:00:02"), ((60, 125), "10:00:02"), ((0, 140), "10:00:05")],
)
def test_successive_readings_that_a_vehicle_can_drive_pass(
    second: tuple[float, float], clock: str
) -> None:
    # 70 mph is 31.3 m/s
    found = chains(*pair(first=(70, 181), second=second, clock=clock))
    assert [one.outcome for one in found] == ([Outcome.PASS] if second[0] else [Outcome.QUERY])


def test_readings_far_apart_in_time_are_not_chained() -> None:
    assert chains(*pair(first=(87, 689.1), second=(0, 625.8), clock="10:00:15")) == []


def test_other_vehicles_are_not_chained() -> None:
    a, b = pair(first=(87, 689.1), second=(0, 625.8), clock="10:00:05")
    assert chains(a, change([b], lambda _: True, plate="QO2=11I")[0]) == []


def test_a_reviewer_can_say_that_two_captures_show_one_vehicle() -> None:
    readings = change(
        pair(first=(87, 689.1), second=(0, 625.8), clock="10:00:05"), lambda _: True, plate=None
    )
    review = record(
        RecordKind.REVIEW, CHECKS_LOG, 5, capture="C001", reviewer="RV-1", same_vehicle_as="C002"
    )
    only(chains(*readings, more=[review]), Outcome.QUERY)


@pytest.mark.parametrize("direction", ["receding", None])
def test_the_direction_says_which_way_the_range_should_change(direction: str | None) -> None:
    found = chains(
        *pair(first=(70, 181), second=(70, 118.4), clock="10:00:02", direction=direction)
    )
    assert [one.outcome for one in found] == [Outcome.QUERY if direction else Outcome.PASS]


def test_the_cosine_is_said_and_nothing_added_back() -> None:
    found = only(said(reading(1, "10:00:05", range_m=100)), Outcome.PASS)
    assert found.measured == [pytest.approx(0.996945, abs=1e-6)] * 2
    assert "nothing is added back" in found.sentence


def test_a_range_shorter_than_the_sites_offset_is_a_query() -> None:
    found = only(said(reading(1, "10:00:05", range_m=7)), Outcome.QUERY)
    assert "nearer than the site's offset of 5 m and height of 6 m allow" in found.sentence


def test_without_the_sites_offset_the_factor_is_not_determinable() -> None:
    records = change(clean_records(1), is_a(RecordKind.SITE), offset_m=None)
    assert not only(findings("14", records), Outcome.NOT_DETERMINABLE).adverse


def test_a_day_without_ranges_has_nothing_of_this_kind() -> None:
    (found,) = findings("14", [])
    assert found.outcome is Outcome.NOT_APPLICABLE
    assert found.sentence == "Geometry: nothing of this kind is on record."
