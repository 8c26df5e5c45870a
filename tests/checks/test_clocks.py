"""Check 6: zone, stamps, offset, drift."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.model.day import Clock
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding, Outcome
from evidpack.model.stamps import Stamp, StampStatus
from evidpack.model.values import JsonValue
from tests.checks.days import (
    CHECKS_LOG,
    GENERAL,
    READINGS_LOG,
    at,
    change,
    clean_day,
    clean_records,
    clock_checks,
    day_of,
    drop,
    findings,
    is_a,
    only,
    record,
    run_checks,
    with_clocks,
)

RANK = {Outcome.PASS: 0, Outcome.QUERY: 1, Outcome.FAIL: 2}


def meter_off(offset_s: float, **more: JsonValue):
    base = drop(clean_records(), is_a(RecordKind.CLOCK_CHECK, clock="meter"))
    return [*base, *clock_checks("meter", offset_s, **more)]


def about_offset(found: tuple[Finding, ...]) -> Finding:
    return next(
        one for one in found if one.subject == "clock meter" and "reference" in one.sentence
    )


@pytest.mark.parametrize(
    ("offset", "outcome"),
    [
        (0.0, Outcome.PASS),
        (9.5, Outcome.PASS),
        (-9.5, Outcome.PASS),
        (9.6, Outcome.QUERY),
        (10.5, Outcome.QUERY),
        (10.6, Outcome.FAIL),
        (-10.6, Outcome.FAIL),
        (45, Outcome.FAIL),
    ],
)
def test_offset_and_uncertainty_against_ten_seconds(offset: float, outcome: Outcome) -> None:
    found = about_offset(findings("6", meter_off(offset)))
    assert found.outcome is outcome
    assert found.measured == pytest.approx(offset)
    assert found.limit == 10
    assert "SI 2022/71" in str(found.source)


@pytest.mark.parametrize(
    ("offset", "words"),
    [
        (3600, "clock change"),
        (-3600, "clock change"),
        (7200, "zone +02:00"),
        (30, "more than 10 s"),
    ],
)
def test_a_wrong_offset_names_its_pattern(offset: float, words: str) -> None:
    found = about_offset(findings("6", meter_off(offset)))
    assert found.outcome is Outcome.FAIL
    assert words in found.sentence


def test_an_offset_fails_nothing_else_on_the_day() -> None:
    adverse = [one for one in run_checks(day_of(meter_off(3600)), GENERAL) if one.adverse]
    assert {one.check for one in adverse} >= {"6"}
    assert all("clock meter" in one.subject or one.check in {"7", "11"} for one in adverse)


@given(st.floats(-5_000, 5_000), st.floats(-5_000, 5_000))
def test_a_larger_offset_never_has_a_better_outcome(first: float, second: float) -> None:
    small, large = sorted((first, second), key=abs)
    outcomes = [
        about_offset(findings("6", meter_off(round(one, 3)))).outcome for one in (small, large)
    ]
    assert RANK[outcomes[0]] <= RANK[outcomes[1]]


def test_no_check_of_a_clock_is_not_determinable_and_required() -> None:
    records = drop(clean_records(), is_a(RecordKind.CLOCK_CHECK, clock="meter"))
    found = [one for one in findings("6", records) if one.subject == "clock meter"]
    assert [one.outcome for one in found] == [Outcome.NOT_DETERMINABLE]
    assert found[0].adverse
    assert "offset is not known" in found[0].sentence


def test_a_check_of_another_month_does_not_count() -> None:
    records = drop(clean_records(), is_a(RecordKind.CLOCK_CHECK, clock="meter"))
    old = at("09:00:00", day=date(2026, 4, 1))
    records.append(
        record(RecordKind.CLOCK_CHECK, CHECKS_LOG, 90, clock="meter", time=old, reference_time=old)
    )
    found = [one for one in findings("6", records) if one.subject == "clock meter"]
    assert found[0].outcome is Outcome.NOT_DETERMINABLE
    assert "within 14 days" in found[0].sentence


def drifting(per_day_s: float) -> list[Finding]:
    records = drop(clean_records(), is_a(RecordKind.CLOCK_CHECK, clock="meter"))
    for place, day in enumerate((7, 14)):
        reference = at("08:55:00", day=date(2026, 5, day))
        offset = per_day_s * (day - 14)
        shown = datetime.fromisoformat(reference).timestamp() + offset
        records.append(
            record(
                RecordKind.CLOCK_CHECK,
                CHECKS_LOG,
                200 + place,
                clock="meter",
                time=datetime.fromtimestamp(shown, UTC).isoformat(),
                reference_time=reference,
                uncertainty_s=0.2,
            )
        )
    return [
        one
        for one in findings("6", records)
        if one.subject == "clock meter" and "drift" in one.sentence
    ]


@pytest.mark.parametrize(
    ("per_day", "outcome"),
    [
        (0.1, Outcome.PASS),
        (-0.1, Outcome.PASS),
        (1.0, Outcome.QUERY),
        (0.7, Outcome.NOT_DETERMINABLE),
    ],
)
def test_drift_over_a_week_against_ten_seconds_in_a_fortnight(
    per_day: float, outcome: Outcome
) -> None:
    found = drifting(per_day)
    assert [one.outcome for one in found] == [outcome]
    assert found[0].measured == pytest.approx(14 * per_day, abs=0.01)


def test_checks_of_one_morning_can_not_tell_the_drift_and_say_so() -> None:
    found = [one for one in findings("6", clean_day()) if "drift" in one.sentence]
    assert {one.outcome for one in found} == {Outcome.NOT_DETERMINABLE}
    assert not any(one.adverse for one in found)


def test_a_clock_without_zone_is_named() -> None:
    none = Stamp(
        local=datetime(2026, 5, 14, 10, 0), status=StampStatus.NO_ZONE, instants=()
    ).to_json()
    records = change(clean_records(), is_a(RecordKind.STILL), time=none)
    day = with_clocks(day_of(records), camera=Clock(name="camera", zone=None, resolution_s=1))
    found = [one for one in findings("6", day) if "zone" in one.sentence]
    assert [one.subject for one in found] == ["clock camera"]
    assert found[0].outcome is Outcome.NOT_DETERMINABLE
    assert found[0].adverse
    assert found[0].measured == 5


LONDON = ZoneInfo("Europe/London")
AUTUMN, SPRING = datetime(2026, 10, 25, 1, 30), datetime(2026, 3, 29, 1, 30)


def ambiguous() -> JsonValue:
    """PEP 495 and tzdata: 2026-10-25 01:30 in London is 00:30Z (fold 0) or 01:30Z (fold 1)."""
    instants = tuple(AUTUMN.replace(tzinfo=LONDON, fold=fold) for fold in (0, 1))
    assert [one.astimezone(UTC).hour for one in instants] == [0, 1]
    return Stamp(local=AUTUMN, status=StampStatus.AMBIGUOUS, instants=instants).to_json()


def test_stamps_in_the_hour_that_occurs_twice_are_not_resolved() -> None:
    records = change(clean_records(2), is_a(RecordKind.READING, capture="C002"), time=ambiguous())
    day = day_of(records, day=date(2026, 10, 25))
    found = [one for one in findings("6", day) if "occurs twice" in one.sentence]
    assert [one.outcome for one in found] == [Outcome.NOT_DETERMINABLE]
    assert found[0].sentence.startswith("The times of capture 2 of clock meter")


def test_a_stamp_that_did_not_exist_is_a_query() -> None:
    """tzdata: 2026-03-29 01:30 does not exist in London."""
    gap = SPRING.replace(tzinfo=LONDON)
    assert gap.astimezone(UTC).astimezone(LONDON).replace(tzinfo=None) != SPRING
    stamp = Stamp(local=SPRING, status=StampStatus.NONEXISTENT, instants=()).to_json()
    records = change(clean_records(2), is_a(RecordKind.READING), time=stamp, opinion_time=None)
    found = [
        one
        for one in findings("6", day_of(records, day=date(2026, 3, 29)))
        if "did not exist" in one.sentence
    ]
    assert [one.outcome for one in found] == [Outcome.QUERY]
    assert found[0].measured == 2


def test_a_date_that_rolled_to_an_epoch_fails_and_is_named() -> None:
    records = change(
        clean_records(2),
        is_a(RecordKind.READING, capture="C001"),
        time="1980-01-06T00:04:10+00:00",
        opinion_time=None,
    )
    found = only(findings("6", records), Outcome.FAIL)
    assert "GPS time" in found.sentence
    assert found.measured == "1980-01-06T00:04:10+00:00"


def test_a_day_without_clocks_does_not_apply() -> None:
    only(
        findings("6", [one for one in clean_records() if one.kind is RecordKind.SESSION]),
        Outcome.NOT_APPLICABLE,
    )


def test_typed_times_have_no_clock_to_check() -> None:
    day = day_of(clean_records(1))
    assert READINGS_LOG in day.description.log_clocks
    assert {one.subject for one in findings("6", day)} == {"clock camera", "clock meter"}


def test_one_check_on_a_wrong_date_is_told_as_that_and_not_as_drift() -> None:
    records = clean_records(1)
    wrong = change(
        records,
        lambda one: one.kind is RecordKind.CLOCK_CHECK and str(one.source).endswith(":151"),
        time=at("11:10:01").replace("05-14", "05-13"),
    )
    found = [one for one in findings("6", wrong) if one.adverse]
    assert [one.outcome for one in found] == [Outcome.FAIL]
    assert "as if its date were wrong" in found[0].sentence
    assert not [one for one in findings("6", wrong) if "drift" in one.sentence and
                one.subject == "clock meter"]  # fmt: skip
