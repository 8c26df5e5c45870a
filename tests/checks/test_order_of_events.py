"""Check 7: the order of events on the reconciled line."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.model.fields import RecordKind
from evidpack.model.findings import Outcome
from evidpack.model.records import Record
from tests.checks.days import (
    adverse,
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
    seconds_later,
)

READING = is_a(RecordKind.READING)
FIRST = is_a(RecordKind.READING, capture="C001")


def shifted(records: list[Record], which: RecordKind, seconds: float, *names: str) -> list[Record]:
    return [
        change(
            [one],
            lambda _: True,
            **{name: seconds_later(str(one.values[name]), seconds) for name in names},
        )[0]
        if one.kind is which
        else one
        for one in records
    ]


def test_a_clean_day_is_in_order() -> None:
    found = findings("7", clean_day())
    assert {one.outcome for one in found} == {Outcome.PASS, Outcome.NOT_DETERMINABLE}
    assert adverse(clean_day()) == []


@pytest.mark.parametrize(
    ("seconds", "outcome"),
    [(0, Outcome.PASS), (1, Outcome.NOT_DETERMINABLE), (2, Outcome.FAIL), (90, Outcome.FAIL)],
)
def test_the_opinion_comes_first_as_far_as_the_clock_can_tell(
    seconds: float, outcome: Outcome
) -> None:
    records = [
        change([one], FIRST, opinion_time=seconds_later(at("10:00:05"), seconds))[0]
        for one in clean_records(1)
    ]
    found = [one for one in findings("7", records) if "opinion" in one.sentence.lower()]
    assert [one.outcome for one in found] == [outcome]


def test_an_opinion_that_comes_late_is_named_by_capture() -> None:
    records = change(
        clean_records(3), is_a(RecordKind.READING, capture="C002"), opinion_time=at("10:01:35")
    )
    found = only(findings("7", records), Outcome.FAIL)
    assert (found.subject, found.measured) == ("capture 2", 30.0)
    assert found.sentence == "The opinion is timed after the reading for capture 2, by up to 30 s."


def test_an_opinion_that_is_not_on_record_is_listed_apart() -> None:
    records = change(clean_records(3), READING, opinion_time=None)
    found = [one for one in findings("7", records) if "opinion" in one.sentence]
    assert [one.outcome for one in found] == [Outcome.NOT_DETERMINABLE]
    assert not found[0].adverse


def test_stills_within_the_clocks_uncertainty_can_not_be_ordered() -> None:
    found = [one for one in findings("7", clean_day()) if "still" in one.sentence]
    assert [one.outcome for one in found] == [Outcome.NOT_DETERMINABLE]
    assert "which these clocks can't tell apart" in found[0].sentence


@pytest.mark.parametrize(("seconds", "outcome"), [(5, Outcome.PASS), (-5, Outcome.QUERY)])
def test_a_still_clearly_after_passes_and_clearly_before_is_a_query(
    seconds: float, outcome: Outcome
) -> None:
    records = shifted(clean_records(2), RecordKind.STILL, seconds, "time")
    found = [one for one in findings("7", records) if "still" in one.sentence]
    assert [one.outcome for one in found] == [outcome]


def test_order_is_told_on_the_reconciled_line_not_the_recorded_one() -> None:
    """A meter an hour ahead stamps every reading an hour after its still; its checks say so."""
    records = drop(clean_records(3), is_a(RecordKind.CLOCK_CHECK, clock="meter"))
    records = shifted(
        [*records, *clock_checks("meter", 3601)], RecordKind.READING, 3600, "time", "opinion_time"
    )
    records = shifted(records, RecordKind.DEVICE_TEST, 3600, "time")
    found = findings("7", records)
    assert not [one for one in found if one.outcome in {Outcome.FAIL, Outcome.QUERY}]
    assert [one.check for one in adverse(records)] == ["6"]


def test_readings_an_hour_out_of_their_session_say_so() -> None:
    records = shifted(clean_records(3), RecordKind.READING, 7200, "time", "opinion_time")
    found = [
        one
        for one in findings("7", records)
        if one.outcome is Outcome.QUERY and "outside" in one.sentence
    ]
    assert found[0].subject == "session S1"
    assert "if the clock was 2 hours ahead" in found[0].sentence


def test_readings_of_no_session_are_a_query() -> None:
    records = change(clean_records(3), is_a(RecordKind.READING), session=None)
    records = change(records, is_a(RecordKind.CAPTURE), session=None)
    found = only(findings("7", records), Outcome.QUERY)
    assert "captures 1–3 belong to no session" in found.sentence.lower()


@pytest.mark.parametrize(
    ("signed", "outcome"),
    [("11:30:00", Outcome.PASS), ("10:40:00", Outcome.QUERY), ("09:30:00", Outcome.FAIL)],
)
def test_the_report_is_signed_last(signed: str, outcome: Outcome) -> None:
    records = change(clean_records(), is_a(RecordKind.REPORT), signed=at(signed))
    found = [one for one in findings("7", records) if "report" in one.subject]
    assert [one.outcome for one in found] == [outcome]


def test_a_reading_after_the_seal_fails() -> None:
    day = replace(clean_day(3), now=datetime(2026, 5, 14, 9, 1, 30, tzinfo=UTC))
    found = [one for one in findings("7", day) if "seal was made" in one.sentence]
    assert [(one.outcome, one.subject) for one in found] == [(Outcome.FAIL, "capture 3")]


def test_the_closing_tests_after_the_seal_are_counted_with_the_readings() -> None:
    day = replace(clean_day(3), now=datetime(2026, 5, 14, 9, 1, 30, tzinfo=UTC))
    (found,) = (one for one in findings("7", day) if "seal was made" in one.sentence)
    assert found.sentence.startswith("Capture 3 and 6 device tests are timed after this check")


def test_a_report_signed_after_the_seal_fails() -> None:
    """The clean report is signed at 11:30 local time, two minutes after this check."""
    day = replace(clean_day(2), now=datetime(2026, 5, 14, 10, 28, tzinfo=UTC))
    found = only(findings("7", day), Outcome.FAIL)
    assert found.subject == "report of session S1"
    assert "bears a signature of 2 min 0 s after this check or seal was made" in found.sentence
    assert not adverse(replace(day, now=datetime(2026, 5, 14, 10, 32, tzinfo=UTC)))


def test_a_session_that_ends_before_it_begins_is_told_as_that() -> None:
    records = change(clean_records(2), is_a(RecordKind.SESSION), end=at("08:00:00"))
    found = only(findings("7", records), Outcome.QUERY)
    assert found.sentence == "Session S1 ends 1 h 0 min 0 s before it begins."


@pytest.mark.parametrize(
    ("start", "meter", "adverse"),
    [
        ("10:30:00", "TX 004711", True),
        ("11:00:00", "TX-004711", False),
        ("10:30:00", "TX-2", False),
    ],
)
def test_one_meter_is_in_one_session_at_a_time(start: str, meter: str, adverse: bool) -> None:
    records = clean_records(1)
    other = replace(
        records[0],
        values={**records[0].values, "id": "S2", "meter": meter, "start": at(start),
                "end": at("12:00:00")},
    )  # fmt: skip
    found = [one for one in findings("7", [*records, other]) if "both used meter" in one.sentence]
    assert bool(found) is adverse
    if found:
        assert "Session S2 begins 30 min 0 s before session S1 ends" in found[0].sentence


def test_set_up_tests_after_the_first_opinion_are_a_query() -> None:
    records = change(clean_records(2), is_a(RecordKind.READING, capture="C001"),
                     opinion_time=at("09:10:30"))  # fmt: skip
    found = only(findings("7", records), Outcome.QUERY)
    assert "timed after the opinion of its first reading, by up to 2 min" in found.sentence
    assert found.subject == "session S1"


def test_a_session_without_readings_does_not_apply() -> None:
    only(findings("7", drop(clean_records(), READING)), Outcome.NOT_APPLICABLE)


def test_a_clock_that_was_never_compared_leaves_the_order_open() -> None:
    records = drop(clean_records(2), is_a(RecordKind.CLOCK_CHECK, clock="camera"))
    found = [one for one in findings("7", records) if "still" in one.sentence]
    assert [one.outcome for one in found] == [Outcome.NOT_DETERMINABLE]
    assert "never compared" in found[0].sentence


@given(st.permutations(clean_records(4)))
def test_the_order_of_the_records_does_not_matter(records: list[Record]) -> None:
    assert findings("7", records) == findings("7", clean_day(4))


@given(st.integers(-12, 14))
def test_the_zone_in_which_stamps_are_written_does_not_matter(hours: int) -> None:
    from datetime import timedelta, timezone

    zone = timezone(timedelta(hours=hours))

    def elsewhere(one: Record) -> Record:
        values = {
            name: datetime.fromisoformat(value).astimezone(zone).isoformat()
            for name, value in one.values.items()
            if isinstance(value, str)
            and name in {"time", "opinion_time", "reference_time", "signed"}
        }
        return change([one], lambda _: True, **values)[0]

    moved = findings("7", day_of(map(elsewhere, clean_records(3))))
    assert [(one.outcome, one.subject, one.measured) for one in moved] == [
        (one.outcome, one.subject, one.measured) for one in findings("7", clean_day(3))
    ]
