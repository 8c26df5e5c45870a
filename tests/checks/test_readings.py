"""Check 10: window, speed, pulse trains."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding, Outcome
from evidpack.model.values import JsonValue
from tests.checks.days import (
    Record,
    clean_day,
    clean_records,
    drop,
    findings,
    is_a,
    only,
    pulses,
    reading,
    record,
)

MPH = 0.44704


def said(*readings: Record, more: list[Record] | None = None) -> tuple[Finding, ...]:
    """What check 10 says, but for whether there is an approval."""
    base = drop(clean_records(1), is_a(RecordKind.READING))
    found = findings("10", [*base, *(more or []), *readings])
    return tuple(one for one in found if "No approval" not in one.sentence)


def approval(**values: JsonValue) -> Record:
    return record(
        RecordKind.CERTIFICATE,
        "office/unit/a.toml",
        1,
        certificate="approval",
        number="TA-1",
        type="tx LASER",
        **values,
    )


def test_a_clean_day_passes() -> None:
    found = findings("10", [*clean_records(5), approval()])
    assert {one.outcome for one in found} == {Outcome.PASS}


@pytest.mark.parametrize(
    ("range_m", "outcome"),
    [
        (20, Outcome.PASS),
        (1000, Outcome.PASS),
        (19.9, Outcome.FAIL),
        (1000.1, Outcome.FAIL),
        (0, Outcome.FAIL),
        (-50, Outcome.FAIL),
    ],
)
def test_the_range_window(range_m: float, outcome: Outcome) -> None:
    found = [
        one
        for one in said(reading(1, "10:00:05", range_m=range_m))
        if one.unit == "m" and "measured" in one.sentence
    ]
    assert [one.outcome for one in found] == [outcome]


def test_feet_are_compared_in_metres() -> None:
    found = said(reading(1, "10:00:05", range_m=None, range_ft=65))
    assert "at 19.812 m, outside 20 to 1000 m" in only(found, Outcome.FAIL).sentence


def test_an_approval_for_the_type_wins_over_the_rule_set() -> None:
    found = said(
        reading(1, "10:00:05", range_m=700), more=[approval(range_min_m=30, range_max_m=600)]
    )
    failed = only(found, Outcome.FAIL)
    assert (failed.limit, failed.source) == ("30 to 600", "approval TA-1")


def test_an_approval_for_another_type_does_not_count() -> None:
    other = record(
        RecordKind.CERTIFICATE,
        "office/unit/a.toml",
        1,
        certificate="approval",
        number="TA-2",
        type="TY laser",
        range_max_m=100,
    )
    assert {one.outcome for one in said(reading(1, "10:00:05"), more=[other])} == {Outcome.PASS}


def test_a_missing_range_is_not_determinable_and_required() -> None:
    found = only(said(reading(1, "10:00:05", range_m=None)), Outcome.NOT_DETERMINABLE)
    assert found.adverse
    assert "capture 1" in found.sentence


@pytest.mark.parametrize(
    ("speed", "outcome"),
    [(-1, Outcome.FAIL), (9, Outcome.FAIL), (10, Outcome.PASS), (181, Outcome.FAIL)],
)
def test_the_speed_window_of_the_approval(speed: float, outcome: Outcome) -> None:
    one = reading(1, "10:00:05", speed=speed, **pulses(speed * MPH, 181))
    found = said(one, more=[approval(speed_min_mph=10, speed_max_mph=180)])
    assert (Outcome.FAIL in {each.outcome for each in found}) is (outcome is Outcome.FAIL)


def test_a_negative_speed_is_outside_every_window() -> None:
    found = only(
        said(reading(1, "10:00:05", speed=-40, **pulses(40 * MPH, 181), direction=None)),
        Outcome.FAIL,
    )
    assert "shows -40 mph" in found.sentence


def test_a_reading_without_a_speed_is_a_query() -> None:
    found = said(reading(1, "10:00:05", speed_mph=None))
    assert "The speed is not on record for capture 1" in only(found, Outcome.QUERY).sentence


@pytest.mark.parametrize(
    ("actual", "outcome"),
    [
        (71, Outcome.PASS),
        (70.4, Outcome.PASS),
        (71.999, Outcome.PASS),
        (70.001, Outcome.PASS),
        (72.1, Outcome.QUERY),
        (69.9, Outcome.QUERY),
        (68, Outcome.QUERY),
    ],
)
def test_slope_against_the_speed_shown_with_the_displays_step(
    actual: float, outcome: Outcome
) -> None:
    """Noiseless pulses: only the display step of 1 mph is allowed, however it rounds."""
    found = said(reading(1, "10:00:05", **pulses(actual * MPH, 181, count=301, gap_s=0.001)))
    assert (Outcome.QUERY in {one.outcome for one in found}) is (outcome is Outcome.QUERY)


def test_a_disagreement_is_a_query_with_both_figures() -> None:
    found = only(said(reading(1, "10:00:05", **pulses(74 * MPH, 181))), Outcome.QUERY)
    assert "give 74.0 mph, but 71 mph was shown" in found.sentence
    assert found.measured == pytest.approx(74, abs=0.01)


def test_the_display_of_a_finer_log_is_held_to_its_own_step() -> None:
    fine = reading(2, "10:01:05", speed=70.4, **pulses(70.4 * MPH, 182))
    found = said(reading(1, "10:00:05", **pulses(71.5 * MPH, 181)), fine)
    assert "display and scatter allow 0.1 mph" in only(found, Outcome.QUERY).sentence


def test_scatter_widens_what_is_allowed_but_not_without_end() -> None:
    source = random.Random(3)
    noisy = pulses(71 * MPH, 181)
    ranges = noisy["pulse_ranges_m"]
    assert isinstance(ranges, list)
    wild: list[JsonValue] = [float(str(one)) + source.gauss(0, 0.8) for one in ranges]
    found = said(reading(1, "10:00:05", pulse_times_s=noisy["pulse_times_s"], pulse_ranges_m=wild))
    assert Outcome.PASS not in {one.outcome for one in found if "slope" in one.sentence}


def test_a_sawtooth_fails() -> None:
    """NHTSA lidar module 2.11.2: 1.52 m in 200 ms."""
    times: list[JsonValue] = [round(0.01 * n, 3) for n in range(31)]
    ranges: list[JsonValue] = [100 - 7.6 * ((0.01 * n + 0.05) % 0.2) for n in range(31)]
    found = only(
        said(reading(1, "10:00:05", pulse_times_s=times, pulse_ranges_m=ranges)), Outcome.FAIL
    )
    assert "as an error trap does" in found.sentence
    assert found.measured == pytest.approx(1.52, abs=0.1)


def test_a_linear_sweep_reads_as_speed_and_is_not_found() -> None:
    swept = pulses(71 * MPH + 1.0, 181)
    found = said(reading(1, "10:00:05", speed=round((71 * MPH + 1) / MPH), **swept))
    assert {one.outcome for one in found} == {Outcome.PASS}


def test_a_range_that_is_not_among_those_of_the_pulses_is_a_query() -> None:
    """Room: a step of 0.1 m as shown, and 0.3 m of range accuracy (NHTSA lidar module 2.4)."""
    train = pulses(71 * MPH, 181)  # from 181 m to about 171.5 m
    for range_m in (171.2, 175, 181.3):
        shown = said(reading(1, "10:00:05", range_m=range_m, **train))
        assert not [one for one in shown if one.adverse], range_m
    found = only(said(reading(1, "10:00:05", range_m=593.8, **train)), Outcome.QUERY)
    assert "shows a range of 593.8 m, but its pulses were 171.48 to 181 m away" in found.sentence
    assert "2.4" in (found.source or "")


def test_a_unit_that_is_declared_wrongly_is_told_once_for_all_readings() -> None:
    base = drop(clean_records(1), is_a(RecordKind.READING))
    slow = [
        reading(n, f"10:0{n}:05", speed=60 + n, **pulses((60 + n) * MPH / 1000, 180.0 + n))
        for n in range(1, 5)
    ]
    found = only(findings("10", [*base, *slow]), Outcome.QUERY)
    assert found.subject == "captures 1–4"
    assert "all give 0.001 times the speed that was shown, as if a unit" in found.sentence


def test_readings_that_are_wrong_each_in_its_own_way_are_told_one_by_one() -> None:
    base = drop(clean_records(1), is_a(RecordKind.READING))
    wrong = [
        reading(n, f"10:0{n}:05", speed=60, **pulses((60 + 10 * n) * MPH, 180.0 + n))
        for n in range(1, 5)
    ]
    found = [one.subject for one in findings("10", [*base, *wrong]) if one.adverse]
    assert found == [f"capture {n}" for n in range(1, 5)]


def test_a_negative_speed_is_told_once() -> None:
    found = [one for one in said(reading(1, "10:00:05", speed=-71, **pulses(71 * MPH, 181)))
             if one.adverse]  # fmt: skip
    assert [(one.outcome, one.limit) for one in found] == [
        (Outcome.FAIL, "0 to no upper limit stated")
    ]


@pytest.mark.parametrize(
    ("dates", "outcome"),
    [
        ({}, Outcome.PASS),
        ({"valid_from": "2026-05-14", "valid_until": "2026-05-14"}, Outcome.PASS),
        ({"valid_until": "2026-05-13"}, Outcome.QUERY),
        ({"valid_from": "2026-05-15"}, Outcome.QUERY),
    ],
)
def test_an_approval_that_was_not_in_force_is_a_query(
    dates: dict[str, JsonValue], outcome: Outcome
) -> None:
    found = findings("10", [*clean_records(1), approval(range_max_m=400, **dates)])
    assert outcome in {one.outcome for one in found}
    asked = [one for one in found if one.outcome is Outcome.QUERY]
    assert (outcome is Outcome.QUERY) == bool(asked)
    assert all("Approval TA-1 is valid" in one.sentence for one in asked)
    assert any("within 20 to 400 m" in one.sentence for one in found)


def test_an_approval_in_force_is_taken_before_a_later_one_that_is_not() -> None:
    now = approval(issued="2024-01-01", range_max_m=400)
    later = approval(issued="2026-07-01", valid_from="2026-07-01", range_max_m=100)
    found = findings("10", [*clean_records(1), now, later])
    assert not [one for one in found if one.adverse]


def test_without_an_approval_for_the_type_the_rule_set_is_said_to_count() -> None:
    found = only(findings("10", clean_records(1)), Outcome.NOT_DETERMINABLE)
    assert "the limits of the rule set are used" in found.sentence
    assert not found.adverse


def test_the_direction_is_compared_with_the_sign_of_the_slope() -> None:
    found = only(said(reading(1, "10:00:05", direction="receding")), Outcome.QUERY)
    assert "show a target that is approaching, but receding is on record" in found.sentence


@pytest.mark.parametrize(
    "series",
    [
        {"pulse_times_s": [0.0, 0.1], "pulse_ranges_m": [100.0, 97.0]},
        {"pulse_times_s": [0.0, 0.1, 0.2], "pulse_ranges_m": [100.0, 97.0]},
        {"pulse_times_s": [0.0, 0.2, 0.1], "pulse_ranges_m": [100.0, 97.0, 94.0]},
        {"pulse_times_s": None},
    ],
)
def test_pulses_that_do_not_belong_together_are_a_query(series: dict[str, JsonValue]) -> None:
    found = only(said(reading(1, "10:00:05", **series)), Outcome.QUERY)
    assert "don't belong together" in found.sentence


def test_readings_without_pulses_are_listed_apart() -> None:
    found = only(
        said(reading(1, "10:00:05", pulse_times_s=None, pulse_ranges_m=None)),
        Outcome.NOT_DETERMINABLE,
    )
    assert not found.adverse


def test_a_day_without_readings_does_not_apply() -> None:
    only(findings("10", []), Outcome.NOT_APPLICABLE)


@given(st.floats(20, 150))
def test_mph_and_km_h_and_m_s_are_judged_alike(speed_mps: float) -> None:
    """Unit invariance: a display of whole units, in whichever, agrees with its own pulses."""
    train = pulses(speed_mps, 500)
    outcomes = []
    for unit, factor in (("mph", MPH), ("kmh", 1 / 3.6), ("mps", 1.0)):
        shown: dict[str, JsonValue] = {
            "speed_mph": None,
            "range_m": 500,
            **train,
            f"speed_{unit}": round(speed_mps / factor),
        }
        one = reading(1, "10:00:05", **shown)
        outcomes.append({each.outcome for each in said(one)})
    assert outcomes == [{Outcome.PASS}] * 3


@given(st.permutations(clean_records(4)))
def test_the_order_of_the_records_does_not_matter(records: list[Record]) -> None:
    assert findings("10", records) == findings("10", clean_day(4))
