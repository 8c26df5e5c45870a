"""Check 3: the operator was certified."""

from __future__ import annotations

import pytest

from evidpack.model.fields import RecordKind
from evidpack.model.findings import Outcome
from tests.checks.days import GENERAL, MPH, at, change, clean_records, drop, findings, is_a, only

CERTIFICATE = is_a(RecordKind.CERTIFICATE, certificate="operator")


def test_a_certificate_that_covers_person_type_and_date_passes() -> None:
    found = only(findings("3", clean_records(1)), Outcome.PASS)
    assert "OPC-3 covers session S1 of 2026-05-14" in found.sentence


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"valid_until": "2026-05-13"}, "is valid 2025-01-01 to 2026-05-13"),
        ({"valid_from": "2026-05-15"}, "not on 2026-05-14"),
        ({"type": "TY laser"}, "is for type TY laser"),
    ],
)
def test_a_lapsed_certificate_or_another_type_fails(values: dict[str, str], words: str) -> None:
    found = only(findings("3", change(clean_records(1), CERTIFICATE, **values)), Outcome.FAIL)
    assert words in found.sentence
    assert found.adverse


@pytest.mark.parametrize("values", [{"type": None}, {"valid_from": None}, {"valid_until": None}])
def test_what_the_certificate_does_not_say_is_not_determinable(
    values: dict[str, str | None],
) -> None:
    found = only(
        findings("3", change(clean_records(1), CERTIFICATE, **values)), Outcome.NOT_DETERMINABLE
    )
    assert found.adverse


@pytest.mark.parametrize(
    ("first", "outcome"), [("2023-05-14", Outcome.PASS), ("2023-05-13", Outcome.FAIL)]
)
def test_an_end_that_is_not_stated_is_computed_where_the_rule_set_says_how(
    first: str, outcome: Outcome
) -> None:
    """Renewal after three years in one place: example rule set, from memory."""
    records = change(clean_records(1), CERTIFICATE, valid_from=first, valid_until=None)
    found = only(findings("3", records, MPH), outcome)
    assert "computed from the interval" in found.sentence


def test_a_certificate_of_somebody_who_was_not_there_fails_with_both_names() -> None:
    found = only(findings("3", change(clean_records(1), CERTIFICATE, holder="OP-30")), Outcome.FAIL)
    assert found.sentence == (
        "No operator certificate is for operator OP-3 of session S1: certificate OPC-3 is for "
        "OP-30."
    )
    assert (found.subject, found.measured, found.limit) == (
        "operator OP-3 in session S1",
        ["OP-30"],
        "OP-3",
    )


def test_no_certificate_at_all_is_not_determinable() -> None:
    found = only(findings("3", drop(clean_records(1), CERTIFICATE)), Outcome.NOT_DETERMINABLE)
    assert found.adverse


def test_nobody_on_record_is_not_determinable() -> None:
    records = change(clean_records(1), is_a(RecordKind.SESSION), operators=None)
    assert only(findings("3", records), Outcome.NOT_DETERMINABLE).adverse


def test_each_of_two_operators_needs_a_certificate_but_an_observer_none() -> None:
    people = [
        {"id": "OP-3"},
        {"id": "OP-4", "role": "operator"},
        {"id": "OP-5", "role": "observer"},
    ]
    records = change(clean_records(1), is_a(RecordKind.SESSION), operators=people)
    found = findings("3", records)
    assert "OP-4" in only(found, Outcome.NOT_DETERMINABLE).sentence
    assert len(found) == 2


def test_a_reading_while_no_operator_is_declared_is_a_query() -> None:
    people = [{"id": "OP-3", "from": at("09:00:00"), "until": at("10:02:00")}]
    records = change(clean_records(5), is_a(RecordKind.SESSION), operators=people)
    found = only(findings("3", records, GENERAL), Outcome.QUERY)
    assert "captures 4–5" in found.sentence  # 10:03 and 10:04; 10:02:05 is within a typed minute


def test_a_renewed_certificate_beside_a_lapsed_one_passes() -> None:
    records = clean_records(1)
    lapsed = change(
        [one for one in records if CERTIFICATE(one)],
        CERTIFICATE,
        number="OPC-1",
        valid_until="2025-06-01",
    )
    only(findings("3", [*records, *lapsed]), Outcome.PASS)
    only(
        findings("3", drop([*records, *lapsed], is_a(RecordKind.CERTIFICATE, number="OPC-3"))),
        Outcome.FAIL,
    )


@pytest.mark.parametrize("tester", ["OP-9", "Somebody Else"])
def test_device_tests_by_somebody_who_was_not_there_are_a_query(tester: str) -> None:
    records = change(clean_records(1), is_a(RecordKind.DEVICE_TEST), operator=tester)
    found = only(findings("3", records), Outcome.QUERY)
    assert found.sentence == (
        f"12 device tests of session S1 were done by {tester}, who is not declared for it."
    )


@pytest.mark.parametrize("tester", ["OP-3", "op3", "Ottoline Marrow", None])
def test_device_tests_by_those_who_were_there_are_none(tester: str | None) -> None:
    records = change(clean_records(1), is_a(RecordKind.DEVICE_TEST), operator=tester)
    assert not [one for one in findings("3", records) if one.adverse]
