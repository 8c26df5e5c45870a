from __future__ import annotations

import os
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from importlib import resources
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.intake.zones import UnknownZoneError, load_zone, resolve, stamper
from evidpack.model.stamps import StampStatus

ZONES = ("Europe/London", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu", "UTC")


def _local(text: str) -> datetime:
    return datetime.fromisoformat(text)


# tzdata 2026.6, PEP 495: fold 0 is the earlier instant.
def test_an_hour_that_comes_twice_keeps_both_instants() -> None:
    stamp = resolve(_local("2026-10-25T01:30:00"), load_zone("Europe/London"))
    assert stamp.status is StampStatus.AMBIGUOUS
    assert [instant.astimezone(UTC).isoformat() for instant in stamp.instants] == [
        "2026-10-25T00:30:00+00:00",
        "2026-10-25T01:30:00+00:00",
    ]
    assert stamp.determined is None


def test_an_hour_that_the_clock_jumped_over_has_no_instant() -> None:
    stamp = resolve(_local("2026-03-29T01:30:00"), load_zone("Europe/London"))
    assert stamp.status is StampStatus.NONEXISTENT
    assert stamp.instants == ()
    assert stamp.to_json() == {
        "local": "2026-03-29T01:30:00",
        "status": "nonexistent",
        "instants": [],
    }


@pytest.mark.parametrize(
    ("local", "status"),
    [
        ("2026-03-29T00:59:59.999999", StampStatus.DETERMINED),
        ("2026-03-29T01:00:00", StampStatus.NONEXISTENT),
        ("2026-03-29T01:59:59.999999", StampStatus.NONEXISTENT),
        ("2026-03-29T02:00:00", StampStatus.DETERMINED),
        ("2026-10-25T00:59:59.999999", StampStatus.DETERMINED),
        ("2026-10-25T01:00:00", StampStatus.AMBIGUOUS),
        ("2026-10-25T01:59:59.999999", StampStatus.AMBIGUOUS),
        ("2026-10-25T02:00:00", StampStatus.DETERMINED),
    ],
)
def test_the_edges_of_a_clock_change_are_exact(local: str, status: StampStatus) -> None:
    zone = load_zone("Europe/London")
    assert resolve(_local(local), zone).status is status
    assert stamper(zone)(_local(local)).status is status


def test_a_clock_whose_zone_nobody_knows_gives_no_instant() -> None:
    stamp = resolve(_local("2026-05-14T09:00:00"), load_zone(""))
    assert (stamp.status, stamp.instants) == (StampStatus.NO_ZONE, ())


def test_a_fixed_offset_and_utc_are_determined() -> None:
    noon = _local("2026-05-14T12:00:00")
    assert resolve(noon, load_zone("+05:45")).to_json() == "2026-05-14T12:00:00+05:45"
    assert resolve(noon, load_zone("-00:00")).to_json() == "2026-05-14T12:00:00+00:00"
    assert resolve(noon, load_zone("UTC")).to_json() == "2026-05-14T12:00:00+00:00"


@pytest.mark.parametrize(
    "name",
    ["Europe/Lodnon", "../../etc/passwd", "/etc/localtime", "Europe/../Europe/London", "+25:00",
     "+1:00", "tzdata.zi", "Europe", "europe london", "zone.tab", "\0", "CON"],
)  # fmt: skip
def test_what_is_no_zone_is_refused(name: str) -> None:
    with pytest.raises(UnknownZoneError):
        load_zone(name)


def _slow(local: datetime, name: str) -> tuple[StampStatus, list[datetime]]:
    """The slow reference: the instants whose local time in the zone is this one, found by trying
    every offset that the zone has near it."""
    with resources.files("tzdata").joinpath("zoneinfo", *name.split("/")).open("rb") as stream:
        zone = ZoneInfo.from_file(stream)
    offsets = {
        (local.replace(tzinfo=UTC) + timedelta(hours=hours)).astimezone(zone).utcoffset()
        for hours in range(-36, 37)
    }
    found = sorted(
        instant
        for offset in offsets
        if offset is not None
        for instant in [(local - offset).replace(tzinfo=UTC)]
        if instant.astimezone(zone).replace(tzinfo=None, fold=0) == local
    )
    kinds = (StampStatus.NONEXISTENT, StampStatus.DETERMINED, StampStatus.AMBIGUOUS)
    return kinds[len(found)], found


_around_changes = st.sampled_from(
    [_local(day) for day in ("2026-03-29", "2026-10-25", "2026-03-08", "2026-11-01", "2026-04-05",
                             "2026-10-04", "2026-07-01")]
)  # fmt: skip


@given(st.sampled_from(ZONES), _around_changes, st.integers(-86_400_000_000, 2 * 86_400_000_000))
def test_the_quick_way_says_what_the_slow_one_says(
    name: str, day: datetime, microseconds: int
) -> None:
    local = day + timedelta(microseconds=microseconds)
    status, instants = _slow(local, name)
    quick = stamper(load_zone(name))
    # Asked twice, since the second answer comes from what was remembered.
    for stamp in (resolve(local, load_zone(name)), quick(local), quick(local)):
        assert stamp.status is status
        assert list(stamp.instants) == instants
        assert stamp.local == local


@pytest.fixture
def elsewhere() -> Iterator[None]:
    before = os.environ.get("TZ")
    os.environ["TZ"] = "Pacific/Auckland"
    time.tzset()
    yield
    if before is None:
        del os.environ["TZ"]
    else:
        os.environ["TZ"] = before
    time.tzset()


@pytest.mark.usefixtures("elsewhere")
def test_the_zone_of_the_machine_makes_no_difference() -> None:
    assert time.timezone != 0
    stamp = resolve(_local("2026-05-14T09:00:00"), load_zone("Europe/London"))
    assert stamp.to_json() == "2026-05-14T09:00:00+01:00"
