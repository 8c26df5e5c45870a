"""Records that contradict each other or themselves, and values that can't be."""

from __future__ import annotations

from dataclasses import replace

import pytest

from evidpack.model.fields import RecordKind
from evidpack.model.findings import Outcome
from evidpack.model.records import Source
from evidpack.model.values import JsonValue
from tests.checks.days import (
    CHECKS_LOG,
    Record,
    adverse,
    calibration,
    change,
    clean_records,
    device_tests,
    drop,
    findings,
    is_a,
    only,
    reading,
    record,
)
from tests.checks.test_second_speed import mark
from tests.checks.test_site import order

TWICE = [RecordKind.SESSION, RecordKind.METER, RecordKind.OPERATOR, RecordKind.SITE]


def again(kind: RecordKind, **values: JsonValue) -> list[Record]:
    """A clean day and one of its records once more, changed."""
    records = clean_records(1)
    (first,) = (one for one in records if one.kind is kind)
    second = replace(first, source=Source(path=first.source.path, line=999))
    return [*records, *change([second], lambda one: True, **values)]


@pytest.mark.parametrize("kind", TWICE)
def test_the_same_thing_told_twice_alike_is_no_contradiction(kind: RecordKind) -> None:
    assert adverse(again(kind)) == []


@pytest.mark.parametrize(
    ("kind", "values", "subject", "field"),
    [
        (RecordKind.METER, {"firmware": "2.4.2"}, "meter TX-004711", "firmware"),
        (RecordKind.METER, {"serial": "tx 004711", "type": "TY"}, "meter TX-004711", "type"),
        (RecordKind.SITE, {"limit_mph": 50}, "site BR-7", "limit_mph"),
        (RecordKind.SITE, {"height_m": None}, "site BR-7", "height_m"),
        (RecordKind.OPERATOR, {"name": "Another Name"}, "operator OP-3", "name"),
        (RecordKind.SESSION, {"site": "BR-8"}, "session S1", "site"),
    ],
)
def test_two_records_of_one_thing_that_differ_are_a_query(
    kind: RecordKind, values: dict[str, JsonValue], subject: str, field: str
) -> None:
    found = only(
        [one for one in findings("18", again(kind, **values)) if one.subject == subject],
        Outcome.QUERY,
    )
    assert f"say different things: {field}." in found.sentence


@pytest.mark.parametrize("limit", [39, 41])
def test_two_orders_in_force_with_different_limits_are_a_query(limit: float) -> None:
    records = change(clean_records(1), is_a(RecordKind.READING), limit_mph=40)
    second = order(number="TO-13", limit_mph=limit)
    found = only(findings("15", [*records, order(), second]), Outcome.QUERY)
    assert found.subject == "session S1"
    assert f"TO-12 40 mph, TO-13 {limit} mph" in found.sentence
    same = [*records, order(), order(number="TO-13")]
    assert Outcome.QUERY not in {one.outcome for one in findings("15", same)}
    over = [*records, order(), order(number="TO-13", limit_mph=limit, until="2026-05-13")]
    assert Outcome.QUERY not in {one.outcome for one in findings("15", over)}


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"issued": "2025-11-02"}, "issued on 2025-11-02, before the calibration of 2025-11-03"),
        ({"valid_until": "2025-11-02"}, "valid until 2025-11-02, before the calibration"),
        ({"tolerance_low_mph": 2}, "a tolerance from 2 mph to 1 mph"),
        ({"speed_uncertainty_mph": -0.3}, "an uncertainty of -0.3 mph"),
    ],
)
def test_a_certificate_that_contradicts_itself_is_a_query_and_not_decided_by(
    values: dict[str, JsonValue], words: str
) -> None:
    records = [
        *drop(clean_records(1), is_a(RecordKind.CERTIFICATE, certificate="calibration")),
        calibration(**values),
    ]
    found = findings("2b", records)
    assert words in only(found, Outcome.QUERY).sentence
    assert not [one for one in found if "is a pass against" in one.sentence]


def test_a_clock_check_with_an_uncertainty_below_0_is_a_query_with_file_and_line() -> None:
    records = change(
        clean_records(1), is_a(RecordKind.CLOCK_CHECK, clock="camera"), uncertainty_s=-0.5
    )
    found = only(findings("6", records), Outcome.QUERY)
    assert found.subject == "clock camera"
    assert "2 checks of clock camera state an uncertainty below 0: -0.5 s (office/day.toml:" in (
        found.sentence
    )


@pytest.mark.parametrize("name", ["distance_uncertainty_m", "interval_uncertainty_s"])
def test_marks_with_an_uncertainty_below_0_are_a_query(name: str) -> None:
    records = [*clean_records(1), mark(**{name: -0.1})]
    found = only(findings("12", records), Outcome.QUERY)
    assert "state an uncertainty below 0" in found.sentence
    assert found.measured == -0.1


def dated(day: str, *, typed: bool) -> list[Record]:
    """The set-up self test on another day."""
    tests = [
        replace(
            one,
            source=replace(one.source, path=CHECKS_LOG) if typed else one.source,
            values={**one.values, "time": f"{day}T09:10:00+01:00"},
        )
        if place == 0
        else one
        for place, one in enumerate(device_tests())
    ]
    return [*drop(clean_records(1), is_a(RecordKind.DEVICE_TEST)), *tests]


@pytest.mark.parametrize("day", ["1999-05-14", "2025-05-14", "2026-05-11"])
def test_a_test_before_the_meter_was_there_does_not_count(day: str) -> None:
    """Typed, it is adverse here; stamped by a clock, check 6 says that its date is wrong."""
    records = dated(day, typed=True)
    found = only(findings("4", records), Outcome.NOT_DETERMINABLE)
    assert found.adverse
    assert f"are dated {day}, days away from the day: self." in found.sentence
    stamped = dated(day, typed=False)
    assert not only(findings("4", stamped), Outcome.NOT_DETERMINABLE).adverse
    assert [one.check for one in adverse(stamped)] == ["6"]


def test_a_test_of_the_day_before_still_counts() -> None:
    assert adverse(dated("2026-05-13", typed=True)) == []


def test_tests_that_are_all_dated_wrongly_are_named_and_not_called_absent() -> None:
    tests = change(device_tests(), lambda one: True, time="1999-01-01T09:00:00+00:00")
    typed = [replace(one, source=replace(one.source, path=CHECKS_LOG)) for one in tests]
    records = [*drop(clean_records(1), is_a(RecordKind.DEVICE_TEST)), *typed]
    before, after = findings("4", records)
    assert "dated 1999-01-01" in before.sentence
    assert after.outcome is Outcome.FAIL


@pytest.mark.parametrize("number", [100, -1, 102])
def test_a_log_that_names_another_image_than_the_still_is_a_query(number: int) -> None:
    records = change(
        clean_records(2), is_a(RecordKind.READING, capture="C001"), image_number=number
    )
    found = only(findings("8", records), Outcome.QUERY)
    assert found.sentence == (f"The log notes image {number} for capture 1, whose stills bear 101.")


def test_a_capture_with_two_stills_names_one_of_them() -> None:
    from tests.checks.days import still

    second = still(1, "10:00:05", path="export/stills/C001_102.jpg", image_number=102)
    records = change(clean_records(1), is_a(RecordKind.REPORT), image_last=102)
    assert Outcome.QUERY not in {one.outcome for one in findings("8", [*records, second])}
    changed = change([*records, second], is_a(RecordKind.READING), image_number=103)
    assert "whose stills bear 101–102" in only(findings("8", changed), Outcome.QUERY).sentence


def test_a_frame_number_below_0_is_a_query() -> None:
    path = "export/video/V1.mp4"
    clip = record(RecordKind.CLIP, path, None, path=path, joined="session", captures=[])
    frames = [
        record(RecordKind.FRAME_TIME, "export/video/frames.csv", n + 3, clip="V1.mp4", frame=n,
               time=f"2026-05-14T10:00:00.{(n + 1) * 4:02d}+01:00")
        for n in range(-1, 20)
    ]  # fmt: skip
    found = only(findings("9", [clip, *frames]), Outcome.QUERY)
    assert "below 0, the first is -1" in found.sentence


def test_impossible_readings_name_the_capture() -> None:
    records = [*clean_records(1), reading(2, "10:01:05", speed=-71, range_m=-180.0)]
    found = {one.sentence for one in findings("10", records) if one.outcome is Outcome.FAIL}
    assert "Capture 2 was measured at -180 m, outside 20 to 1000 m." in found
    assert any(one.startswith("Capture 2 shows -71 mph") for one in found)
