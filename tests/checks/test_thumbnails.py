from __future__ import annotations

from dataclasses import replace

from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding, Outcome
from evidpack.model.records import Record
from tests.checks.days import GENERAL, adverse, change, clean_records, findings, is_a, only

STILL = RecordKind.STILL


def stills(records: list[Record] | None = None, /, **values: object) -> list[Record]:
    """The records with values set on every still."""
    return change(clean_records(4) if records is None else records, is_a(STILL), **values)  # type: ignore[arg-type]


def about(records: list[Record]) -> list[Finding]:
    return [one for one in findings("11", records) if "thumbnail" in one.sentence]


def test_thumbnails_that_show_their_stills_pass_with_the_lowest_agreement() -> None:
    records = change(
        stills(thumbnail_correlation=0.98), is_a(STILL, capture="C003"), thumbnail_correlation=0.75
    )
    found = only(about(records), Outcome.PASS)
    assert "the stills of captures 1–4 show these stills" in found.sentence
    assert (found.measured, found.limit, found.unit) == (0.75, 0.75, "1")
    assert "own measure" in (found.source or "")


def test_a_thumbnail_of_another_picture_is_a_query_that_names_capture_and_image() -> None:
    records = change(
        stills(thumbnail_correlation=0.98), is_a(STILL, capture="C002"), thumbnail_correlation=0.74
    )
    found = only(about(records), Outcome.QUERY)
    assert found.subject == "capture 2"
    assert "image 102 of capture 2 does not show that still" in found.sentence
    assert found.measured == 0.74
    assert "supply the original" in (found.advice or "")
    assert [one.sentence for one in adverse(records)] == [found.sentence]
    assert "captures 1, 3–4" in only(about(records), Outcome.PASS).sentence


def test_each_still_that_differs_is_said_for_itself() -> None:
    records = stills(thumbnail_correlation=0.98)
    for n in (2, 4):
        records = change(records, is_a(STILL, capture=f"C{n:03d}"), thumbnail_correlation=-0.1)
    found = [one for one in about(records) if one.adverse]
    assert [one.subject for one in found] == ["capture 2", "capture 4"]


def test_where_most_of_the_day_differ_it_is_said_once() -> None:
    records = change(
        stills(thumbnail_correlation=0.5), is_a(STILL, capture="C003"), thumbnail_correlation=0.9
    )
    found = only(about(records), Outcome.QUERY)
    assert found.subject == "captures 1–2, 4"
    assert found.measured == [0.5, 0.5]
    assert "from another part of the picture" in found.sentence


def test_stills_without_thumbnails_are_not_determinable_and_not_adverse() -> None:
    found = only(about(stills()), Outcome.NOT_DETERMINABLE)
    assert "no thumbnail inside the stills of captures 1–4" in found.sentence
    assert not found.adverse


def test_a_rule_set_may_require_thumbnails() -> None:
    strict = replace(GENERAL, required=GENERAL.required | {"thumbnail"})
    asked = [one for one in findings("11", stills(), strict) if "thumbnail" in one.sentence]
    assert only(asked, Outcome.NOT_DETERMINABLE).adverse


def test_a_thumbnail_that_cannot_be_compared_says_why() -> None:
    records = change(
        stills(thumbnail_correlation=0.98),
        is_a(STILL, capture="C001"),
        thumbnail_correlation=None,
        thumbnail_fault="too little is to be seen in them to compare",
    )
    found = only(about(records), Outcome.NOT_DETERMINABLE)
    assert found.subject == "capture 1"
    assert "too little is to be seen" in found.sentence


def test_a_still_without_a_reading_is_counted_not_named() -> None:
    records = change(
        stills(thumbnail_correlation=0.98), is_a(STILL, capture="C004"), captures=[], joined="no"
    )
    found = only(about(records), Outcome.PASS)
    assert "captures 1–3 and 1 still without a reading" in found.sentence
    other = change(records, is_a(STILL, capture="C004"), thumbnail_correlation=0.1)
    query = only(about(other), Outcome.QUERY)
    assert query.subject == "stills without a reading"
    assert ".jpg" not in query.sentence


def test_an_unreadable_still_is_left_to_the_check_that_lists_it() -> None:
    records = change(clean_records(1), is_a(STILL), readable=False)
    assert not about(records)


def test_a_rule_set_without_the_key_does_not_ask() -> None:
    values = {k: v for k, v in GENERAL.values.items() if k != "thumbnail_correlation_min"}
    found = [
        one
        for one in findings(
            "11", stills(thumbnail_correlation=0.1), replace(GENERAL, values=values)
        )
        if "thumbnail" in one.sentence
    ]
    assert only(found, Outcome.NOT_APPLICABLE).subject == "thumbnails"
