"""A day whose readings stand in columns has the findings of a day of single records."""

from __future__ import annotations

from array import array
from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.checks.clock_model import ClockLine, Comparison
from evidpack.checks.day_readings import Readings
from evidpack.checks.look import Look
from evidpack.checks.registry import run_checks
from evidpack.checks.saying import runs
from evidpack.model.day import Day
from evidpack.model.fields import RecordKind
from evidpack.model.records import Record
from evidpack.model.tables import RecordTable, instant_of
from evidpack.model.values import JsonValue
from tests.checks.days import (
    GENERAL,
    KMH,
    MPH,
    READINGS_LOG,
    at,
    clean_day,
    clean_records,
    day_of,
    record,
)

AMBIGUOUS: JsonValue = {
    "local": "2026-10-25T01:30:00",
    "status": "ambiguous",
    "instants": ["2026-10-25T01:30:00+01:00", "2026-10-25T01:30:00+00:00"],
}
NOT_PLACED: JsonValue = {"local": "2026-05-14T10:00:00", "status": "no zone", "instants": []}
TIMES = ("time", "opinion_time")


def as_table(records: Sequence[Record], lines: array[int] | None = None) -> RecordTable:
    """The same records in columns."""
    names = dict.fromkeys(name for one in records for name in one.values)
    columns = {name: [one.values.get(name) for one in records] for name in names}
    return RecordTable(
        kind=records[0].kind,
        path=READINGS_LOG,
        lines=array("q", [one.source.line or 0 for one in records]) if lines is None else lines,
        columns=columns,
        instants={
            name: [instant_of(value) for value in columns[name]]
            for name in TIMES
            if name in columns
        },
    )


def in_columns(day: Day) -> Day:
    """The day with its readings in a table, and its captures beside them."""
    readings = as_table(day.of(RecordKind.READING))
    captures = as_table(day.of(RecordKind.CAPTURE), readings.lines)
    tables = {RecordKind.READING: readings, RecordKind.CAPTURE: captures}
    return replace(day, records={**day.records, **tables})


_changes = st.lists(
    st.tuples(
        st.integers(0, 5),
        st.one_of(
            st.tuples(
                st.sampled_from(TIMES),
                st.sampled_from([at("10:02:05"), at("08:00:00"), AMBIGUOUS, NOT_PLACED, None]),
            ),
            st.tuples(st.sampled_from(["speed_mph", "speed_kmh", "limit_mph", "limit_kmh"]),
                      st.sampled_from([59, 71.5, 250, None])),
            st.tuples(st.sampled_from(["range_m", "range_ft"]), st.sampled_from([3, 612.5, None])),
            st.tuples(st.just("plate"), st.sampled_from(["ZZ1 AAA", "zz1aaa", None])),
            st.tuples(st.just("discarded"), st.booleans()),
            st.tuples(st.just("meter"), st.sampled_from(["TX 004711", "OTHER-1", None])),
            st.tuples(st.sampled_from(["pulse_times_s", "pulse_ranges_m"]), st.just(None)),
        ),
    ),
    max_size=8,
)  # fmt: skip


@given(_changes, st.sampled_from([GENERAL, MPH, KMH]), st.sampled_from(["S1", "S2", None]))
def test_columns_change_no_finding(
    changes: list[tuple[int, tuple[str, JsonValue]]], rules: object, session: str | None
) -> None:
    records = [dict(one.values) for one in clean_records(6) if one.kind is RecordKind.READING]
    for place, (name, value) in changes:
        records[place][name] = value
    made = iter(
        [{name: value for name, value in one.items() if value is not None} for one in records]
    )
    changed = [
        replace(one, values=next(made)) if one.kind is RecordKind.READING else one
        for one in clean_records(6)
    ]
    changed = [
        replace(one, values={**one.values, "session": session})
        if one.kind is RecordKind.CAPTURE and one.values["number"] == 3 and session is not None
        else one
        for one in changed
    ]
    day = day_of(changed)
    assert run_checks(in_columns(day), rules) == run_checks(day, rules)  # type: ignore[arg-type]


def _readings(day: Day) -> Readings:
    return Look(day, GENERAL).readings


def test_readings_stand_in_the_order_of_their_capture_numbers() -> None:
    records = [
        replace(one, values={**one.values, "number": 4 - int(str(one.values["number"]))})
        if one.kind is RecordKind.CAPTURE
        else one
        for one in clean_records(3)
    ]
    found = _readings(in_columns(day_of(records)))
    assert [(one.number, one.record.source.line) for one in found] == [(1, 4), (2, 3), (3, 2)]
    assert [one.at_s for one in found] == list(found.at_s)
    assert list(found.column("capture") or ()) == ["C003", "C002", "C001"]
    assert found.column("plate") is None


def test_a_reading_without_a_capture_counts_by_its_place() -> None:
    records = [one for one in clean_records(3) if one.kind is not RecordKind.CAPTURE]
    assert [one.number for one in _readings(day_of(records))] == [1, 2, 3]


def test_some_of_the_readings_have_some_of_each_column() -> None:
    look = Look(clean_day(6), GENERAL)
    some = look.readings.where([1, 4]).where([1])
    assert [(one.number, one.speed, one.range_m) for one in some] == [(5, 71.0, 185.0)]
    assert list(look.placed_of(some)) == [look.placements[5].at_s]
    assert list(look.readings.without_numbers({2, 3})) == [1, 4, 5, 6]
    assert [one.number for one in look.readings.with_numbers([9, 3, 1, 3])] == [1, 3]
    assert look.readings.place_of(7) is None
    assert len(look.readings.where(())) == 0
    assert [one.number for one in look.readings[4:]] == [5, 6]


def test_a_time_that_may_mean_two_instants_has_their_middle() -> None:
    day = day_of([record(RecordKind.READING, READINGS_LOG, 2, time=AMBIGUOUS)])
    (one,) = _readings(day)
    middle = instant_of("2026-10-25T01:00:00+00:00") / 1e6
    assert (one.at_s, one.half_width_s) == (middle, 1800.0)
    with pytest.raises(IndexError):
        _readings(day)[1]


def test_speed_and_range_keep_the_unit_in_which_they_were_exported() -> None:
    rows = [
        {"speed_kmh": 101, "range_ft": 100},
        {"speed_mph": 60.5, "range_m": 12},
        {"speed_mph": 60, "speed_kmh": 101},
    ]
    day = day_of(
        [
            record(RecordKind.READING, READINGS_LOG, line, time=at("10:00:00"), **row)
            for line, row in enumerate(rows, 2)
        ]
    )
    found = [(one.speed, one.speed_unit, one.range_m) for one in _readings(day)]
    assert found == [(101.0, "km/h", 30.48), (60.5, "mph", 12.0), (60.0, "mph", None)]


@given(st.lists(st.integers(-5, 60)))
def test_runs_are_the_same_for_a_range_a_list_and_in_any_order(numbers: list[int]) -> None:
    expected: list[tuple[int, int]] = []
    for number in sorted(set(numbers)):
        if expected and expected[-1][1] == number - 1:
            expected[-1] = (expected[-1][0], number)
        else:
            expected.append((number, number))
    assert runs(numbers) == runs(sorted(numbers)) == runs(set(numbers)) == expected
    assert runs(range(3, 3 + len(numbers))) == runs(list(range(3, 3 + len(numbers))))


_checks = st.lists(st.tuples(st.integers(0, 5_000), st.integers(-9, 9), st.booleans()), max_size=4)


@given(_checks, st.lists(st.floats(-1e4, 1e4), max_size=5))
def test_many_times_are_placed_as_each_by_itself(
    checks: list[tuple[int, int, bool]], times: list[float]
) -> None:
    line = ClockLine(
        "meter",
        1.0,
        [
            Comparison(
                clock_s=float(at_s + offset),
                reference_s=float(at_s),
                uncertainty_s=0.5,
                reset=reset,
            )
            for at_s, offset, reset in checks
        ],
        1e-5,
    )
    assert line.places_s(times) == [line.place(one).at_s for one in times]
