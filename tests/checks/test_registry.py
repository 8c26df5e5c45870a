"""The register of checks, explanations, and the laws that hold for all of them."""

from __future__ import annotations

import json
import time
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evidpack.checks.definition import Phase
from evidpack.checks.explain import explain
from evidpack.checks.formulas import FORMULAS, KEYS_READ
from evidpack.checks.registry import CHECKS, check, run_checks
from evidpack.checks.workings import WORKINGS
from evidpack.errors import UsageError
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Outcome
from evidpack.rules.keys import INPUTS, KEYS
from tests.checks.days import (
    GENERAL,
    KMH,
    MPH,
    READINGS_LOG,
    Record,
    Source,
    at,
    change,
    clean_day,
    clean_records,
    day_of,
    drop,
    is_a,
    seconds_later,
)

NUMBERS = ["1", "2", "2b", "2c", *map(str, range(3, 21))]


def test_every_check_of_the_table_is_registered_once_in_order() -> None:
    assert [one.number for one in CHECKS] == NUMBERS
    assert all(one.version >= 1 and one.title and one.source for one in CHECKS)
    assert {one.number for one in CHECKS if one.phase is Phase.LATER} == {"2c", "20"}
    assert {one.number for one in CHECKS if one.phase is Phase.RELEASE} == {"19"}


def test_every_input_key_and_formula_has_a_name_that_exists() -> None:
    assert {name for one in CHECKS for name in one.inputs} <= set(INPUTS)
    assert set(FORMULAS) == set(NUMBERS)
    assert {key for keys in KEYS_READ.values() for key in keys} <= set(KEYS)
    assert set(WORKINGS) <= set(NUMBERS)


def test_every_key_of_a_rule_set_is_read_by_a_check() -> None:
    assert {key for keys in KEYS_READ.values() for key in keys} == set(KEYS)


def test_an_unknown_check_is_refused_by_name() -> None:
    with pytest.raises(UsageError, match="there is no check '21'"):
        check("21")
    assert check("2B").number == "2b"


@pytest.mark.parametrize("rules", [GENERAL, MPH, KMH], ids=lambda one: one.name)
@pytest.mark.parametrize("count", [1, 2, 30])
def test_a_clean_day_has_nothing_adverse(rules, count: int) -> None:
    found = run_checks(clean_day(count), rules)
    assert [one.sentence for one in found if one.adverse] == []
    assert sum(one.outcome is Outcome.PASS for one in found) > 20


def test_a_clean_day_in_km_h_has_nothing_adverse() -> None:
    def metric(one: Record) -> Record:
        values = {
            (
                "speed_kmh" if name == "speed_mph" else "limit_kmh" if name == "limit_mph" else name
            ): (round(float(value) * 1.609344) if name in {"speed_mph", "limit_mph"} else value)
            for name, value in one.values.items()
        }
        return replace(one, values=values)

    records = [
        metric(one) if one.kind in {RecordKind.READING, RecordKind.SITE} else one
        for one in clean_records()
    ]
    assert [one.sentence for one in run_checks(day_of(records), KMH) if one.adverse] == []


def test_an_empty_day_ends_in_findings_not_in_a_traceback() -> None:
    found = run_checks(day_of([]), GENERAL, later=True)
    assert {one.check for one in found} >= {"1", "10", "19"}
    assert Outcome.PASS not in {one.outcome for one in found}


def test_findings_are_what_a_ledger_entry_can_hold() -> None:
    for one in run_checks(clean_day(), MPH, later=True):
        assert json.loads(json.dumps(one.to_values(), allow_nan=False)) == one.to_values()
        assert one.sentence.endswith(".")
        assert "\n" not in one.sentence


def test_a_query_or_a_fail_always_says_what_to_do_and_by_which_limit() -> None:
    records = clean_records(3)
    broken = change(
        records, is_a(RecordKind.READING), speed_mph=200, range_m=5, meter="XX", limit_mph=20
    )
    broken = change(broken, is_a(RecordKind.CERTIFICATE), valid_until="2020-01-01", type="QQ")
    found = [one for one in run_checks(day_of(broken), GENERAL) if one.adverse]
    assert len(found) > 6
    assert all(one.advice and one.advice.endswith(".") for one in found)
    assert all(one.source for one in found)


@settings(max_examples=25, deadline=None)
@given(st.permutations(clean_records(4)))
def test_the_order_of_the_records_changes_nothing(records: list[Record]) -> None:
    assert run_checks(day_of(records), MPH, later=True) == run_checks(clean_day(4), MPH, later=True)


@settings(max_examples=60, deadline=None)
@given(st.sets(st.integers(0, 40)))
def test_taking_records_away_never_ends_in_a_traceback_and_never_adds_a_pass_of_tests(
    gone: set[int],
) -> None:
    records = [one for n, one in enumerate(clean_records(3)) if n not in gone]
    found = run_checks(day_of(records), MPH, later=True)
    tests = [one for one in found if one.check == "4" and one.outcome is Outcome.PASS]
    whole = [
        one
        for one in run_checks(clean_day(3), MPH)
        if one.check == "4" and one.outcome is Outcome.PASS
    ]
    assert len(tests) <= len(whole)


@pytest.mark.parametrize(
    "kind", [one for one in RecordKind if any(r.kind is one for r in clean_records(1))]
)
def test_without_one_kind_of_record_nothing_passes_that_needs_it(kind: RecordKind) -> None:
    needs = {
        RecordKind.SESSION: "2",
        RecordKind.CERTIFICATE: "2",
        RecordKind.DEVICE_TEST: "4",
        RecordKind.CLOCK_CHECK: "6",
        RecordKind.READING: "10",
        RecordKind.STILL: "8",
        RecordKind.SITE: "15",
        RecordKind.REPORT: "17",
        RecordKind.METER: "3",
    }
    found = run_checks(day_of(drop(clean_records(3), is_a(kind))), GENERAL)
    if kind in needs:
        about = [one.outcome for one in found if one.check == needs[kind]]
        assert about or kind is RecordKind.SESSION
        assert Outcome.PASS not in about


@pytest.mark.parametrize("number", NUMBERS)
def test_an_explanation_shows_formula_limits_inputs_and_findings(number: str) -> None:
    text = explain(number, clean_day(2), MPH)
    for heading in ("Computation", "Limits, from rule set example_mph", "Inputs", "Findings"):
        assert f"\n{heading}" in text
    assert text.startswith(f"Check {number}: {check(number).title}")
    assert FORMULAS[number][0] in text
    assert ("\nNumbers\n" in text) is (number in WORKINGS)


@pytest.mark.parametrize(
    ("number", "figures"),
    [
        ("1", "certificate CAL-0815: serial TX-004711 (tx004711), type TX laser (txlaser)"),
        ("3", "certificate OPC-3: type TX laser, 2025-01-01 to 2027-12-31"),
        ("4", "self pass on TX-004711: 2026-05-14T08:09:59.00Z (U 0.45 s); before the first: yes"),
        ("8", "counter image runs from 1 to 9999, then again from 1; seen 2: 101–102"),
        ("8", "report expects 101 to 102 [office/day.toml:40]"),
        ("11", "camera TX-004711, 640 × 480, JPEG; thumbnail none"),
        ("2b", "e = +0.2, U = 0.3, w = 0.3 mph; upper: TH − w = 0.7"),
        ("5", "|50.1 m − 50 m| = 0.1 m"),
        ("6", "o = +1.000 s, U = 0.5 s"),
        ("7", "offset +1.000 s (U 0.35 s), reconciled 2026-05-14T09:00:04.00Z"),
        ("10", "n = 31, b = -31.7398 m/s = 71.000 mph"),
        ("14", "x = 5 m, y = 6 m, R = 181 m: factor 0.999069"),
        ("16", "raw 71 mph, limit 60 mph; kept 71 against 68 mph: reached"),
        ("20", "captures 1–2: offence 2026-05-14"),
    ],
)
def test_an_explanation_shows_the_numbers_of_the_computation(number: str, figures: str) -> None:
    assert figures in explain(number, clean_day(2), MPH)


def test_a_long_explanation_is_cut_and_says_so() -> None:
    assert "more lines" not in explain("16", clean_day(60), MPH)
    readings = [one for one in clean_records(60) if one.kind is RecordKind.READING]
    copies = [
        replace(one, source=Source(path=READINGS_LOG, line=n)) for n, one in enumerate(readings * 5)
    ]
    assert "… and 100 more lines of this kind" in explain(
        "16", day_of([*clean_records(1)[:8], *copies]), MPH
    )


EXTREMES = [0, -0.0, -1, 1e-300, -1e-300, 1e300, -1e300, 1.7e308, 2**53 - 1, 0.1, 1e16 + 2]


@settings(max_examples=120, deadline=None)
@given(st.data())
def test_impossible_numbers_end_in_findings_that_json_can_hold(data: st.DataObject) -> None:
    """Every number of some records replaced by an extreme one: no traceback, no NaN."""

    def wild(one: Record) -> Record:
        values = {
            name: (
                data.draw(st.sampled_from(EXTREMES))
                if isinstance(value, (int, float))
                and not isinstance(value, bool)
                and name != "number"
                else value
            )
            for name, value in one.values.items()
        }
        return replace(one, values=values)

    records = clean_records(3)
    chosen = data.draw(st.sets(st.integers(0, len(records) - 1), min_size=1, max_size=6))
    day = day_of([wild(one) if n in chosen else one for n, one in enumerate(records)])
    for rules in (MPH, KMH):
        for one in run_checks(day, rules, later=True):
            json.dumps(one.to_values(), allow_nan=False)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_wild_times_end_in_findings(data: st.DataObject) -> None:
    stamps = [
        "0001-01-01T00:00:00+00:00",
        "9999-12-31T23:59:59+00:00",
        "0001-01-01T00:00:00+14:00",
        "9999-12-31T23:59:59-12:00",
        "1970-01-01T00:00:00+00:00",
        "2038-01-19T03:14:08+00:00",
        {"local": "2026-10-25T01:30:00", "status": "no zone", "instants": []},
        {"local": "2026-03-29T01:30:00", "status": "nonexistent", "instants": []},
        {
            "local": "2026-10-25T01:30:00",
            "status": "ambiguous",
            "instants": ["2026-10-25T01:30:00+01:00", "2026-10-25T01:30:00+00:00"],
        },
    ]
    names = {"time", "opinion_time", "reference_time", "start", "end", "signed"}

    def wild(one: Record) -> Record:
        values = {
            name: data.draw(st.sampled_from(stamps)) if name in names else value
            for name, value in one.values.items()
        }
        return replace(one, values=values)

    records = clean_records(2)
    chosen = data.draw(st.sets(st.integers(0, len(records) - 1), min_size=1, max_size=6))
    day = day_of([wild(one) if n in chosen else one for n, one in enumerate(records)])
    for one in run_checks(day, MPH, later=True):
        json.dumps(one.to_values(), allow_nan=False)
    for number in NUMBERS:
        assert explain(number, day, MPH)


def big_day(count: int):
    base = drop(
        clean_records(1),
        lambda one: one.kind in {RecordKind.READING, RecordKind.STILL, RecordKind.CAPTURE},
    )
    start = at("09:30:00")
    records = []
    for n in range(1, count + 1):
        source = Source(path=READINGS_LOG, line=n + 1)
        values = {
            "session": "S1",
            "meter": "TX-004711",
            "time": seconds_later(start, n * 0.04),
            "speed_mph": 71,
            "range_m": 100.0,
            "limit_mph": 60,
        }
        records.append(Record(kind=RecordKind.READING, source=source, values=values))
        records.append(
            Record(
                kind=RecordKind.CAPTURE,
                source=source,
                values={"number": n, "stills": [], "clips": [], "session": "S1"},
            )
        )
    return day_of([*base, *records])


def test_many_readings_give_few_findings_in_linear_time() -> None:
    """A day ten times as large takes about ten times as long and no more findings."""
    seconds, counts = [], []
    for count in (2_000, 20_000):
        day = big_day(count)
        started = time.process_time()
        counts.append(len(run_checks(day, MPH)))
        seconds.append(time.process_time() - started)
    assert all(a == b for a, b in pairwise(counts))
    assert seconds[1] < 40 * max(seconds[0], 0.01)
