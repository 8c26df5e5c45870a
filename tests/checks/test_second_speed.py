"""The second speed against the published examples and an independent propagation."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.checks.second_speed import second_speed
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Outcome
from tests.checks.days import (
    CHECKS_LOG,
    Record,
    calibration,
    change,
    clean_records,
    findings,
    is_a,
    only,
    record,
)

MPH = 0.44704


def test_four_gaps_of_five_feet_in_half_a_second() -> None:
    """27.27 mph computed; a parliamentary answer of 20 January 2004 prints 27.2."""
    found = second_speed(4 * 5 * 0.3048, 0.5, 0, 0, 2)
    assert found.speed_mps / MPH == pytest.approx(27.27, abs=5e-3)
    assert found.expanded_mps == 0


def test_ten_metres_in_half_a_second_read_as_standard_uncertainties() -> None:
    """44.74 mph, U(k = 2) = 2.24 mph (computed) for standard uncertainties 0.25 m and 0.001 s."""
    found = second_speed(10, 0.5, 0.25, 0.001, 2)
    assert found.speed_mps / MPH == pytest.approx(44.74, abs=5e-3)
    assert found.expanded_mps / MPH == pytest.approx(2.24, abs=5e-3)


def test_the_same_figures_read_otherwise_give_other_uncertainties() -> None:
    """As k = 2 inputs 1.12, as rectangular half-widths 1.30 mph (computed)."""
    as_expanded = second_speed(10, 0.5, 0.25 / 2, 0.001 / 2, 2)
    as_rectangular = second_speed(10, 0.5, 0.25 / math.sqrt(3), 0.001 / math.sqrt(3), 2)
    assert as_expanded.expanded_mps / MPH == pytest.approx(1.12, abs=5e-3)
    assert as_rectangular.expanded_mps / MPH == pytest.approx(1.30, abs=1e-2)


@pytest.mark.parametrize(
    ("distance", "interval", "u_d", "u_t"),
    [(10, 0.5, 0.25, 0.001), (19.9, 0.5, 0.15, 0.001), (6.1, 0.48, 0.05, 0.01), (30, 2, 1, 0.2)],
)
def test_gtc_propagates_the_same_uncertainty(
    distance: float, interval: float, u_d: float, u_t: float
) -> None:
    """GTC (Measurement Standards Laboratory of New Zealand), a general uncertainty library."""
    gtc = pytest.importorskip("GTC")
    speed = gtc.ureal(distance, u_d) / gtc.ureal(interval, u_t)
    found = second_speed(distance, interval, u_d, u_t, 2)
    assert found.speed_mps == pytest.approx(gtc.value(speed), rel=1e-12)
    assert found.expanded_mps == pytest.approx(2 * gtc.uncertainty(speed), rel=1e-9)


@pytest.mark.parametrize(
    ("distance", "interval"), [(0, 1), (1, 0), (-1, 1), (1, -1), (math.nan, 1)]
)
def test_no_speed_without_distance_and_interval(distance: float, interval: float) -> None:
    with pytest.raises(ValueError, match="positive"):
        second_speed(distance, interval, 0.1, 0.1, 2)


@given(st.floats(1, 100), st.floats(0.1, 5), st.floats(0, 1), st.floats(0, 0.1), st.floats(0.1, 10))
def test_the_result_does_not_depend_on_the_unit(
    d: float, t: float, ud: float, ut: float, k: float
) -> None:
    plain, scaled = second_speed(d, t, ud, ut, 2), second_speed(k * d, t, k * ud, ut, 2)
    assert scaled.speed_mps == pytest.approx(k * plain.speed_mps, rel=1e-9)
    assert scaled.expanded_mps == pytest.approx(k * plain.expanded_mps, rel=1e-9)


def mark(**more: object) -> Record:
    values: dict[str, object] = {
        "capture": "C001",
        "still": "C001_101b.jpg",
        "interval_s": 0.5,
        "distance_m": 15.87,
        "distance_uncertainty_m": 0.1,
        "interval_uncertainty_s": 0.001,
        **more,
    }
    kept = {name: value for name, value in values.items() if value is not None}
    return record(RecordKind.MARK, CHECKS_LOG, 70, **kept)


def said(*marks: Record, records: list[Record] | None = None):
    base = clean_records(1) if records is None else records
    return findings("12", [*base, *marks])


def test_agreement_passes_with_both_uncertainties_shown() -> None:
    found = only(said(mark()), Outcome.PASS)
    assert found.subject == "capture 1"
    assert found.measured == pytest.approx(71.0, abs=0.01)
    assert "they agree" in found.sentence


def test_a_small_excess_is_a_query_and_a_large_one_a_fail() -> None:
    # reading 71 mph, U = 0.3; U of the second speed 0.9 mph: √ gives 0.95, the sum 1.2
    query = only(said(mark(distance_m=15.87 + 0.24)), Outcome.QUERY)
    failed = only(said(mark(distance_m=15.87 + 0.5)), Outcome.FAIL)
    assert "1.07 mph apart" in query.sentence
    assert failed.adverse
    assert "2.24 mph apart" in failed.sentence


def test_without_an_uncertainty_of_the_reading_nothing_can_be_said() -> None:
    base = change(
        clean_records(1),
        is_a(RecordKind.CERTIFICATE, certificate="calibration"),
        speed_uncertainty_mph=None,
    )
    found = [one for one in said(mark(), records=base) if one.subject == "capture 1"]
    assert [one.outcome for one in found] == [Outcome.NOT_DETERMINABLE]
    assert "whose uncertainty is not known" in found[0].sentence


@pytest.mark.parametrize(
    "name", ["distance_uncertainty_m", "interval_uncertainty_s", "distance_m", "interval_s"]
)
def test_marks_that_lack_a_figure_are_not_determinable(name: str) -> None:
    found = said(mark(**{name: None}))
    assert [one.outcome for one in found] == [Outcome.NOT_DETERMINABLE]


@pytest.mark.parametrize("more", [{"interval_s": -0.5}, {"distance_m": -3.0}, {"interval_s": 0}])
def test_impossible_marks_are_a_query(more: dict[str, object]) -> None:
    assert "which is no speed" in only(said(mark(**more)), Outcome.QUERY).sentence


def test_the_first_still_itself_gives_no_speed_to_compare() -> None:
    (found,) = said(mark(interval_s=0, distance_m=0))
    assert found.outcome is Outcome.NOT_APPLICABLE


def test_captures_without_marks_are_listed_apart_and_not_adverse() -> None:
    found = only(findings("12", clean_records(3)), Outcome.NOT_DETERMINABLE)
    assert found.subject == "captures 1–3"
    assert not found.adverse


def test_the_certificate_is_the_one_of_the_session() -> None:
    later = calibration(number="CAL-NEW", calibrated="2026-06-01", speed_uncertainty_mph=50)
    found = only(said(mark(distance_m=18), records=[*clean_records(1), later]), Outcome.FAIL)
    assert found.adverse
