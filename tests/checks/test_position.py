"""Check 15: did the meter stand at its site? Distances against the nautical mile and geodesy."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.checks.position import Place, distance_m
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding, Outcome
from evidpack.model.values import JsonValue
from tests.checks.days import GENERAL, Record, adverse, change, clean_records, findings, is_a, only

SITE, SESSION, READING = (
    is_a(kind) for kind in (RecordKind.SITE, RecordKind.SESSION, RecordKind.READING)
)
HERE = {"latitude_deg": 56.5, "longitude_deg": 2.5}  # in the open sea


def metres_north(metres: float) -> dict[str, JsonValue]:
    return {**HERE, "latitude_deg": 56.5 + metres / 111_195}


def day(
    site: dict[str, JsonValue] | None = None,
    session: dict[str, JsonValue] | None = None,
    readings: dict[str, JsonValue] | None = None,
) -> list[Record]:
    records = change(clean_records(3), SITE, **(site or {}))
    records = change(records, SESSION, **(session or {}))
    return change(records, READING, **(readings or {}))


def about(records: list[Record]) -> list[Finding]:
    found = findings("15", records)
    return [one for one in found if " stood" in one.sentence or "degrees" in one.sentence]


def test_a_minute_of_arc_is_a_nautical_mile() -> None:
    """The nautical mile, 1852 m, was meant to be a minute of latitude; on a sphere of mean radius
    it is 1853.2 m."""
    apart = distance_m(Place(56.0, 2.0), Place(56.0 + 1 / 60, 2.0))
    assert apart == pytest.approx(1852, rel=1e-3)


def test_a_degree_of_longitude_shrinks_with_the_cosine_of_latitude() -> None:
    """111.32 km at the equator, half of that at 60 degrees (WGS 84 gives 55.80 km; from memory)."""
    assert distance_m(Place(0, 0), Place(0, 1)) == pytest.approx(111_195, abs=10)
    assert distance_m(Place(60, 0), Place(60, 1)) == pytest.approx(55_800, rel=6e-3)


def test_poles_and_date_line() -> None:
    assert distance_m(Place(90, 0), Place(-90, 0)) == pytest.approx(math.pi * 6_371_008.8)
    assert distance_m(Place(0, 179.9999), Place(0, -179.9999)) < 30


@given(
    st.tuples(st.floats(-90, 90), st.floats(-180, 180)),
    st.tuples(st.floats(-90, 90), st.floats(-180, 180)),
)
def test_distance_is_symmetric_and_never_more_than_half_round(
    a: tuple[float, float], b: tuple[float, float]
) -> None:
    one, other = Place(*a), Place(*b)
    assert distance_m(one, other) == pytest.approx(distance_m(other, one))
    assert 0 <= distance_m(one, other) <= math.pi * 6_371_009
    assert distance_m(one, one) == 0


@pytest.mark.parametrize(
    ("metres", "outcome"), [(0, Outcome.PASS), (99, Outcome.PASS), (101, Outcome.FAIL)]
)
def test_a_set_up_is_judged_by_its_distance_from_the_site(metres: float, outcome: Outcome) -> None:
    """100 m: general rule set."""
    found = only(about(day(site=HERE, session=metres_north(metres))), outcome)
    assert found.subject == "session S1"
    assert found.measured == pytest.approx(metres, abs=0.2)
    assert (found.limit, found.unit) == (100, "m")


def test_a_reading_taken_elsewhere_is_named() -> None:
    records = change(
        day(site=HERE, readings=metres_north(20)),
        is_a(RecordKind.READING, capture="C002"),
        **metres_north(800),
    )
    found = only(about(records), Outcome.FAIL)
    assert found.subject == "capture 2"
    assert "At capture 2 the meter stood 800" in found.sentence
    assert "site BR-7, more than 100 m" in found.sentence
    assert (
        "At captures 1, 3 the meter stood at most 20" in only(about(records), Outcome.PASS).sentence
    )
    assert [one.sentence for one in adverse(records)] == [found.sentence]


@pytest.mark.parametrize(
    "records",
    [day(), day(site=HERE), day(session=HERE), day(site=HERE, session={"latitude_deg": 1})],
)
def test_a_position_that_is_not_stated_is_not_determinable(records: list[Record]) -> None:
    found = only(about(records), Outcome.NOT_DETERMINABLE)
    assert "for session S1" in found.sentence
    assert not found.adverse


@pytest.mark.parametrize("odd", [{"latitude_deg": 91}, {"longitude_deg": -180.5}])
def test_a_position_that_does_not_exist_is_a_query(odd: dict[str, JsonValue]) -> None:
    assert (
        "there is no such place"
        in only(about(day(site=HERE, session={**HERE, **odd})), Outcome.QUERY).sentence
    )
    reading = about(day(site=HERE, readings={**HERE, **odd}))
    assert [one.outcome for one in reading] == [Outcome.QUERY] * 3


def test_an_unknown_site_near_a_known_one_is_a_query_and_far_from_it_fails() -> None:
    near = day(site={**HERE, "id": "BR-8"}, session=metres_north(40))
    found = only(findings("15", near), Outcome.QUERY)
    assert (
        "which is none of the 1 sites on record; the meter stood 40 m from site BR-8"
        in found.sentence
    )
    far = day(site={**HERE, "id": "BR-8"}, session=metres_north(400))
    assert "none of the 1 sites" in only(findings("15", far), Outcome.FAIL).sentence


def test_a_rule_set_without_the_limit_does_not_ask() -> None:
    values = {k: v for k, v in GENERAL.values.items() if k != "site_distance_limit"}
    found = findings(
        "15", day(site=HERE, session=metres_north(900)), replace(GENERAL, values=values)
    )
    assert only(found, Outcome.NOT_APPLICABLE).subject == "positions"


def test_a_limit_in_feet_is_converted() -> None:
    rule = replace(GENERAL.values["site_distance_limit"], value=100, unit="ft")
    rules = replace(GENERAL, values={**GENERAL.values, "site_distance_limit": rule})
    found = [
        one
        for one in findings("15", day(site=HERE, session=metres_north(31)), rules)
        if " stood" in one.sentence
    ]
    assert only(found, Outcome.FAIL).limit == pytest.approx(30.48)
