"""Check 8: image numbers."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.model.day import Counter
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding, Outcome
from evidpack.model.values import JsonValue
from tests.checks.days import (
    CHECKS_LOG,
    Record,
    clean_day,
    clean_records,
    day_of,
    drop,
    findings,
    is_a,
    only,
    record,
    still,
    with_counters,
)

FOUR_DIGITS = Counter(name="image", modulus=10000, first=1)


def numbered(
    numbers: list[int],
    *,
    ends: tuple[int, int] | None = None,
    deletions: list[Record] | None = None,
    counter: Counter = FOUR_DIGITS,
) -> tuple[Finding, ...]:
    records = [
        still(n, "10:00:05", image_number=number, captures=[])
        for n, number in enumerate(numbers, 1)
    ]
    if ends is not None:
        records.append(
            record(RecordKind.REPORT, CHECKS_LOG, 40, image_first=ends[0], image_last=ends[1])
        )
    return findings("8", with_counters(day_of([*records, *(deletions or [])]), counter))


def deletion(first: int, last: int, **more: JsonValue) -> Record:
    return record(
        RecordKind.DELETION,
        CHECKS_LOG,
        50 + first,
        image_first=first,
        image_last=last,
        reason="test shot",
        by="OP-3",
        **more,
    )


def test_a_clean_day_passes() -> None:
    assert [one.outcome for one in findings("8", clean_day())] == [Outcome.PASS]


@pytest.mark.parametrize(
    ("numbers", "missing"),
    [([1, 2, 4], "3"), ([5, 9], "6–8"), ([1, 3, 5], "2, 4")],
)
def test_a_gap_fails_and_names_the_numbers(numbers: list[int], missing: str) -> None:
    found = only(numbered(numbers, ends=(numbers[0], numbers[-1])), Outcome.FAIL)
    assert found.sentence.endswith(f"without explanation: {missing}.")
    assert found.limit == 0


@pytest.mark.parametrize(
    ("ends", "missing"), [((1, 6), "6"), ((0, 5), None), ((1, 5), None), ((9998, 5), "9998–9999")]
)
def test_the_report_tells_losses_at_the_ends(ends: tuple[int, int], missing: str | None) -> None:
    counter = Counter(name="image", modulus=10000, first=0) if ends[0] == 0 else FOUR_DIGITS
    numbers = [0, 1, 2, 3, 4, 5] if ends[0] == 0 else [1, 2, 3, 4, 5]
    found = numbered(numbers, ends=ends, counter=counter)
    if missing is None:
        assert [one.outcome for one in found] == [Outcome.PASS]
    else:
        assert only(found, Outcome.FAIL).sentence.endswith(f": {missing}.")


def test_without_a_report_losses_at_the_ends_are_not_determinable() -> None:
    found = only(numbered([1, 2, 3]), Outcome.NOT_DETERMINABLE)
    assert "losses at the ends can't be told" in found.sentence
    assert not found.adverse


def test_a_roll_over_is_no_gap() -> None:
    numbers = [9997, 9998, 9999, 1, 2, 3]
    assert [one.outcome for one in numbered(numbers, ends=(9997, 3))] == [Outcome.PASS]


@pytest.mark.parametrize(
    ("numbers", "missing"),
    [([9997, 9999, 1, 2], "9998"), ([9998, 9999, 2, 3], "1"), ([9998, 3], "others")],
)
def test_a_gap_across_a_roll_over_is_found(numbers: list[int], missing: str) -> None:
    found = numbered(numbers, ends=(numbers[0], numbers[-1]))
    assert only(found, Outcome.FAIL).measured == (1 if missing != "others" else 3)


def test_an_undeclared_modulus_is_not_determinable_and_required() -> None:
    found = numbered([1, 2, 3], ends=(1, 3), counter=Counter(name="image", modulus=None, first=1))
    assert "roll-over can't be told from a gap" in only(found, Outcome.NOT_DETERMINABLE).sentence
    assert only(found, Outcome.NOT_DETERMINABLE).adverse


def test_a_repeated_number_is_a_query() -> None:
    found = only(numbered([1, 2, 2, 3], ends=(1, 3)), Outcome.QUERY)
    assert "more than once: 2" in found.sentence


def test_a_number_that_the_counter_can_not_show_is_a_query() -> None:
    found = only(numbered([1, 2, 10000], ends=(1, 2)), Outcome.QUERY)
    assert "can't show 10000" in found.sentence


def test_a_deletion_note_explains_a_gap_and_is_to_be_considered() -> None:
    found = numbered([1, 2, 5], ends=(1, 5), deletions=[deletion(3, 4)])
    assert {one.outcome for one in found} == {Outcome.PASS}
    note = next(one for one in found if "deletion note" in one.sentence)
    assert note.undermines
    assert not note.adverse
    assert "3–4" in note.sentence


def test_a_deletion_note_over_the_roll_over_explains_its_gap() -> None:
    found = numbered([9998, 2, 3], ends=(9998, 3), deletions=[deletion(9999, 1)])
    assert {one.outcome for one in found} == {Outcome.PASS}


def test_a_note_that_explains_half_a_gap_leaves_the_rest() -> None:
    found = numbered([1, 2, 6], ends=(1, 6), deletions=[deletion(3, 4)])
    assert only(found, Outcome.FAIL).sentence.endswith(": 5.")


def test_a_note_of_another_counter_explains_nothing() -> None:
    found = numbered([1, 3], ends=(1, 3), deletions=[deletion(2, 2, counter="video")])
    assert only(found, Outcome.FAIL).measured == 1


def test_a_note_about_numbers_that_are_there_is_a_query() -> None:
    found = only(numbered([1, 2, 3], ends=(1, 3), deletions=[deletion(2, 2)]), Outcome.QUERY)
    assert "covers image numbers that are there: 2" in found.sentence


def test_stills_without_a_number_are_not_determinable() -> None:
    records = [still(1, "10:00:05", image_number=None, captures=[])]
    found = only(findings("8", records), Outcome.NOT_DETERMINABLE)
    assert found.adverse
    assert "1 still of 1 bear no image number" in found.sentence


def test_the_number_of_the_reading_counts_for_a_still_without_one() -> None:
    records = [still(n, f"10:0{n - 1}:05", image_number=None) for n in range(1, 4)]
    base = drop(clean_records(3), is_a(RecordKind.STILL))
    assert [one.outcome for one in findings("8", [*base, *records])] == [Outcome.PASS]


def test_two_stills_with_one_unique_identifier_are_a_query() -> None:
    records = [
        still(n, "10:00:05", image_number=n, captures=[], image_unique_id="AB") for n in (1, 2)
    ]
    assert (
        "share their unique image identifier"
        in only(findings("8", records), Outcome.QUERY).sentence
    )


def test_two_stills_that_are_one_file_are_a_query_that_names_them() -> None:
    records = [
        still(n, "10:00:05", image_number=n, captures=[], sha256=digest)
        for n, digest in enumerate(("ab" * 32, "cd" * 32, "ab" * 32), 1)
    ]
    paths = [one.text("path") for one in records]
    found = only(findings("8", records), Outcome.QUERY)
    assert found.sentence == (
        f"2 stills are byte for byte the same as another: {paths[0]}, {paths[2]}."
    )
    assert (found.measured, found.limit) == (2, 0)


def test_stills_of_other_digests_or_of_none_are_no_repeats() -> None:
    records = [
        still(1, "10:00:05", image_number=1, captures=[], sha256="ab" * 32),
        still(2, "10:00:05", image_number=2, captures=[], sha256="cd" * 32),
        still(3, "10:00:05", image_number=3, captures=[]),
        still(4, "10:00:05", image_number=4, captures=[]),
    ]
    assert Outcome.QUERY not in {one.outcome for one in findings("8", records)}


def test_a_day_without_stills_does_not_apply() -> None:
    only(findings("8", []), Outcome.NOT_APPLICABLE)


def test_an_absurd_report_costs_nothing() -> None:
    counter = Counter(name="image", modulus=None, first=0)
    found = numbered([1, 2], ends=(0, 2**53 - 1), counter=counter)
    assert only(found, Outcome.FAIL).measured == 2**53 - 2


@given(st.sets(st.integers(1, 40), min_size=2, max_size=20), st.integers(0, 9_999))
def test_missing_numbers_equal_a_slow_count_wherever_the_counter_stands(
    steps: set[int], start: int
) -> None:
    """A slow reference: every number from first to last, one by one, round the counter."""
    size = 9_999
    course = [(start + step) % size + 1 for step in sorted(steps)]
    walked, number = 0, course[0]
    while number != course[-1]:
        walked += number not in course
        number = number % size + 1
    found = numbered(course, ends=(course[0], course[-1]))
    lost = [one.measured for one in found if one.outcome is Outcome.FAIL]
    assert lost == ([walked] if walked else [])


@given(st.permutations(clean_records(4)))
def test_the_order_of_the_records_does_not_matter(records: list[Record]) -> None:
    assert findings("8", records) == findings("8", clean_day(4))


def test_a_counter_declared_far_too_long_is_said_to_be_possible() -> None:
    day = with_counters(
        day_of([still(n, "10:00:05", image_number=number, captures=[]) for n, number in
                enumerate((9998, 9999, 1, 2), 1)]),
        Counter(name="image", first=1, modulus=100_000),
    )  # fmt: skip
    found = only(findings("8", day), Outcome.FAIL)
    assert "If the counter runs less far than declared" in (found.advice or "")
