"""Check 17: the day report."""

from __future__ import annotations

import pytest

from evidpack.model.fields import RecordKind
from evidpack.model.findings import Outcome
from tests.checks.days import (
    CHECKS_LOG,
    at,
    change,
    clean_records,
    drop,
    findings,
    is_a,
    only,
    record,
)

REPORT = is_a(RecordKind.REPORT)


def test_a_complete_signed_report_passes_and_a_scan_can_not_prove_more() -> None:
    found = findings("17", clean_records(1))
    assert [one.outcome for one in found] == [Outcome.PASS, Outcome.NOT_DETERMINABLE]
    assert "edited before it reached us" in found[1].sentence
    assert not found[1].adverse


@pytest.mark.parametrize(
    ("field", "words"),
    [("signed_by", "who signed it"), ("signed", "when it was signed"), ("captures", "captures")],
)
def test_what_the_report_lacks_fails_by_name(field: str, words: str) -> None:
    found = only(findings("17", change(clean_records(1), REPORT, **{field: None})), Outcome.FAIL)
    assert found.sentence.endswith(f"does not state: {words}.")


def test_no_report_is_not_determinable_and_required() -> None:
    found = only(findings("17", drop(clean_records(1), REPORT)), Outcome.NOT_DETERMINABLE)
    assert found.adverse
    assert "no day report for session S1" in found.sentence


def test_a_report_of_another_session_does_not_count() -> None:
    found = findings("17", change(clean_records(1), REPORT, session="S9"))
    assert "no day report for session S1" in found[0].sentence


def test_one_report_of_the_whole_day_counts_for_every_session() -> None:
    found = findings("17", change(clean_records(1), REPORT, session=None, document=None))
    assert [one.outcome for one in found] == [Outcome.PASS]


def test_a_later_version_is_a_query() -> None:
    later = record(
        RecordKind.REPORT,
        CHECKS_LOG,
        41,
        session="S1",
        version="2",
        captures=1,
        signed_by="OP-3",
        signed=at("12:00:00"),
    )
    found = only(findings("17", [*clean_records(1), later]), Outcome.QUERY)
    assert "2 versions of the report of session S1: 1, 2" in found.sentence


def test_a_day_without_anything_lacks_its_report() -> None:
    only(findings("17", []), Outcome.NOT_DETERMINABLE)
