"""Recorded times read once, and shown to a person."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.checks.displays import display_step, finest_step
from evidpack.checks.times import (
    add_days,
    add_months,
    clock_text,
    duration_text,
    local_date,
    read_instant,
    read_moment,
    utc_text,
)
from evidpack.model.stamps import StampStatus

AMBIGUOUS = {
    "local": "2026-10-25T01:30:00",
    "status": "ambiguous",
    "instants": ["2026-10-25T01:30:00+01:00", "2026-10-25T01:30:00+00:00"],
}


def test_an_ambiguous_stamp_is_the_middle_of_both_and_half_an_hour_wide() -> None:
    """PEP 495, tzdata: 00:30Z or 01:30Z."""
    moment = read_moment(AMBIGUOUS)
    assert moment is not None
    assert moment.at_s == datetime(2026, 10, 25, 1, 0, tzinfo=UTC).timestamp()
    assert moment.half_width_s == 1800
    assert read_instant(AMBIGUOUS) == (moment.at_s, 1800)


@pytest.mark.parametrize("status", ["no zone", "nonexistent"])
def test_a_stamp_that_names_no_instant_keeps_its_face(status: str) -> None:
    moment = read_moment({"local": "2026-03-29T01:30:00", "status": status, "instants": []})
    assert moment is not None
    assert moment.at_s is None
    assert moment.status is StampStatus(status)
    assert moment.local == datetime(2026, 3, 29, 1, 30)


@pytest.mark.parametrize("value", [3, ["2026"], {"local": "x"}, "not a time"])
def test_what_is_no_stamp_is_refused(value) -> None:
    with pytest.raises(ValueError):
        read_moment(value)
    assert read_moment(None) is None


@given(st.datetimes(datetime(1970, 1, 2), datetime(2100, 1, 1)), st.integers(-14, 14))
def test_the_zone_a_stamp_is_written_in_does_not_change_its_instant(
    local: datetime, hours: int
) -> None:
    here = local.replace(tzinfo=UTC)
    there = here.astimezone(timezone(timedelta(hours=hours)))
    assert read_instant(here.isoformat())[0] == read_instant(there.isoformat())[0]


def test_times_are_shown_as_recorded_with_their_offset() -> None:
    moment = read_moment("2026-05-14T10:03:05.25+01:00")
    assert moment is not None
    assert clock_text(moment) == "10:03:05.25+01:00"
    assert utc_text(moment.at_s or 0) == "2026-05-14T09:03:05Z"
    assert utc_text(1e15) == "1000000000000000 s from 1970"


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "0 s"),
        (12.5, "12.5 s"),
        (-90, "90 s"),
        (150, "2 min 30 s"),
        (3602, "1 h 0 min 2 s"),
        (180_000, "2 days 2 h"),
    ],
)
def test_durations_are_said_in_words(seconds: float, text: str) -> None:
    assert duration_text(seconds) == text


def test_dates_stop_at_the_ends_of_the_calendar() -> None:
    assert add_days(date(9999, 12, 30), 40) == date.max
    assert add_days(date(1, 1, 2), -40) == date.min
    assert add_months(date(9999, 6, 1), 12) == date.max
    assert local_date(1e15, UTC) is None


@pytest.mark.parametrize(
    ("shown", "step"), [(71, 1.0), (71.0, 1.0), (71.5, 0.1), (0.25, 0.01), (-3.125, 0.001)]
)
def test_the_step_of_a_display_is_told_from_its_decimals(shown: float, step: float) -> None:
    assert display_step(shown) == pytest.approx(step)


def test_the_finest_number_shown_tells_the_step_of_them_all() -> None:
    assert finest_step([120, 120.4, 99.0]) == pytest.approx(0.1)
    assert finest_step([]) == 1.0
