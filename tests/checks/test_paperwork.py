"""Checks 1 and 2: the certificate is for this meter, and in date."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.checks.certificate_lookup import plain
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Outcome
from tests.checks.days import (
    METER,
    Record,
    adverse,
    at,
    calibration,
    change,
    clean_records,
    device_tests,
    drop,
    findings,
    is_a,
    only,
    record,
)

CALIBRATION = is_a(RecordKind.CERTIFICATE, certificate="calibration")


def with_calibration(*certificates: Record) -> list[Record]:
    return [*drop(clean_records(2), CALIBRATION), *certificates]


@pytest.mark.parametrize("serial", [METER, "tx004711", "TX 004711", " tx-004711 ", "Tx–004711"])
def test_case_spaces_and_hyphens_are_ignored(serial: str) -> None:
    found = only(findings("1", with_calibration(calibration(serial=serial))), Outcome.PASS)
    assert found.subject == f"meter {METER}"
    assert "serial, type, firmware agree" in found.sentence


@pytest.mark.parametrize("serial", ["TX-04711", "TX-4711", "TX-004711-1", "TX-004712", "TX.004711"])
def test_zeros_and_other_signs_are_not_ignored(serial: str) -> None:
    found = only(findings("1", with_calibration(calibration(serial=serial))), Outcome.FAIL)
    assert found.measured == [serial]
    assert found.limit == METER
    assert f"for meter {METER}, which was used: certificate CAL-0815 is for {serial}." in (
        found.sentence
    )
    assert found.adverse
    assert found.undermines


@given(
    st.text(alphabet="AB01- ", min_size=1, max_size=8),
    st.text(alphabet="AB01- ", min_size=1, max_size=8),
)
def test_equal_serials_differ_in_nothing_but_case_spaces_and_hyphens(a: str, b: str) -> None:
    slow = [one for one in a.lower() if one not in " -"] == [
        one for one in b.lower() if one not in " -"
    ]
    assert (plain(a) == plain(b)) is slow


def test_no_certificate_is_not_determinable_and_never_a_pass() -> None:
    found = findings("1", with_calibration())
    assert [one.outcome for one in found] == [Outcome.NOT_DETERMINABLE]
    assert found[0].adverse
    assert "calibration_certificate is required by rule set general" in str(found[0].source)


@pytest.mark.parametrize("number", ["2", "2b"])
def test_a_certificate_that_is_missing_or_for_another_serial_is_adverse_once(number: str) -> None:
    """Check 1 says so; what else wanted a certificate points at it and is not adverse again."""
    for records in (with_calibration(calibration(serial="TX-04711")), with_calibration()):
        found = only(findings(number, records), Outcome.NOT_DETERMINABLE)
        assert not found.adverse
        assert found.source == "check 1 says what is missing"
        assert [one.check for one in adverse(records)] == ["1"]


def test_the_certificate_of_one_meter_is_no_wrong_one_for_the_other() -> None:
    second = change(
        [one for one in clean_records(1) if one.kind is RecordKind.SESSION],
        is_a(RecordKind.SESSION),
        id="S2",
        meter="TX-004712",
    )
    found = findings("1", [*clean_records(1), *second])
    assert only(found, Outcome.NOT_DETERMINABLE).subject == "meter TX-004712"


def test_a_day_without_sessions_is_not_determinable() -> None:
    only(findings("1", []), Outcome.NOT_DETERMINABLE)


@pytest.mark.parametrize(
    ("field", "value"), [("type", "TY laser"), ("firmware", "2.4.2"), ("firmware", "24.1")]
)
def test_another_type_or_firmware_fails(field: str, value: str) -> None:
    found = only(findings("1", with_calibration(calibration(**{field: value}))), Outcome.FAIL)
    assert (found.limit, field in found.sentence) == (value, True)


@pytest.mark.parametrize(
    "records",
    [
        with_calibration(calibration(firmware=None)),
        change(clean_records(2), is_a(RecordKind.METER), firmware=None),
    ],
)
def test_an_unknown_firmware_is_not_determinable_but_not_required(records: list[Record]) -> None:
    found = only(findings("1", records), Outcome.NOT_DETERMINABLE)
    assert "firmware" in found.sentence
    assert not found.adverse


def test_readings_that_name_another_meter_fail_by_capture_number() -> None:
    records = change(clean_records(4), is_a(RecordKind.READING, capture="C002"), meter="TX-000001")
    found = only(findings("1", records), Outcome.FAIL)
    assert "for capture 2, but session S1" in found.sentence


def test_device_tests_on_another_meter_fail() -> None:
    base = drop(clean_records(1), is_a(RecordKind.DEVICE_TEST))
    records = [
        *base,
        *change(device_tests(), is_a(RecordKind.DEVICE_TEST, test="zero"), meter="TX-9"),
    ]
    assert "on meter TX-9" in only(findings("1", records), Outcome.FAIL).sentence


@pytest.mark.parametrize(
    ("calibrated", "outcome"),
    [
        ("2026-05-14", Outcome.PASS),
        ("2025-05-14", Outcome.PASS),
        ("2025-05-13", Outcome.FAIL),
        ("2026-05-15", Outcome.FAIL),
        ("2020-02-29", Outcome.FAIL),
        (None, Outcome.NOT_DETERMINABLE),
    ],
)
def test_twelve_months_from_the_day_of_calibration(
    calibrated: str | None, outcome: Outcome
) -> None:
    """Victoria Road Safety (General) Regulations 1999: tested within 12 months."""
    found = findings("2", with_calibration(calibration(calibrated=calibrated)))
    assert [one.outcome for one in found] == [outcome]


def test_an_end_that_the_certificate_states_counts_where_it_is_earlier() -> None:
    found = only(
        findings("2", with_calibration(calibration(valid_until="2026-05-13"))), Outcome.FAIL
    )
    assert "until 2026-05-13" in found.sentence
    later = findings(
        "2", with_calibration(calibration(calibrated="2025-05-13", valid_until="2027-01-01"))
    )
    assert later[0].outcome is Outcome.FAIL


def test_a_session_over_midnight_has_to_be_covered_on_both_days() -> None:
    records = change(
        with_calibration(calibration(calibrated="2025-05-14")),
        is_a(RecordKind.SESSION),
        end="2026-05-15T01:00:00+01:00",
    )
    assert "ended on 2026-05-15" in only(findings("2", records), Outcome.FAIL).sentence


def test_the_latest_calibration_before_the_session_counts() -> None:
    old, new, later = (
        calibration(number=f"CAL-{day}", calibrated=day)
        for day in ("2024-01-01", "2026-01-01", "2026-06-01")
    )
    found = only(findings("2", with_calibration(later, old, new)), Outcome.PASS)
    assert "CAL-2026-01-01" in found.sentence


def event(day: str, what: str = "repair", meter: str = METER) -> Record:
    return record(
        RecordKind.METER_EVENT, "office/unit/meters.toml", 5, meter=meter, date=day, event=what
    )


def test_a_repair_is_said_even_where_the_calibration_is_too_old() -> None:
    records = change(
        clean_records(1), is_a(RecordKind.CERTIFICATE, certificate="calibration"),
        calibrated="2025-01-03",
    )  # fmt: skip
    found = [one for one in findings("2", [*records, event("2026-02-01")]) if one.adverse]
    assert [one.outcome for one in found] == [Outcome.FAIL, Outcome.FAIL]
    assert "covered meter" in found[0].sentence
    assert "was repaired on 2026-02-01" in found[1].sentence
    assert "no source" in (found[1].source or "")


@pytest.mark.parametrize(
    ("one", "outcome"),
    [
        (event("2026-01-02"), Outcome.FAIL),
        (event("2026-01-02", "tamper-seal-broken"), Outcome.FAIL),
        (event("2026-01-02", "firmware-changed"), Outcome.QUERY),
        (event("2025-11-03"), Outcome.QUERY),
        (event("2026-05-14"), Outcome.QUERY),
        (event("2025-11-02"), Outcome.PASS),
        (event("2026-05-15"), Outcome.PASS),
        (event("2026-01-02", meter="TX-000002"), Outcome.PASS),
    ],
)
def test_repairs_and_broken_seals_since_the_calibration(one: Record, outcome: Outcome) -> None:
    found = findings("2", [*clean_records(1), one])
    assert [each.outcome for each in found] == [outcome]


def test_two_certificates_of_one_number_that_contradict_each_other_are_a_query() -> None:
    found = findings("2", with_calibration(calibration(), calibration(calibrated="2025-12-01")))
    assert "contradict each other" in only(found, Outcome.QUERY).sentence


def test_a_session_without_dates_is_not_determinable() -> None:
    records = change(clean_records(1), is_a(RecordKind.SESSION), start=None)
    only(findings("2", records), Outcome.NOT_DETERMINABLE)


def test_the_zone_in_which_stamps_are_written_does_not_matter() -> None:
    records = change(
        clean_records(1), is_a(RecordKind.SESSION), start=at("09:00:00"), end=at("11:00:00")
    )
    assert [one.outcome for one in findings("2", records)] == [Outcome.PASS]
