"""From decisions to a plan: what is refused, and with which words."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from evidpack.container import layout
from evidpack.disclosure.decisions import load_decisions
from evidpack.disclosure.draft import draft_decisions
from evidpack.disclosure.plan import NO_EARLIER_ISSUE, Plan, make_plan
from evidpack.disclosure.sealed_bundle import SealedBundle
from evidpack.errors import EvidpackError, UsageError
from tests.disclosure.deciding import filled
from tests.disclosure.packs import (
    opened_bundle,
    parts,
    simple_decisions,
    simple_pack,
    verified_pack,
)
from tests.sealed_days import SealedDay

RELEASE = 'use = "unused"\ndecision = "release"\nreason = "concerns-day"'


def number_of(bundle: SealedBundle, **values: object) -> int:
    return next(
        entry.number
        for entry in bundle.entries()
        if all(entry.values.get(name) == value for name, value in values.items())
    )


def unread_row(bundle: SealedBundle) -> int:
    """The finding that quotes a row which nobody could read, of another capture."""
    return next(
        entry.number
        for entry in bundle.entries()
        if entry.kind == "finding" and "not a speed" in str(entry.values["sentence"])
    )


def plan(bundle: SealedBundle, *edits: tuple[int, str]) -> Plan:
    return make_plan(
        bundle, simple_decisions(bundle, *edits), earlier=NO_EARLIER_ISSUE, profile=lambda: None
    )


def refused(bundle: SealedBundle, *edits: tuple[int, str]) -> EvidpackError:
    with pytest.raises(UsageError) as caught:
        plan(bundle, *edits)
    return caught.value


def test_a_draft_decides_every_entry_once_and_is_refused_while_anything_is_undecided(
    sealed_day: SealedDay,
) -> None:
    bundle = opened_bundle(sealed_day)
    text = draft_decisions(bundle, ["C1"])
    for name in ("case", "recipient", "decided_by"):
        text = text.replace(f'{name} = ""', f'{name} = "x"')
    text = text.replace('decided_at = ""', "decided_at = 2026-06-01T10:00:00Z")
    decisions = load_decisions(text.encode(), path="decisions.toml")
    assert sorted(decisions.decisions) == list(range(bundle.count))
    with pytest.raises(UsageError, match="entries are undecided, so no pack is made") as caught:
        make_plan(bundle, decisions, earlier=NO_EARLIER_ISSUE, profile=lambda: None)
    assert "Document: export/notes.txt" in str(caught.value.hint)
    assert "Finding of check" in str(caught.value.hint)


def test_adverse_findings_are_left_undecided_each_by_itself(sealed_day: SealedDay) -> None:
    bundle = opened_bundle(sealed_day)
    text = draft_decisions(bundle, ["C1"])
    adverse = [
        entry.number
        for entry in bundle.entries()
        if entry.kind == "finding" and (entry.values["adverse"] or entry.values["undermines"])
    ]
    assert adverse
    for number in adverse:
        table = text.split(f"[[entry]]\nentry = {number}\n")[1].split("\n[[")[0]
        assert 'marked = "may undermine or assist"' in table
        assert 'decision = "undecided"' in table
        assert re.search(r'^proposed = "(release|redact), ', table, re.MULTILINE)


def test_a_marked_finding_cannot_be_decided_with_others(sealed_day: SealedDay) -> None:
    bundle = opened_bundle(sealed_day)
    number = next(
        entry.number
        for entry in bundle.entries()
        if entry.kind == "finding" and entry.values["adverse"]
    )
    text = filled(draft_decisions(bundle, ["C1"]))
    table = text.split(f"[[entry]]\nentry = {number}\n")[1].split("\n[[")[0]
    text = text.replace(f"[[entry]]\nentry = {number}\n{table}", "")
    text += (
        f'\n[[class]]\nclass = "hidden"\nentries = "{number}"\nuse = "not relevant"\n'
        'decision = "withhold"\nreason = "not-relevant"\n'
    )
    decisions = load_decisions(text.encode(), path="decisions.toml")
    with pytest.raises(UsageError, match=f"entry {number} may undermine or assist") as caught:
        make_plan(bundle, decisions, earlier=NO_EARLIER_ISSUE, profile=lambda: None)
    assert f"entry = {number}" in str(caught.value.hint)


def test_an_entry_without_a_decision_is_named(sealed_day: SealedDay) -> None:
    bundle = opened_bundle(sealed_day)
    text = filled(draft_decisions(bundle, ["C1"]))
    number = number_of(bundle, path="export/stills/C1_0001.jpg", item_kind="still")
    table = text.split(f"[[entry]]\nentry = {number}\n")[1].split("\n[[")[0]
    text = text.replace(f"[[entry]]\nentry = {number}\n{table}", "")
    with pytest.raises(UsageError, match="1 sealed entries stand in no decision") as caught:
        make_plan(
            bundle,
            load_decisions(text.encode(), path="d"),
            earlier=NO_EARLIER_ISSUE,
            profile=lambda: None,
        )
    assert caught.value.observed == f"nothing about {number}"


def test_decisions_about_another_seal_are_refused(sealed_day: SealedDay) -> None:
    bundle = opened_bundle(sealed_day)
    text = filled(draft_decisions(bundle, ["C1"]))
    text = text.replace(bundle.statement_sha256.hex(), "ab" * 32)
    with pytest.raises(UsageError, match="these decisions are about another seal"):
        make_plan(
            bundle,
            load_decisions(text.encode(), path="d"),
            earlier=NO_EARLIER_ISSUE,
            profile=lambda: None,
        )


def test_a_capture_that_the_day_does_not_have_is_refused(sealed_day: SealedDay) -> None:
    with pytest.raises(UsageError, match="the day has no capture C9") as caught:
        draft_decisions(opened_bundle(sealed_day), ["C1", "C9"])
    assert "C1 or 1" in str(caught.value.expected)


def test_a_log_with_withheld_rows_is_not_released_whole(sealed_day: SealedDay) -> None:
    bundle = opened_bundle(sealed_day)
    log = number_of(bundle, path="export/readings.csv", item_kind="log")
    error = refused(bundle, (log, RELEASE))
    assert f"entry {log} is released whole, and rows of it are withheld" in error.message


def test_a_log_whose_rows_are_all_released_is_proposed_whole(sealed_day: SealedDay) -> None:
    bundle = opened_bundle(sealed_day)
    log = number_of(bundle, path="export/tests.csv", item_kind="log")
    assert plan(bundle).lines[log].became == "released"


def test_the_note_of_the_sealing_is_never_disclosed(sealed_day: SealedDay) -> None:
    bundle = opened_bundle(sealed_day)
    note = number_of(bundle, item_kind="sealing")
    assert "is never disclosed" in refused(bundle, (note, RELEASE)).message


@pytest.mark.parametrize(
    ("values", "table", "message"),
    [
        (
            {"record_kind": "reading", "capture": "C1"},
            'use = "unused"\ndecision = "redact"\nclose = ["colour"]\nreason = "x"',
            "has no field colour",
        ),
        (
            {"record_kind": "reading", "capture": "C1"},
            'use = "unused"\ndecision = "redact"\nreason = "x"',
            "say what to close",
        ),
        (
            {"record_kind": "reading", "capture": "C1"},
            'use = "unused"\ndecision = "redact"\nclose = ["source_line"]\nreason = "x"',
            "where a record stood cannot be closed",
        ),
        (
            {"item_kind": "still", "path": "export/stills/C1_0001.jpg"},
            'use = "unused"\ndecision = "redact"\nreason = "x"',
            "say where, with [[redact]]",
        ),
        (
            {"item_kind": "document"},
            'use = "unused"\ndecision = "inspect"\nreason = "x"',
            "what is not shown needs a description",
        ),
    ],
)
def test_what_cannot_be_done_as_decided_is_said(
    sealed_day: SealedDay, values: dict[str, object], table: str, message: str
) -> None:
    bundle = opened_bundle(sealed_day)
    assert message in refused(bundle, (number_of(bundle, **values), table)).message


def test_to_close_a_field_is_to_close_its_raw_cells_and_what_else_they_give(
    sealed_day: SealedDay, tmp_path: Path
) -> None:
    bundle = opened_bundle(sealed_day)
    number = number_of(bundle, record_kind="reading", capture="C1")
    made, pack = simple_pack(
        sealed_day,
        tmp_path / "p.zip",
        (number, 'use = "relied on"\ndecision = "redact"\nclose = ["time"]\nreason = "x"'),
    )
    assert made.plan.lines[number].closed == ("raw:Date", "raw:Time", "time")
    opening = next(
        json.loads(line)
        for line in parts(pack)[layout.DISCLOSURE_OPENINGS].splitlines()
        if json.loads(line)["entry"] == number
    )
    assert set(opening["fields"]) & {"raw:Date", "raw:Time", "time"} == set()
    assert verified_pack(pack, sealed_day.trust).verdict == "verified"
    assert b"(closed)" in parts(pack)["data/derived/reading.csv"]


def test_a_raw_cell_closes_its_value_too(sealed_day: SealedDay, tmp_path: Path) -> None:
    bundle = opened_bundle(sealed_day)
    number = number_of(bundle, record_kind="reading", capture="C1")
    made, _ = simple_pack(
        sealed_day,
        tmp_path / "p.zip",
        (number, 'use = "relied on"\ndecision = "redact"\nclose = ["raw:Speed"]\nreason = "x"'),
    )
    assert made.plan.lines[number].closed == ("raw:Speed", "speed_mph")
