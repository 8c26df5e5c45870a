"""Check 15: site, order, limit, signs."""

from __future__ import annotations

import pytest

from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding, Outcome
from evidpack.model.values import JsonValue
from tests.checks.days import Record, change, clean_records, drop, findings, is_a, only, record

SITE, READING = is_a(RecordKind.SITE), is_a(RecordKind.READING)


def order(**more: JsonValue) -> Record:
    values: dict[str, JsonValue] = {
        "site": "br-7",
        "number": "TO-12",
        "limit_mph": 40,
        "from": "2026-05-01",
        "until": "2026-05-31",
        "signs_seen": "2026-05-13",
        **more,
    }
    kept = {name: value for name, value in values.items() if value is not None}
    return record(RecordKind.LIMIT_ORDER, "office/unit/orders.toml", 3, **kept)


def said(
    *more: Record, limit: float | None = 60, site: dict[str, JsonValue] | None = None
) -> list[Finding]:
    records = change(clean_records(2), READING, limit_mph=limit)
    found = findings("15", [*change(records, SITE, **(site or {})), *more])
    return [one for one in found if one.subject not in {"positions", "directions"}]


def test_an_authorised_site_with_its_limit_passes() -> None:
    assert [one.outcome for one in said()] == [Outcome.PASS, Outcome.PASS]


@pytest.mark.parametrize(
    ("dates", "outcome"),
    [
        ({"authorised_from": "2026-05-14", "authorised_until": "2026-05-14"}, Outcome.PASS),
        ({"authorised_until": None}, Outcome.PASS),
        ({"authorised_from": "2026-05-15"}, Outcome.FAIL),
        ({"authorised_until": "2026-05-13"}, Outcome.FAIL),
        ({"authorised_from": None}, Outcome.NOT_DETERMINABLE),
    ],
)
def test_the_dates_of_the_authorisation(dates: dict[str, JsonValue], outcome: Outcome) -> None:
    assert said(site=dates)[0].outcome is outcome


def test_a_site_that_is_not_on_record_fails_where_others_are() -> None:
    found = only(said(site={"id": "BR-8"}), Outcome.FAIL)
    assert "none of the 1 sites on record" in found.sentence


def test_no_site_records_at_all_is_not_determinable_and_required() -> None:
    found = only(findings("15", drop(clean_records(1), SITE)), Outcome.NOT_DETERMINABLE)
    assert found.adverse


def test_a_limit_that_is_not_the_sites_fails_by_capture() -> None:
    records = change(clean_records(3), is_a(RecordKind.READING, capture="C002"), limit_mph=50)
    found = only(findings("15", records), Outcome.FAIL)
    assert (found.subject, found.measured, found.limit) == ("capture 2", "50 mph", "60 mph")


def test_an_order_in_force_wins_over_the_site() -> None:
    found = said(order(), limit=40)
    assert {one.outcome for one in found} == {Outcome.PASS}
    assert "limit order TO-12" in found[-1].sentence
    assert "limit order TO-12 sets 40 mph" in only(said(order()), Outcome.FAIL).sentence


@pytest.mark.parametrize("dates", [{"from": "2026-05-15"}, {"until": "2026-05-13"}])
def test_an_order_that_was_not_in_force_explains_the_fail(dates: dict[str, JsonValue]) -> None:
    found = only(said(order(**dates), limit=40), Outcome.FAIL)
    assert "limit order TO-12 sets it, but was in force only" in found.sentence


@pytest.mark.parametrize(
    ("seen", "outcome"),
    [
        ("2026-05-14", Outcome.PASS),
        ("2026-04-13", Outcome.PASS),
        ("2026-04-12", Outcome.QUERY),
        ("2026-05-15", Outcome.QUERY),
        (None, Outcome.NOT_DETERMINABLE),
    ],
)
def test_the_signs_were_seen_before_the_session(seen: str | None, outcome: Outcome) -> None:
    found = [
        one for one in said(order(signs_seen=seen), limit=40) if one.subject == "limit order TO-12"
    ]
    assert [one.outcome for one in found] == [outcome]


def test_km_h_and_mph_limits_are_compared_exactly() -> None:
    records = change(clean_records(1), READING, limit_mph=None, limit_kmh=96.56064)
    assert only([one for one in findings("15", records) if "limit" in one.sentence], Outcome.PASS)
    assert only(findings("15", change(records, READING, limit_kmh=96.56)), Outcome.FAIL)


def test_no_limit_anywhere_is_not_determinable() -> None:
    found = only(said(site={"limit_mph": None}), Outcome.NOT_DETERMINABLE)
    assert found.adverse


SIGNS = "limit order TO-12"


def signs(**more: JsonValue) -> Finding:
    found = [one for one in said(order(**more), limit=40) if one.subject == SIGNS]
    assert len(found) == 1
    return found[0]


@pytest.mark.parametrize(
    ("seen", "missing", "outcome"),
    [
        ("2026-05-13", "2026-05-12", Outcome.PASS),  # put back and seen since
        ("2026-05-14", "2026-05-15", Outcome.PASS),  # seen at the session, missing only later
        ("2026-05-13", "2026-05-15", Outcome.QUERY),  # the session lies between both looks
        (None, "2026-05-15", Outcome.QUERY),
        ("2026-05-14", "2026-05-14", Outcome.QUERY),
        ("2026-05-13", "2026-05-14", Outcome.FAIL),
        ("2026-05-12", "2026-05-13", Outcome.FAIL),
        (None, "2026-05-14", Outcome.FAIL),
        ("2026-05-15", "2026-05-14", Outcome.QUERY),  # seen only after
    ],
)
def test_signs_found_missing(seen: str | None, missing: str, outcome: Outcome) -> None:
    found = signs(signs_seen=seen, signs_missing=missing)
    assert found.outcome is outcome
    if outcome is Outcome.FAIL:
        assert f"were found missing on {missing}, on or before session S1" in found.sentence
        assert found.measured == missing


@pytest.mark.parametrize(("limit", "adverse"), [(40, True), (59.9, True), (60, False), (70, False)])
def test_signs_are_required_where_the_order_lowers_the_limit(limit: float, adverse: bool) -> None:
    found = [
        one
        for one in said(order(limit_mph=limit, signs_seen=None), limit=limit)
        if one.subject == SIGNS
    ]
    assert only(found, Outcome.NOT_DETERMINABLE).adverse is adverse
    assert ("which sets a lower limit than the site's own" in found[0].sentence) is adverse


def test_the_sentence_names_the_days_and_the_limit_in_days() -> None:
    assert signs(signs_seen="2026-04-12").sentence == (
        "The signs of limit order TO-12 were last seen 32 days before session S1, more than 31."
    )


def test_an_order_that_ends_before_it_begins_is_a_query() -> None:
    found = only(said(order(**{"from": "2026-05-31", "until": "2026-05-01"})), Outcome.QUERY)
    assert "Limit order TO-12 is in force from 2026-05-31 to 2026-05-01" in found.sentence
