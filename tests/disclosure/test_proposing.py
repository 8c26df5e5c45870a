"""What a draft proposes: findings about the case's captures, and closed fields that name what is
withheld."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.checks.saying import captures as captures_text
from evidpack.disclosure.decisions import load_decisions
from evidpack.disclosure.draft import draft_decisions
from evidpack.disclosure.named_captures import named_captures
from tests.disclosure.changed_days import changed_day, with_report
from tests.disclosure.deciding import filled
from tests.disclosure.packs import make, opened_bundle
from tests.disclosure.test_plan import number_of, unread_row
from tests.sealed_days import SealedDay


@pytest.mark.parametrize(
    ("subject", "of_case", "concerned"),
    [
        ("capture 7", {7}, True),
        ("capture 7", {70}, False),
        ("captures 1–41", {24}, True),
        ("captures 1–21, 23–30, 32", {22}, False),
        ("captures 1–21, 23–30, 32", {32}, True),
        ("captures 1, 3 and 5 more", {9}, True),  # it may be among them
        ("captures 1, 3 and 5 more", set(), False),
        ("session S1", {1}, False),
        ("capturer 7", {7}, False),
    ],
)
def test_the_captures_that_a_subject_names(
    subject: str, of_case: set[int], concerned: bool
) -> None:
    assert named_captures(subject).may_be_among(of_case) is concerned


@given(st.sets(st.integers(1, 400), min_size=1), st.sets(st.integers(1, 400), min_size=1))
def test_a_subject_as_the_checks_write_it_is_read_back(named: set[int], of_case: set[int]) -> None:
    found = named_captures(captures_text(named))
    assert found
    if named & of_case or not found.more:
        assert found.may_be_among(of_case) is bool(named & of_case)


def table_of(text: str, number: int) -> str:
    return text.split(f"[[entry]]\nentry = {number}\n")[1].split("\n[[", maxsplit=1)[0]


def test_a_finding_about_a_range_of_captures_is_proposed_where_the_case_is_among_them(
    sealed_day: SealedDay,
) -> None:
    bundle = opened_bundle(sealed_day)
    ranged = [
        entry.number
        for entry in bundle.entries()
        if entry.kind == "finding" and "–" in str(entry.values["subject"])
    ]
    assert ranged
    decisions = load_decisions(filled(draft_decisions(bundle, ["C2"])).encode(), path="d")
    for number in ranged:
        assert decisions.decisions[number].what in ("release", "redact")


def test_a_field_that_names_what_is_proposed_to_be_withheld_is_proposed_closed(
    sealed_day: SealedDay, tmp_path: Path
) -> None:
    day = changed_day(tmp_path / "day", sealed_day, with_report("readings.csv"))
    bundle = opened_bundle(day)
    text = draft_decisions(bundle, ["C1"])
    report = table_of(text, number_of(bundle, record_kind="report"))
    assert 'decision = "redact"\nclose = ["document"]  # names what another' in report
    finding = table_of(text, unread_row(bundle))
    assert 'proposed = "redact, unused"\nclose = ["sentence", "subject"]' in finding
    assert 'decision = "undecided"' in finding


def test_a_field_that_names_what_is_released_is_left_open(
    sealed_day: SealedDay, tmp_path: Path
) -> None:
    day = changed_day(tmp_path / "day", sealed_day, with_report("tests.csv"))
    bundle = opened_bundle(day)
    text = draft_decisions(bundle, ["C1"])
    number = number_of(bundle, record_kind="report")
    assert f"[[entry]]\nentry = {number}\n" not in text
    assert load_decisions(filled(text).encode(), path="d").decisions[number].what == "release"


def test_a_log_with_a_row_that_keeps_fields_closed_is_not_proposed_whole(
    sealed_day: SealedDay, tmp_path: Path
) -> None:
    """A remark in a test's row names another's still: the row keeps it closed, the log stays in."""

    def change(folder: Path) -> None:
        day, log = folder / "day.toml", folder / "export" / "tests.csv"
        text = day.read_text("utf-8").replace(
            'test = { column = "Test" }', 'test = { column = "Test" }\nremark = "Remark"'
        )
        day.write_text(text, "utf-8")
        head, *rows = log.read_text("utf-8").splitlines()
        rows = [
            f"{row},{'see C2_0002.png' if number == 1 else ''}" for number, row in enumerate(rows)
        ]
        log.write_text("\n".join([f"{head},Remark", *rows, ""]), "utf-8")

    day = changed_day(tmp_path / "day", sealed_day, change)
    bundle = opened_bundle(day)
    decisions = load_decisions(filled(draft_decisions(bundle, ["C1"])).encode(), path="d")
    assert (
        decisions.decisions[number_of(bundle, path="export/tests.csv", item_kind="log")].what
        == "withhold"
    )
    closed = {one.close for one in decisions.decisions.values() if one.close}
    assert ("raw:Remark", "remark") in closed
    make(day, decisions, tmp_path / "p.zip", bundle=bundle)


@pytest.mark.parametrize("captures", [["C1"], ["C2"], ["1", "2"]])
def test_a_pack_can_be_made_of_a_draft_all_of_whose_proposals_are_taken(
    sealed_day: SealedDay, tmp_path: Path, captures: list[str]
) -> None:
    bundle = opened_bundle(sealed_day)
    decisions = load_decisions(filled(draft_decisions(bundle, captures)).encode(), path="d")
    made, _ = make(sealed_day, decisions, tmp_path / "p.zip", bundle=bundle)
    assert made.plan.revealed
