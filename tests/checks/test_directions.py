from __future__ import annotations

import pytest

from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding, Outcome
from evidpack.model.values import JsonValue
from tests.checks.days import Record, adverse, change, clean_records, findings, is_a, only

SITE, SESSION, READING = (
    is_a(kind) for kind in (RecordKind.SITE, RecordKind.SESSION, RecordKind.READING)
)


def day(
    site: dict[str, JsonValue] | None = None,
    session: dict[str, JsonValue] | None = None,
    readings: dict[str, JsonValue] | None = None,
) -> list[Record]:
    """Site BR-7 is authorised for northbound traffic; readings approach."""
    records = change(clean_records(3), SITE, **(site or {}))
    records = change(records, SESSION, **(session or {}))
    return change(records, READING, **(readings or {}))


def about(records: list[Record]) -> list[Finding]:
    found = findings("15", records)
    return [one for one in found if "traffic" in one.sentence or "direction" in one.sentence]


def test_a_set_up_in_the_authorised_direction_passes() -> None:
    found = only(about(day(session={"direction": "North-bound"})), Outcome.PASS)
    assert "measured North-bound traffic" in found.sentence


def test_a_set_up_in_another_direction_fails() -> None:
    found = only(about(day(session={"direction": "southbound"})), Outcome.FAIL)
    assert found.subject == "session S1"
    assert found.sentence == (
        "Session S1 measured southbound traffic, and site BR-7 is authorised for northbound."
    )
    assert (found.measured, found.limit) == ("southbound", "northbound")


@pytest.mark.parametrize(
    ("field", "site", "said", "other"),
    [
        ("direction", {"target": "approaching"}, "approaching", "receding"),
        ("travel", {}, "northbound", "southbound"),
    ],
)
def test_a_reading_of_other_traffic_fails_by_capture(
    field: str, site: dict[str, JsonValue], said: str, other: str
) -> None:
    records = day(site=site, readings={field: said, "pulse_times_s": None, "pulse_ranges_m": None})
    assert only(about(records), Outcome.PASS).measured == 3
    wrong = change(records, is_a(RecordKind.READING, capture="C002"), **{field: other})
    found = only(about(wrong), Outcome.FAIL)
    assert found.subject == "capture 2"
    assert f"{other.capitalize()} traffic is on record for capture 2" in found.sentence
    assert f"site BR-7 is authorised for {said} traffic" in found.sentence
    assert [one.sentence for one in adverse(wrong)] == [found.sentence]


def test_a_site_for_both_directions_passes_whatever_was_measured() -> None:
    records = day(site={"direction": "both", "target": "receding"}, session={"direction": "east"})
    assert "both directions" in only(about(records), Outcome.PASS).sentence


@pytest.mark.parametrize(
    "records",
    [
        day(),  # the site says northbound, the readings approach: these can't be compared
        day(site={"direction": None}, session={"direction": "northbound"}),
        day(site={"target": "approaching"}, readings={"direction": None}),
    ],
)
def test_directions_that_cannot_be_compared_are_not_determinable(records: list[Record]) -> None:
    found = only(about(records), Outcome.NOT_DETERMINABLE)
    assert found.subject == "directions"
    assert not found.adverse
