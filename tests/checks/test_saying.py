"""How findings are made: one place decides what is adverse."""

from __future__ import annotations

from sys import float_info

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.checks.saying import (
    Say,
    captures,
    figure,
    join_spans,
    measured_and_limit,
    names,
    runs,
    shown_value,
    spans,
    upper_first,
)
from evidpack.model.findings import Outcome
from evidpack.model.values import JsonValue
from tests.checks.days import GENERAL

SAY = Say(check="5", version=3, rules=GENERAL)
RULE = GENERAL.value("distance_tolerance")


def test_query_and_fail_are_adverse_and_pass_and_not_applicable_are_not() -> None:
    found = [
        SAY.query("x", "X.", "Y."),
        SAY.failed("x", "X.", "Y."),
        SAY.passed("x", "X."),
        SAY.not_applicable("x", "X."),
    ]
    assert [one.adverse for one in found] == [True, True, False, False]
    assert [one.undermines for one in found] == [True, True, False, False]
    assert {one.check_version for one in found} == {3}


@pytest.mark.parametrize(("needs", "adverse"), [("device_tests", True), ("opinion_time", False)])
def test_a_missing_input_is_adverse_where_the_rule_set_requires_it(
    needs: str, adverse: bool
) -> None:
    found = SAY.missing("x", "X.", "Y.", needs=needs)
    assert found.outcome is Outcome.NOT_DETERMINABLE
    assert (found.adverse, found.undermines) == (adverse, adverse)
    assert str(found.source).startswith(
        f"{needs} is {'required' if adverse else 'not required'} by rule set general"
    )


def test_an_input_that_nobody_knows_is_a_mistake_of_the_program() -> None:
    with pytest.raises(KeyError):
        SAY.missing("x", "X.", "Y.", needs="weather")


def test_a_rule_supplies_limit_unit_and_source() -> None:
    found = SAY.failed("x", "X.", "Y.", measured=0.4, rule=RULE)
    assert (found.limit, found.unit, found.source) == (0.3, "m", RULE.cite)
    other = SAY.failed("x", "X.", "Y.", rule=RULE, limit=1, unit="ft", source="s")
    assert (other.limit, other.unit, other.source) == (1, "ft", "s")


@pytest.mark.parametrize(
    ("numbers", "text"),
    [
        ([1], "capture 1"),
        ([2, 1, 3], "captures 1–3"),
        ([5, 1, 2, 1], "captures 1–2, 5"),
        ([4, 4], "capture 4"),
    ],
)
def test_captures_are_named_by_number(numbers: list[int], text: str) -> None:
    assert captures(numbers) == text


@given(st.sets(st.integers(0, 200), min_size=1))
def test_runs_hold_every_number_once_and_in_order(numbers: set[int]) -> None:
    found = runs(numbers)
    assert [n for low, high in found for n in range(low, high + 1)] == sorted(numbers)


def test_long_lists_are_cut_and_counted() -> None:
    assert spans(range(0, 100, 2), listed=2) == "0, 2 and 48 more"
    assert join_spans([(9_998, 2), (5, 6)], listed=1, count=7) == "9998–2 and others, 7 in all"
    assert names("abcd", listed=2) == "a, b and 2 more"


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (0.005, 0.01),
        (-0.001, 0.0),
        (1 / 3, 0.33),
        (float("inf"), float_info.max),
        (float("-inf"), -float_info.max),
    ],
)
def test_figures_are_rounded_and_always_fit_json(value: float, shown: float) -> None:
    assert figure(value) == pytest.approx(shown)
    assert str(figure(-1e-9)) == "0.0"


def test_only_the_first_letter_changes() -> None:
    assert upper_first("certificate CAL-1") == "Certificate CAL-1"
    assert upper_first("") == ""


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (96.08, "mph", "96.08 mph"),
        (40.0, "mph", "40 mph"),
        (1e-300, None, "1e-300"),
        (3, "1", "3"),
        (["self", "zero"], "names", "self, zero"),
        ([], "names", "none"),
        (True, None, "yes"),
        (None, "m", "none m"),
        ({"a": 1, "b": False}, None, "a: 1; b: no"),
        ("2026-05-14", "date", "2026-05-14"),
    ],
)
def test_values_are_shown_in_words(value: JsonValue, unit: str | None, shown: str) -> None:
    assert shown_value(value, unit) == shown


def test_measured_and_limit_stand_as_far_as_they_are_there() -> None:
    say = Say(check="1", version=1, rules=GENERAL)
    both = say.passed("day", "Said.", measured=3, limit=[20, 1000], unit="m")
    assert measured_and_limit(both) == "measured 3 m, limit 20, 1000 m"
    assert measured_and_limit(say.passed("day", "Said.", measured=False)) == "measured no"
    assert measured_and_limit(say.passed("day", "Said.")) == ""
