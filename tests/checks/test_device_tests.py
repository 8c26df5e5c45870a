"""Checks 4 and 5: tests before and after, fixed distance."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.model.fields import RecordKind
from evidpack.model.findings import Outcome
from evidpack.rules.ruleset import built_in, load_rule_set
from tests.checks.days import (
    METER,
    SIX,
    TESTS_LOG,
    Record,
    at,
    change,
    clean_day,
    clean_records,
    device_tests,
    drop,
    findings,
    is_a,
    only,
    reading,
    record,
)

SHIFT = load_rule_set(
    built_in("general").replace(b'value = "session"', b'value = "shift"', 1), path="shift"
)


def with_tests(tests: list[Record]) -> list[Record]:
    return [*drop(clean_records(), is_a(RecordKind.DEVICE_TEST)), *tests]


def test_six_tests_on_either_side_pass() -> None:
    found = findings("4", clean_day())
    assert [one.outcome for one in found] == [Outcome.PASS, Outcome.PASS]
    assert found[0].measured == list(SIX)


@pytest.mark.parametrize("name", SIX)
@pytest.mark.parametrize(
    ("side", "words"), [(0, "before the first reading"), (1, "after the last reading")]
)
def test_each_missing_test_is_named_with_its_side(name: str, side: int, words: str) -> None:
    tests = device_tests()
    tests.remove([one for one in tests if one.values["test"] == name][side])
    found = only(findings("4", with_tests(tests)), Outcome.FAIL)
    assert found.sentence.endswith(f"for: {name}.")
    assert words in found.sentence
    assert found.adverse


def test_no_closing_tests_at_all_is_one_finding() -> None:
    found = only(findings("4", with_tests(device_tests()[:6])), Outcome.FAIL)
    assert "after the last reading (capture 5)" in found.sentence


def test_no_tests_on_record_is_not_determinable() -> None:
    found = findings("4", with_tests([]))
    assert [one.outcome for one in found] == [Outcome.NOT_DETERMINABLE]
    assert found[0].adverse


def test_a_failed_test_fails() -> None:
    tests = change(device_tests(), is_a(RecordKind.DEVICE_TEST, test="zero"), result="fail")
    found = [one for one in findings("4", with_tests(tests)) if one.outcome is Outcome.FAIL]
    assert [one.measured for one in found] == ["zero", "zero"]


def again(result: str, clock: str) -> Record:
    return record(
        RecordKind.DEVICE_TEST,
        TESTS_LOG,
        50,
        session="S1",
        meter=METER,
        time=at(clock),
        test="zero",
        result=result,
        shown_speed_mph=0,
    )


def test_a_fail_that_was_passed_later_is_a_query() -> None:
    found = only(
        findings("4", with_tests([*device_tests(), again("fail", "09:05:00")])), Outcome.QUERY
    )
    assert "failed and was passed later, before the first reading" in found.sentence


def test_a_pass_that_failed_later_on_the_same_side_fails() -> None:
    only(findings("4", with_tests([*device_tests(), again("fail", "09:40:00")])), Outcome.FAIL)


def test_a_zero_test_that_shows_a_speed_fails_whatever_the_log_says() -> None:
    tests = device_tests()
    tests[5] = change([tests[5]], lambda _: True, shown_speed_mph=1)[0]
    found = only(findings("4", with_tests(tests)), Outcome.FAIL)
    assert "showed 1 mph on a target that stood still" in found.sentence


def test_a_test_between_the_readings_is_on_neither_side() -> None:
    tests = [one for one in device_tests() if one.values["test"] != "zero"]
    found = list(findings("4", with_tests([*tests, again("pass", "10:02:30")])))
    assert [one.outcome for one in found] == [Outcome.FAIL, Outcome.FAIL]


def test_tests_typed_to_the_minute_may_be_undecidable() -> None:
    tests = [
        one
        for one in device_tests()
        if one.values["test"] != "zero" or one.values["time"] > at("10:00:00")
    ]
    typed = record(
        RecordKind.DEVICE_TEST,
        "office/day.toml",
        77,
        session="S1",
        meter=METER,
        time=at("10:00:00"),
        test="zero",
        result="pass",
    )
    found = only(findings("4", with_tests([*tests, typed])), Outcome.NOT_DETERMINABLE)
    assert "can't be decided with these clocks: zero" in found.sentence
    assert not found.adverse


def test_tests_without_a_session_count_by_their_time() -> None:
    tests = change(device_tests(), lambda _: True, session=None)
    assert {one.outcome for one in findings("4", with_tests(tests))} == {Outcome.PASS}


def test_a_reading_outside_the_session_is_not_what_the_tests_have_to_bracket() -> None:
    records = change(
        clean_records(3), is_a(RecordKind.READING, capture="C001"), time=at("07:00:00"),
        opinion_time=at("06:59:57"),
    )  # fmt: skip
    found = findings("4", records)
    assert [one.outcome for one in found] == [Outcome.PASS, Outcome.PASS]
    assert "before the first reading (capture 2)" in found[0].sentence


def test_tests_on_another_meter_do_not_count_and_check_1_says_whose_they_are() -> None:
    tests = change(device_tests(), is_a(RecordKind.DEVICE_TEST, test="zero"), meter="TX-9")
    found = findings("4", with_tests(tests))
    assert {one.outcome for one in found} == {Outcome.NOT_DETERMINABLE}
    assert not any(one.adverse for one in found)
    assert "are on record for another meter only: zero" in found[0].sentence
    assert "tests of session S1 were done on meter TX-9" in only(
        [one for one in findings("1", with_tests(tests)) if one.adverse], Outcome.FAIL
    ).sentence.replace("Device tests", "tests")


def test_a_test_on_another_meter_before_does_not_hide_that_there_is_none_after() -> None:
    tests = device_tests()
    tests = [one for one in tests if one.values["test"] != "zero"] + [
        change([tests[5]], lambda _: True, meter="TX-9")[0]
    ]
    found = only(findings("4", with_tests(tests)), Outcome.FAIL)
    assert "after the last reading (capture 5) for: zero" in found.sentence


def test_a_session_without_readings_does_not_apply() -> None:
    only(findings("4", drop(clean_records(), is_a(RecordKind.READING))), Outcome.NOT_APPLICABLE)


def two_sessions() -> list[Record]:
    second = record(
        RecordKind.SESSION,
        "office/day.toml",
        11,
        id="S2",
        meter=METER,
        site="BR-7",
        start=at("11:00:00"),
        end=at("13:00:00"),
    )
    records = [*with_tests([*device_tests()[:6], *device_tests(last="12:50:00")[6:]]), second]
    later = change([reading(6, "12:00:00")], lambda _: True, session="S2")
    return [*records, *later]


def test_the_rule_set_says_whether_tests_bracket_a_session_or_a_shift() -> None:
    by_session = findings("4", two_sessions())
    by_shift = findings("4", two_sessions(), SHIFT)
    assert [one.subject for one in by_session if one.adverse] == ["session S2"]
    assert {one.outcome for one in by_shift} == {Outcome.PASS}
    assert {one.subject for one in by_shift} == {f"the shift of meter {METER}"}


@given(st.permutations(device_tests()))
def test_the_order_of_the_log_does_not_matter(tests: list[Record]) -> None:
    assert findings("4", with_tests(tests)) == findings("4", clean_day())


@pytest.mark.parametrize(
    ("measured", "surveyed", "outcome"),
    [
        (20.3, 20.0, Outcome.PASS),
        (20.31, 20.0, Outcome.FAIL),
        (50.0, 50.3, Outcome.PASS),
        (49.6, 50.0, Outcome.FAIL),
        (100.3, 100.0, Outcome.PASS),
        (0, 50, Outcome.FAIL),
        (-50, 50, Outcome.FAIL),
    ],
)
def test_the_fixed_distance_to_three_tenths_of_a_metre(
    measured: float, surveyed: float, outcome: Outcome
) -> None:
    """NHTSA lidar module 2.4: 0.3 m; 20.3 − 20.0 is 0.3 whatever floats make of it."""
    tests = change(
        device_tests()[:5],
        is_a(RecordKind.DEVICE_TEST, test="distance"),
        measured_m=measured,
        surveyed_m=surveyed,
    )
    found = findings("5", with_tests(tests))
    assert [one.outcome for one in found] == [outcome]
    assert found[0].limit == 0.3


def test_feet_are_compared_in_metres() -> None:
    tests = change(
        device_tests()[:5],
        is_a(RecordKind.DEVICE_TEST, test="distance"),
        measured_m=None,
        measured_ft=165,
        surveyed_m=50,
    )
    found = only(findings("5", with_tests(tests)), Outcome.PASS)
    assert found.measured == pytest.approx(165 * 0.3048 - 50, abs=1e-3)


@pytest.mark.parametrize("field", ["measured_m", "surveyed_m"])
def test_a_distance_that_is_not_stated_is_not_determinable(field: str) -> None:
    tests = change(device_tests(), is_a(RecordKind.DEVICE_TEST, test="distance"), **{field: None})
    found = findings("5", with_tests(tests))
    assert {one.outcome for one in found} == {Outcome.NOT_DETERMINABLE}
    assert all(one.adverse for one in found)


def test_no_distance_test_is_not_determinable() -> None:
    only(findings("5", with_tests([])), Outcome.NOT_DETERMINABLE)
