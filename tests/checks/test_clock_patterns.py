"""What wrong times look like."""

from __future__ import annotations

from datetime import date, datetime

import pytest

from evidpack.checks.clock_patterns import epoch_named, offset_pattern


@pytest.mark.parametrize("offset", [3600, -3600, 3600 + 119, -3600 - 119])
def test_an_hour_is_a_missed_clock_change(offset: float) -> None:
    assert "clock change" in str(offset_pattern(offset, 120))


@pytest.mark.parametrize(
    ("offset", "zone"),
    [
        (7200, "+02:00"),
        (-5 * 3600, "−05:00"),
        (5.5 * 3600 + 30, "+05:30"),
        (5.75 * 3600, "+05:45"),
        (14 * 3600, "+14:00"),
    ],
)
def test_whole_quarter_hours_are_another_zone(offset: float, zone: str) -> None:
    assert zone in str(offset_pattern(offset, 120))


@pytest.mark.parametrize("offset", [0, 12, -119, 1200, 4000, 15 * 3600 + 300])
def test_other_offsets_have_no_pattern(offset: float) -> None:
    assert offset_pattern(offset, 120) is None


def test_whole_days_are_a_wrong_date() -> None:
    assert "date" in str(offset_pattern(-3 * 86_400 + 20, 120))


@pytest.mark.parametrize(
    ("local", "words"),
    [
        (datetime(1970, 1, 1, 0, 7), "Unix"),
        (datetime(1980, 1, 6, 3), "GPS"),
        (datetime(2000, 1, 20), "2000"),
        (datetime(2006, 9, 28, 12), "1,024 weeks"),
    ],
)
def test_a_lost_date_is_named(local: datetime, words: str) -> None:
    assert words in str(epoch_named(local, date(2026, 5, 14)))


@pytest.mark.parametrize(
    "local", [datetime(2026, 4, 1), datetime(1975, 5, 5), datetime(2016, 5, 14)]
)
def test_another_date_is_not_named(local: datetime) -> None:
    assert epoch_named(local, date(2026, 5, 14)) is None
