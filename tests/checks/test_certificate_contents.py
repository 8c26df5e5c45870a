"""Checks 2b and 2c: what the certificate says, and what the next one found."""

from __future__ import annotations

import pytest

from evidpack.model.fields import RecordKind
from evidpack.model.findings import Outcome
from tests.checks.days import (
    GENERAL,
    KMH,
    Record,
    calibration,
    clean_records,
    day_of,
    drop,
    findings,
    is_a,
    only,
    run_checks,
)

CALIBRATION = is_a(RecordKind.CERTIFICATE, certificate="calibration")


def said(*certificates: Record, number: str = "2b", rules=GENERAL):
    return findings(number, [*drop(clean_records(1), CALIBRATION), *certificates], rules)


@pytest.mark.parametrize(
    "field", ["laboratory", "traceability", "conditions", "method", "calibrated"]
)
def test_a_field_that_is_missing_is_a_query_that_names_it(field: str) -> None:
    """ISO/IEC 17025:2017 7.8.4."""
    found = only(said(calibration(**{field: None})), Outcome.QUERY)
    assert found.sentence == f"Certificate CAL-0815 does not state: {field}."


def test_a_complete_certificate_in_tolerance_passes_twice() -> None:
    assert [one.outcome for one in said(calibration())] == [Outcome.PASS, Outcome.PASS]


@pytest.mark.parametrize(
    ("error", "outcome", "words"),
    [
        (0.7, Outcome.PASS, "a pass"),
        (0.8, Outcome.QUERY, "conditional pass"),
        (1.2, Outcome.QUERY, "conditional fail"),
        (1.4, Outcome.FAIL, "a fail"),
        (-1.6, Outcome.PASS, "a pass"),
        (-1.8, Outcome.QUERY, "conditional pass"),
        (-2.2, Outcome.QUERY, "conditional fail"),
        (-2.4, Outcome.FAIL, "a fail"),
    ],
)
def test_the_four_way_decision_of_the_speed_error(
    error: float, outcome: Outcome, words: str
) -> None:
    """ILAC-G8:09/2019 with U = 0.3 mph; tolerance +1/−2 mph (NHTSA lidar module 2.11)."""
    found = said(calibration(speed_error_mph=error))[-1]
    assert found.outcome is outcome
    assert words in found.sentence
    assert found.measured == error


def test_mph_and_km_h_are_decided_alike() -> None:
    """+1/−2 mph is +2/−3 km/h in the source; a certificate in km/h without tolerance uses it."""
    kmh = calibration(
        speed_error_mph=None,
        speed_uncertainty_mph=None,
        tolerance_low_mph=None,
        tolerance_high_mph=None,
        speed_error_kmh=1.8,
        speed_uncertainty_kmh=0.3,
    )
    found = said(kmh, rules=KMH)[-1]
    assert found.outcome is Outcome.QUERY
    assert (found.unit, "-3 to +2 km/h" in found.sentence) == ("km/h", True)


@pytest.mark.parametrize(
    ("field", "adverse"), [("speed_uncertainty_mph", True), ("speed_error_mph", False)]
)
def test_without_error_or_uncertainty_nothing_is_decided(field: str, adverse: bool) -> None:
    found = only(said(calibration(**{field: None})), Outcome.NOT_DETERMINABLE)
    assert "can't be decided" in found.sentence
    assert found.adverse is adverse


def test_no_certificate_is_not_determinable() -> None:
    only(said(), Outcome.NOT_DETERMINABLE)


def later(**more: float | str | None) -> Record:
    return calibration(number="CAL-0999", calibrated="2026-09-01", **more)


def test_the_next_calibration_in_tolerance_passes() -> None:
    found = only(said(calibration(), later(), number="2c"), Outcome.PASS)
    assert "CAL-0999" in found.sentence


@pytest.mark.parametrize("error", [1.2, 4.0, -2.5])
def test_the_next_calibration_out_of_tolerance_looks_back(error: float) -> None:
    found = only(
        said(calibration(), later(speed_error_found_mph=error), number="2c"), Outcome.QUERY
    )
    assert "every day since 2025-11-03 is concerned" in found.sentence


@pytest.mark.parametrize(
    "more", [(), (later(speed_error_found_mph=None),), (later(speed_uncertainty_mph=None),)]
)
def test_without_an_as_found_result_the_look_back_is_not_determinable(
    more: tuple[Record, ...],
) -> None:
    found = only(said(calibration(), *more, number="2c"), Outcome.NOT_DETERMINABLE)
    assert not found.adverse


def test_at_sealing_the_look_back_does_not_apply() -> None:
    day = day_of([*clean_records(1), later(speed_error_found_mph=9)])
    at_sealing = [one for one in run_checks(day, GENERAL) if one.check == "2c"]
    afterwards = [one for one in run_checks(day, GENERAL, later=True) if one.check == "2c"]
    assert [one.outcome for one in at_sealing] == [Outcome.NOT_APPLICABLE]
    assert [one.outcome for one in afterwards] == [Outcome.QUERY]


def test_an_uncertainty_of_zero_is_none() -> None:
    found = only(said(calibration(speed_uncertainty_mph=0)), Outcome.NOT_DETERMINABLE)
    assert "states an expanded uncertainty of 0 mph, which is none" in found.sentence
    assert found.adverse
