"""On a day with nothing wrong nothing is adverse, and each day is what its name says."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from evidpack.model.fields import RecordKind
from evidpack.model.stamps import StampStatus
from evidpack.sealing.order import Gathered
from tests.faulty.clean import CLEAN
from tests.faulty.conftest import CleanDay


def instants(found: Gathered) -> list[datetime]:
    """When the readings were taken, by their own stamps."""
    stamps = [one.stamp("time") for one in found.intake.day.of(RecordKind.READING)]
    assert all(one is not None and one.status is StampStatus.DETERMINED for one in stamps)
    return sorted(one.instants[0].astimezone(UTC) for one in stamps if one is not None)


@pytest.mark.parametrize("name", CLEAN)
def test_a_clean_day_has_nothing_adverse(name: str, clean_day: CleanDay) -> None:
    found = clean_day(name).findings
    assert [f"{one.check}: {one.sentence}" for one in found if one.adverse] == []
    assert sum(one.outcome.value == "pass" for one in found) > 20


@pytest.mark.parametrize(
    ("name", "change"),
    [
        ("night on which clocks go forward", datetime(2026, 3, 29, 1, tzinfo=UTC)),
        (
            "night on which clocks go back, the meter keeps UTC",
            datetime(2026, 10, 25, 1, tzinfo=UTC),
        ),
        ("over midnight", datetime(2026, 3, 11, 23, tzinfo=UTC)),
    ],
)
def test_readings_lie_on_both_sides_of_the_hour_that_the_day_is_named_for(
    name: str, change: datetime, clean_day: CleanDay
) -> None:
    """Clock-change instants: 01:00 UTC on the last Sundays of March and October (tzdata)."""
    times = instants(clean_day(name))
    assert times[0] < change < times[-1]


def test_the_day_of_two_cameras_has_two(clean_day: CleanDay) -> None:
    day = clean_day("two cameras").intake.day
    stills = day.of(RecordKind.STILL)
    assert {one.text("camera_serial") for one in stills} == {"KL-9-004412", "RK-2-000310"}
    assert {one.text("clock") for one in stills} == {"kamerao", "malantaua"}
    assert len(stills) == 12
    assert all(one.text("joined") not in {"unmatched", None} for one in stills)


def test_the_clean_days_are_those_that_were_asked_for() -> None:
    """Both units, three rule sets, both clock changes, midnight, a bridge, two cameras."""
    assert len(CLEAN) >= 10
    assert {one.rules for one in CLEAN.values()} == {"general", "example_kmh", "example_mph"}
    assert {one.base for one in CLEAN.values()} == {"second", "demo"}
