"""Checks 11 and 13: data strips, EXIF, reviewers."""

from __future__ import annotations

import pytest

from evidpack.model.day import Clock
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding, Outcome
from evidpack.model.values import JsonValue
from tests.checks.days import (
    CHECKS_LOG,
    Record,
    at,
    change,
    clean_records,
    day_of,
    drop,
    findings,
    is_a,
    only,
    record,
    seconds_later,
    still,
    with_clocks,
)

STILL = is_a(RecordKind.STILL)


def strip(number: int = 1, **more: JsonValue) -> Record:
    values: dict[str, JsonValue] = {
        "still": f"C{number:03d}_{100 + number}.jpg",
        "speed_mph": 71,
        "range_m": 180.0 + number,
        "time": at(f"10:0{number - 1}:05"),
        "site": "BR-7",
        **more,
    }
    kept = {name: value for name, value in values.items() if value is not None}
    return record(RecordKind.DATA_STRIP, CHECKS_LOG, 60 + number, **kept)


def strips(*made: Record, records: list[Record] | None = None) -> list[Finding]:
    base = clean_records(1) if records is None else records
    return [one for one in findings("11", [*base, *made]) if "strip" in one.sentence]


def test_a_strip_that_repeats_the_record_passes() -> None:
    """French order of 4 June 2009: image data repeats the display exactly."""
    assert [one.outcome for one in strips(strip())] == [Outcome.PASS]


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"speed_mph": 72}, "shows speed 72 mph, the record 71 mph"),
        ({"speed_mph": 71.5}, "shows speed 71.5 mph"),
        ({"range_m": 182.0}, "shows range 182 m, the record 181 m"),
        ({"time": at("10:00:06")}, "shows time 10:00:06+01:00"),
        ({"site": "BR-8"}, "shows site BR-8, the record BR-7"),
    ],
)
def test_each_field_that_differs_fails_by_name(more: dict[str, JsonValue], words: str) -> None:
    # a strip of finer step than the log may differ by less than the log's step: here it is 1
    if more.get("speed_mph") == 71.5:
        records = change(clean_records(1), is_a(RecordKind.READING), speed_mph=71.4)
        assert words in strips(strip(**more), records=records)[0].sentence
        return
    found = strips(strip(**more))
    assert [one.outcome for one in found] == [Outcome.FAIL]
    assert words in found[0].sentence


@pytest.mark.parametrize(
    "more", [{"range_m": None}, {"time": None}, {"site": "Thistlemoor Bridge"}, {"site": "br 7"}]
)
def test_a_field_that_the_strip_lacks_or_spells_otherwise_is_no_difference(
    more: dict[str, JsonValue],
) -> None:
    assert only(strips(strip(**more)), Outcome.PASS).subject == "capture 1"
    assert not [one for one in strips(strip(**more)) if one.adverse]


def test_a_field_that_the_strip_lacks_is_said_to_be_not_compared() -> None:
    found = only(strips(strip(range_m=None, speed_mph=71)), Outcome.NOT_DETERMINABLE)
    assert "The range in the data strip is not on record for capture 1" in found.sentence


def test_an_empty_strip_passes_nothing() -> None:
    found = strips(strip(range_m=None, speed_mph=None, time=None, site=None))
    assert {one.outcome for one in found} == {Outcome.NOT_DETERMINABLE}
    assert len(found) == 4


def test_another_unit_is_compared_to_the_coarser_step() -> None:
    ok = strips(strip(speed_mph=None, speed_kmh=114))  # 71 mph = 114.26 km/h
    wrong = strips(strip(speed_mph=None, speed_kmh=116))
    assert [one.outcome for one in (*ok, *wrong)] == [Outcome.PASS, Outcome.FAIL]


def test_a_whole_number_among_tenths_is_a_tenth() -> None:
    """120 beside 120.4 in one log is 120.0: a strip of tenths has to agree to the tenth."""
    records = change(clean_records(2), is_a(RecordKind.READING, capture="C002"), range_m=182.4)
    found = strips(strip(1, range_m=181.4), strip(2, range_m=182.4), records=records)
    assert "shows range 181.4 m, the record 181 m" in only(found, Outcome.FAIL).sentence


@pytest.mark.parametrize(
    ("shown", "outcome"),
    [
        ("2026-10-25T01:30:00+01:00", Outcome.PASS),
        ("2026-10-25T01:30:00+00:00", Outcome.PASS),
        ("2026-10-25T01:30:01+00:00", Outcome.FAIL),
        ("2026-10-25T01:00:00+00:00", Outcome.FAIL),  # the middle of both instants is neither
    ],
)
def test_in_the_hour_that_occurs_twice_a_strip_may_mean_either_instant(
    shown: str, outcome: Outcome
) -> None:
    """PEP 495: Europe/London 2026-10-25 01:30 is 00:30Z or 01:30Z."""
    twice: JsonValue = {
        "local": "2026-10-25T01:30:00",
        "status": "ambiguous",
        "instants": ["2026-10-25T01:30:00+01:00", "2026-10-25T01:30:00+00:00"],
    }
    records = change(clean_records(1), is_a(RecordKind.READING), time=twice)
    assert strips(strip(time=shown), records=records)[0].outcome is outcome


def test_stills_without_a_strip_are_listed_apart() -> None:
    found = only(strips(), Outcome.NOT_DETERMINABLE)
    assert not found.adverse


def times(records: list[Record]) -> list[Finding]:
    return [
        one
        for one in findings("11", records)
        if "their reading" in one.sentence or "its reading" in one.sentence
    ]


@pytest.mark.parametrize(
    ("seconds", "outcome"),
    [(1.5, Outcome.PASS), (3.4, Outcome.PASS), (3.6, Outcome.QUERY), (-60, Outcome.QUERY)],
)
def test_a_still_is_taken_with_its_reading(seconds: float, outcome: Outcome) -> None:
    """2 s and what the clocks leave open: hypot(0.35…0.5) and a step of 1 s."""
    records = change(clean_records(1), STILL, time=seconds_later(at("10:00:04.500"), seconds))
    assert [one.outcome for one in times(records)] == [outcome]


def test_an_exif_time_from_an_uncompared_clock_is_not_determinable() -> None:
    records = drop(clean_records(1), is_a(RecordKind.CLOCK_CHECK, clock="camera"))
    found = only(times(records), Outcome.NOT_DETERMINABLE)
    assert not found.adverse


@pytest.mark.parametrize(
    ("more", "word"),
    [
        ({"camera_serial": "TX-000009"}, "camera serial"),
        ({"width_px": 641}, "pixel size"),
        ({"format": "PNG"}, "format"),
    ],
)
def test_what_changes_within_a_session_is_a_query(more: dict[str, JsonValue], word: str) -> None:
    records = change(clean_records(3), is_a(RecordKind.STILL, capture="C002"), **more)
    found = only(findings("11", records), Outcome.QUERY)
    assert f"The {word} of the stills" in found.sentence


def test_one_still_without_exif_among_others_is_a_query() -> None:
    records = change(clean_records(3), is_a(RecordKind.STILL, capture="C002"), camera_serial=None)
    found = only(findings("11", records), Outcome.QUERY)
    assert found.subject == "capture 2"
    assert "1 of 3 stills of one camera and session bear no camera serial" in found.sentence


def test_stills_that_all_lack_exif_are_no_query() -> None:
    records = change(clean_records(3), STILL, camera_serial=None)
    assert not [one for one in findings("11", records) if one.adverse]


def cameras(serial: str, *, meter: str | None = None) -> list[Finding]:
    records = change(clean_records(2), STILL, camera_serial=serial)
    records = change(records, is_a(RecordKind.METER), camera_serial=meter)
    found = findings("11", records)
    return [one for one in found if ("camera serial" in one.sentence and "constant" not in one.sentence)
            or one.subject == "cameras"]  # fmt: skip


def test_the_camera_is_the_meters() -> None:
    assert "bear the camera serial of meter" in only(cameras("tx 004711"), Outcome.PASS).sentence
    assert only(cameras("CB-7", meter="cb7"), Outcome.PASS).limit == "cb7"


def test_a_camera_that_is_not_the_meters_is_a_query() -> None:
    found = only(cameras("CB-8", meter="CB-7"), Outcome.QUERY)
    assert found.sentence == (
        "The stills of session S1 bear the camera serial CB-8, but the camera of meter TX-004711 is "
        "CB-7."
    )


def test_a_camera_that_nobody_ties_to_the_meter_is_not_determinable() -> None:
    found = only(cameras("CB-8"), Outcome.NOT_DETERMINABLE)
    assert "the meter's record does not state the serial of its camera" in found.sentence
    assert not found.adverse


def test_stills_that_are_all_an_hour_away_are_told_once() -> None:
    records = clean_records(4)
    for n in range(1, 5):
        which = is_a(RecordKind.STILL, capture=f"C{n:03d}")
        records = change(records, which, time=seconds_later(at(f"10:0{n - 1}:05"), 3600.4))
    found = only(times(records), Outcome.QUERY)
    assert found.subject == "captures 1–4"
    assert "were all taken about 3600" in found.sentence
    assert "as if a clock change had been missed or made twice" in found.sentence


def test_a_strip_of_another_day_shows_its_date() -> None:
    found = only(strips(strip(time=at("10:00:05").replace("05-14", "05-13"))), Outcome.FAIL)
    assert "time 2026-05-13 10:00:05+01:00, the record 2026-05-14 10:00:05+01:00" in found.sentence
    assert "86400 s apart" in found.sentence


def test_a_still_that_fits_two_readings_is_compared_with_neither() -> None:
    records = change(
        clean_records(2), is_a(RecordKind.STILL, capture="C001"), joined="doubly matched",
        captures=[1, 2],
    )  # fmt: skip
    assert not [one for one in findings("11", records) if one.adverse]


def test_a_review_before_its_capture_is_a_query() -> None:
    early = record(
        RecordKind.REVIEW, "office/day.toml", 90, capture="C001", reviewer="R. Person",
        time=at("08:00:05"), vehicles=1, on_target=True,
    )  # fmt: skip
    found = only(findings("13", [*clean_records(1), early]), Outcome.QUERY)
    assert "R. Person looked at capture 1 1 h 59 min 59 s before it was taken" in found.sentence


def test_two_cameras_may_differ() -> None:
    other = [
        still(n, "10:00:05", camera_serial="ZZ-1", width_px=800, path=f"export/b{n}.jpg")
        for n in (1, 2)
    ]
    other = change(other, lambda _: True, clock="second")
    day = with_clocks(
        day_of([*clean_records(2), *other]), second=Clock(name="second", zone="UTC", resolution_s=1)
    )
    assert not [one for one in findings("11", day) if "changes" in one.sentence]


def test_a_day_without_stills_does_not_apply() -> None:
    only(findings("11", []), Outcome.NOT_APPLICABLE)


def review(**more: JsonValue) -> Record:
    values: dict[str, JsonValue] = {
        "capture": "C001",
        "reviewer": "RV-1",
        "vehicles": 1,
        "on_target": True,
        **more,
    }
    kept = {name: value for name, value in values.items() if value is not None}
    return record(RecordKind.REVIEW, CHECKS_LOG, 80, **kept)


@pytest.mark.parametrize(
    ("more", "outcome"),
    [
        ({}, Outcome.PASS),
        ({"vehicles": 2}, Outcome.QUERY),
        ({"vehicles": 0}, Outcome.QUERY),
        ({"on_target": False}, Outcome.QUERY),
        ({"vehicles": None}, Outcome.NOT_DETERMINABLE),
        ({"on_target": None}, Outcome.NOT_DETERMINABLE),
    ],
)
def test_what_a_reviewer_saw(more: dict[str, JsonValue], outcome: Outcome) -> None:
    found = findings("13", [*clean_records(1), review(**more)])
    assert [one.outcome for one in found] == [outcome]


def test_captures_that_nobody_reviewed_are_listed_apart() -> None:
    found = findings("13", [*clean_records(3), review()])
    assert only(found, Outcome.PASS).subject == "capture 1"
    assert only(found, Outcome.NOT_DETERMINABLE).subject == "captures 2–3"


def test_a_second_reviewer_who_disagrees_is_heard() -> None:
    found = findings("13", [*clean_records(1), review(), review(reviewer="RV-2", vehicles=3)])
    assert "RV-2 saw 3 vehicles" in only(found, Outcome.QUERY).sentence
