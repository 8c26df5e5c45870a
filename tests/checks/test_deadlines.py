"""Check 20 and the business days under it."""

from __future__ import annotations

import calendar
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.checks.business_days import business_days_after, is_business_day
from evidpack.checks.deadlines import event_name, information_due, notice_due
from evidpack.checks.times import add_months
from evidpack.errors import DescriptionError
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding, Outcome
from evidpack.model.values import JsonValue
from tests.checks.days import (
    GENERAL,
    MPH,
    Record,
    at,
    day_of,
    findings,
    only,
    reading,
    record,
    run_checks,
)

OFFENCE = date(2026, 3, 2)
EVENTS = "office/unit/events.toml"


def event(name: str, day: str | None, line: int = 1, **more: JsonValue) -> Record:
    values: dict[str, JsonValue] = {"event": name, **({"date": day} if day else {}), **more}
    return record(RecordKind.EVENT, EVENTS, line, **values)


def said(
    *events: Record, today: date = date(2026, 3, 10), count: int = 1, rules=MPH
) -> tuple[Finding, ...]:
    readings = [
        reading(n, "10:00:05", time=at("10:00:05", day=OFFENCE), opinion_time=None)
        for n in range(1, count + 1)
    ]
    day = day_of([*readings, *events], day=OFFENCE)
    return findings(
        "20", replace(day, now=datetime(today.year, today.month, today.day, 12, tzinfo=UTC)), rules
    )


def about(found: tuple[Finding, ...], word: str) -> Finding:
    return next(one for one in found if word in one.sentence)


def test_the_day_of_the_offence_is_not_counted() -> None:
    """Road Traffic Offenders Act 1988 s.1: offence 2 March 2026 → 16 March (computed)."""
    assert notice_due(OFFENCE, 14) == date(2026, 3, 16)


def test_the_day_of_service_is_counted_for_the_driver() -> None:
    """28 days beginning with service, as recalled: service + 27."""
    assert information_due(date(2026, 3, 16), 28) == date(2026, 4, 12)


@pytest.mark.parametrize(
    ("posted", "served"),
    [
        (date(2026, 3, 12), date(2026, 3, 16)),
        (date(2026, 3, 13), date(2026, 3, 17)),
        (date(2026, 3, 9), date(2026, 3, 11)),
        (date(2026, 4, 2), date(2026, 4, 8)),  # Good Friday, Easter Monday
        (
            date(2026, 12, 24),
            date(2026, 12, 30),
        ),  # Christmas, Boxing Day on a Saturday, its substitute
    ],
)
def test_the_second_business_day_after_posting(posted: date, served: date) -> None:
    """Computed for England and Wales; holidays from the package `holidays`."""
    assert business_days_after(posted, 2, "GB-ENG") == served


def test_without_a_region_only_weekends_are_left_out() -> None:
    assert is_business_day(date(2026, 4, 3), None)
    assert not is_business_day(date(2026, 4, 3), "GB-ENG")
    assert not is_business_day(date(2026, 4, 4), None)


def test_an_unknown_region_is_refused() -> None:
    with pytest.raises(DescriptionError, match="no public holidays are known for 'XX-YY'"):
        is_business_day(date(2026, 3, 2), "XX-YY")


@given(st.dates(date(2020, 1, 1), date(2035, 1, 1)), st.integers(0, 12))
def test_business_days_equal_a_slow_count_and_grow(start: date, count: int) -> None:
    day = business_days_after(start, count, None)
    between = [start + timedelta(n) for n in range(1, (day - start).days + 1)]
    assert sum(one.weekday() < 5 for one in between) == count
    assert business_days_after(start, count + 1, None) > day


@pytest.mark.parametrize(
    ("start", "months", "end"),
    [
        (date(2026, 3, 2), 6, date(2026, 9, 2)),
        (date(2025, 8, 31), 6, date(2026, 2, 28)),
        (date(2023, 8, 31), 6, date(2024, 2, 29)),
        (date(2025, 11, 30), 12, date(2026, 11, 30)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
    ],
)
def test_months_end_on_the_same_day_or_the_last(start: date, months: int, end: date) -> None:
    assert add_months(start, months) == end


@given(st.dates(date(2000, 1, 1), date(2090, 1, 1)), st.integers(0, 48))
def test_months_agree_with_the_calendar(start: date, months: int) -> None:
    year, month = divmod(start.year * 12 + start.month - 1 + months, 12)
    last = calendar.monthrange(year, month + 1)[1]
    assert add_months(start, months) == date(year, month + 1, min(start.day, last))


def test_months_beyond_the_last_year_end_at_the_last_day() -> None:
    assert add_months(date(9999, 12, 1), 6) == date.max


@pytest.mark.parametrize(
    ("events", "outcome", "words"),
    [
        (
            [event("notice served", "2026-03-16")],
            Outcome.PASS,
            "was served on 2026-03-16, in time for 2026-03-16",
        ),
        ([event("notice served", "2026-03-17")], Outcome.FAIL, "1 days after 2026-03-16"),
        (
            [event("Notice-Posted", "2026-03-12", detail="First class")],
            Outcome.PASS,
            "presumed served on 2026-03-16",
        ),
        (
            [event("notice posted", "2026-03-13", detail="first class")],
            Outcome.FAIL,
            "presumed served on 2026-03-17",
        ),
        (
            [event("notice posted", "2026-03-03", detail="second class")],
            Outcome.QUERY,
            "no service is presumed",
        ),
        ([event("notice posted", "2026-03-03")], Outcome.QUERY, "no service is presumed"),
        ([event("accident", "2026-03-02")], Outcome.NOT_APPLICABLE, "No notice is due"),
        ([], Outcome.NOT_DETERMINABLE, "is due by 2026-03-16, 6 days from now"),
    ],
)
def test_the_notice(events: list[Record], outcome: Outcome, words: str) -> None:
    found = next(one for one in said(*events) if "otice" in one.sentence)
    assert found.outcome is outcome
    assert words in found.sentence


def test_a_notice_that_is_overdue_and_not_on_record_is_a_query() -> None:
    found = about(said(today=date(2026, 3, 20)), "notice")
    assert found.outcome is Outcome.QUERY
    assert "was due by 2026-03-16, 4 days ago" in found.sentence


@pytest.mark.parametrize(
    ("answer", "outcome"),
    [("2026-04-12", Outcome.PASS), ("2026-04-13", Outcome.FAIL), (None, Outcome.NOT_DETERMINABLE)],
)
def test_the_drivers_name(answer: str | None, outcome: Outcome) -> None:
    events = [event("information requested", "2026-03-16")]
    events += [event("information received", answer, 2)] if answer else []
    assert about(said(*events), "driver's name").outcome is outcome


@pytest.mark.parametrize(
    ("begun", "outcome"), [("2026-09-02", Outcome.PASS), ("2026-09-03", Outcome.FAIL)]
)
def test_proceedings_within_six_months(begun: str, outcome: Outcome) -> None:
    """Magistrates' Courts Act 1980 s.127: six months."""
    assert about(said(event("proceedings started", begun)), "proceedings").outcome is outcome


@pytest.mark.parametrize(
    ("name", "day", "outcome"),
    [
        ("copy served", "2026-05-25", Outcome.PASS),
        ("copy served", "2026-05-26", Outcome.FAIL),
        ("counter-notice", "2026-05-29", Outcome.PASS),
        ("counter-notice", "2026-05-30", Outcome.FAIL),
        ("initial details given", "2026-06-01", Outcome.PASS),
        ("initial details given", "2026-06-02", Outcome.FAIL),
    ],
)
def test_papers_before_the_hearing(name: str, day: str, outcome: Outcome) -> None:
    """Copy 7 days, counter-notice 3 days (from memory), details by the start of the day."""
    found = said(event("hearing", "2026-06-01"), event(name, day, 2))
    word = {"copy served": "The copy", "counter-notice": "The counter-notice"}.get(
        name, "initial details"
    )
    assert about(found, word).outcome is outcome


def test_retention_after_a_conviction_and_until_release() -> None:
    kept = about(said(event("conviction", "2026-06-01")), "to be kept")
    longer = about(
        said(event("conviction", "2026-06-01"), event("released from custody", "2027-06-01", 2)),
        "to be kept",
    )
    assert (kept.limit, longer.limit) == ("2026-12-01", "2027-06-01")
    gone = about(
        said(event("conviction", "2026-06-01"), event("material destroyed", "2026-11-30", 2)),
        "destroyed",
    )
    assert gone.outcome is Outcome.FAIL


def test_events_of_one_capture_leave_the_others_alone() -> None:
    found = said(event("notice served", "2026-03-10", capture="C002"), count=3)
    notices = [one for one in found if "notice" in one.sentence.lower()]
    assert [(one.subject, one.outcome) for one in notices] == [
        ("captures 1, 3", Outcome.NOT_DETERMINABLE),
        ("capture 2", Outcome.PASS),
    ]


def test_the_offence_day_is_that_of_the_rule_sets_zone() -> None:
    """2026-06-30 23:30Z is 1 July in London."""
    night = [
        reading(1, "10:00:05", time="2026-06-30T23:30:00+00:00", opinion_time=None),
        event("notice served", "2026-07-15"),
    ]
    found = findings("20", day_of(night, day=date(2026, 7, 1)), MPH)
    assert about(found, "notice").outcome is Outcome.PASS


def test_a_rule_set_without_clocks_does_not_apply() -> None:
    only(said(rules=GENERAL), Outcome.NOT_APPLICABLE)


def test_at_sealing_nothing_is_computed() -> None:
    found = [one for one in run_checks(day_of([reading(1, "10:00:05")]), MPH) if one.check == "20"]
    assert [one.outcome for one in found] == [Outcome.NOT_APPLICABLE]


def test_every_date_says_that_a_lawyer_has_to_confirm_it() -> None:
    for one in said(event("notice served", "2026-03-17")):
        assert "confirmed by a local lawyer" in str(one.source)


@pytest.mark.parametrize("text", ["Notice-Posted", " notice_posted ", "NOTICE  posted"])
def test_event_names_are_read_with_any_case_and_hyphens(text: str) -> None:
    assert event_name(text) == "notice posted"
