"""Days on which nothing is wrong: nothing may be adverse."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from evidpack.model.day import Clock, Day
from evidpack.model.fields import RecordKind
from evidpack.model.values import JsonValue
from tests.checks.days import (
    GENERAL,
    KMH,
    MPH,
    Record,
    change,
    clean_day,
    clean_records,
    day_of,
    is_a,
    run_checks,
    still,
    with_clocks,
)

TIMES = {"time", "opinion_time", "reference_time", "start", "end", "signed"}


def moved(records: list[Record], by: timedelta, *, utc: bool = False) -> list[Record]:
    """Everything later by so much, written in UTC or as it was."""

    def shift(value: JsonValue) -> JsonValue:
        later = datetime.fromisoformat(str(value)) + by
        return (later.astimezone(UTC) if utc else later).isoformat()

    return [
        replace(
            one,
            values={
                name: shift(value) if name in TIMES else value for name, value in one.values.items()
            },
        )
        for one in records
    ]


def night_of_the_clock_change() -> Day:
    """A session over 25 October 2026, 00:00Z to 02:00Z, stamped by clocks that keep UTC."""
    start = datetime(2026, 10, 24, 23, 30, tzinfo=UTC) - datetime(2026, 5, 14, 8, 0, tzinfo=UTC)
    day = day_of(moved(clean_records(), start, utc=True), day=date(2026, 10, 25))
    utc = {name: Clock(name=name, zone="UTC", resolution_s=1.0) for name in ("meter", "camera")}
    return with_clocks(day, **utc)


def over_midnight() -> Day:
    records = moved(clean_records(), timedelta(hours=13, minutes=58))
    return replace(day_of(records), now=datetime(2026, 5, 15, 9, tzinfo=UTC))


def two_cameras() -> Day:
    second = [
        change(
            [
                still(
                    n,
                    f"10:0{n - 1}:05",
                    path=f"export/b/{n}.jpg",
                    camera_serial="ZZ-2",
                    image_number=7 + n,
                    counter="rear",
                )
            ],
            lambda _: True,
            clock="rear",
        )[0]
        for n in (1, 2)
    ]
    checks = change(
        [
            one
            for one in clean_records()
            if one.values.get("clock") == "camera" and one.kind is RecordKind.CLOCK_CHECK
        ],
        lambda _: True,
        clock="rear",
    )
    day = with_clocks(
        day_of([*clean_records(), *second, *checks]),
        rear=Clock(name="rear", zone="Europe/London", resolution_s=0.1),
    )
    counters = {
        **day.description.counters,
        "rear": replace(day.description.counters["image"], name="rear"),
    }
    return replace(day, description=replace(day.description, counters=counters))


def calibrated_on_the_last_day_that_counts() -> Day:
    return day_of(
        change(
            clean_records(),
            is_a(RecordKind.CERTIFICATE, certificate="calibration"),
            calibrated="2025-05-14",
        )
    )


DAYS = {
    "one capture": clean_day(1),
    "forty captures": clean_day(40),
    "night of the clock change": night_of_the_clock_change(),
    "over midnight": over_midnight(),
    "two cameras": two_cameras(),
    "last day of cover": calibrated_on_the_last_day_that_counts(),
}


@pytest.mark.parametrize("rules", [GENERAL, MPH, KMH], ids=lambda one: one.name)
@pytest.mark.parametrize("name", DAYS)
def test_nothing_is_adverse_on_a_clean_day(name: str, rules) -> None:
    found = run_checks(DAYS[name], rules)
    assert [f"{one.check}: {one.sentence}" for one in found if one.adverse] == []
