"""The seal statement is read back as it was written, and in no other form."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest

from evidpack.errors import ProofError
from evidpack.limits import MAX_ENTRIES, MAX_STATEMENT_BYTES
from evidpack.model.findings import Outcome
from evidpack.proof.canonical import canonical_bytes, parse_json
from evidpack.proof.statement import (
    ENTRY_KINDS,
    Previous,
    SealStatement,
    parse_statement,
    require_reference,
)

PATH = "seal/statement.json"


def statement(**changes: Any) -> SealStatement:
    findings = dict.fromkeys((outcome.value for outcome in Outcome), 1)
    whole = SealStatement(
        day="TRU-2026-05-14-A",
        entries={"file": 3, "record": 4, "finding": len(findings)},
        chain_head=b"\x01" * 32,
        tree_root=b"\x02" * 32,
        pinned={"seal/ledger.jsonl": b"\x03" * 32},
        findings=findings,
        rule_set_entry=2,
        claimed_time=datetime(2026, 5, 14, 16, 30, tzinfo=UTC),
        signing_certificate=b"\x04" * 32,
        time_stamp_required=True,
        previous=None,
        versions={"evidpack": "0.1.0"},
    )
    return replace(whole, **changes)


def members(**changes: Any) -> dict[str, Any]:
    value = parse_json(statement().to_bytes(), path=PATH)
    assert isinstance(value, dict)
    return {**value, **changes}


def refusal(value: Any) -> ProofError:
    with pytest.raises(ProofError) as caught:
        parse_statement(canonical_bytes(value), path=PATH)
    assert caught.value.path == PATH
    return caught.value


PREVIOUS = Previous(statement=b"\x05" * 32, relation="correction", reason="a card was overlooked")


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"rule_set_entry": None},
        {"rule_set_entry": 0},
        {"time_stamp_required": False},
        {"previous": PREVIOUS},
        {
            "claimed_time": datetime(
                2026, 5, 14, 17, 30, 1, 250, tzinfo=timezone(timedelta(hours=1))
            )
        },
        {"pinned": {}, "versions": {}},
    ],
)
def test_a_statement_is_read_back_as_it_was_written(changes: dict[str, Any]) -> None:
    original = statement(**changes)
    again = parse_statement(original.to_bytes(), path=PATH)
    assert again == original
    assert again.to_bytes() == original.to_bytes()
    assert again.entry_count == 3 + 4 + len(Outcome)


def test_a_position_tells_the_kind() -> None:
    kinds = [statement().kind_at(number) for number in range(statement().entry_count)]
    assert kinds == ["file"] * 3 + ["record"] * 4 + ["finding"] * len(Outcome)
    with pytest.raises(ProofError, match="no entry of that number"):
        statement().kind_at(statement().entry_count)


@pytest.mark.parametrize("name", sorted(members()))
def test_a_statement_without_any_one_member_is_refused(name: str) -> None:
    value = members()
    del value[name]
    assert f'lacks "{name}"' in refusal(value).message


@pytest.mark.parametrize("outer", ["entries", "findings"])
def test_a_count_left_out_or_added_is_refused(outer: str) -> None:
    value = members()
    counts = value[outer]
    first = next(iter(counts))
    without = {name: count for name, count in counts.items() if name != first}
    assert f'lacks "{first}"' in refusal({**value, outer: without}).message
    assert refusal({**value, outer: {**counts, "other": 0}}).observed == "other"


def test_members_that_the_format_does_not_know_are_refused_by_name() -> None:
    error = refusal(members(note="x", also=1))
    assert "does not know" in error.message
    assert error.observed == "also, note"
    assert refusal(members(previous={**previous_members(), "x": 1})).observed == "x"


def previous_members() -> dict[str, Any]:
    value = parse_json(statement(previous=PREVIOUS).to_bytes(), path=PATH)
    assert isinstance(value, dict)
    previous = value["previous"]
    assert isinstance(previous, dict)
    return dict(previous)


@pytest.mark.parametrize(
    ("name", "wrong"),
    [
        ("type", "disclosure"),
        ("type", 1),
        ("version", "1"),
        ("version", True),
        ("chain_head", "0" * 63),
        ("chain_head", "A" * 64),
        ("chain_head", None),
        ("tree_root", ["0" * 64]),
        ("signing_certificate", "0" * 64 + "\n"),
        ("claimed_time", "2026-05-14"),
        ("claimed_time", "2026-05-14T16:30:00"),
        ("claimed_time", "2026-05-14 16:30:00Z"),
        ("claimed_time", "2026-02-30T16:30:00Z"),
        ("claimed_time", 0),
        ("rule_set_entry", "2"),
        ("rule_set_entry", False),
        ("time_stamp", "perhaps"),
        ("time_stamp", True),
    ],
)
def test_a_member_of_the_wrong_form_is_refused_by_name(name: str, wrong: Any) -> None:
    assert refusal(members(**{name: wrong})).message.startswith(f'"{name}"')


@pytest.mark.parametrize(
    ("changes", "part"),
    [
        ({"entries": {"file": -1, "record": 9, "finding": 5}}, '"entries"'),
        ({"entries": {"file": "3", "record": 4, "finding": 5}}, '"file" of "entries"'),
        ({"entries": 3}, '"entries" is not a JSON object'),
        ({"pinned": {"a": "x"}}, '"a" of "pinned"'),
        ({"versions": {"a": 1}}, '"a" of "versions"'),
        ({"previous": "x"}, "previous is not a JSON object"),
        ({"previous": {"relation": "other", "reason": "", "statement": "0" * 64}}, '"relation"'),
    ],
)
def test_a_wrong_part_of_a_member_is_refused_by_name(changes: dict[str, Any], part: str) -> None:
    assert part in refusal(members(**changes)).message


def test_a_statement_of_a_later_version_says_what_to_do() -> None:
    error = refusal(members(version=2))
    assert "format version 2, which this evidpack does not know" in error.message
    assert error.hint == "Verify it with a release of evidpack that knows that version."


@pytest.mark.parametrize("value", [[], "seal", None, 1])
def test_what_is_not_an_object_is_refused(value: Any) -> None:
    assert "is not a JSON object" in refusal(value).message


def test_numbers_that_disagree_are_refused() -> None:
    no_findings = dict.fromkeys((outcome.value for outcome in Outcome), 0)
    empty = dict.fromkeys(ENTRY_KINDS, 0)
    error = refusal(members(entries=empty, findings=no_findings, rule_set_entry=None))
    assert "number of entries is out of bounds" in error.message
    too_many = {"file": MAX_ENTRIES + 1, "record": 0, "finding": 0}
    error = refusal(members(entries=too_many, findings=no_findings))
    assert error.observed == str(MAX_ENTRIES + 1)
    error = refusal(members(findings=no_findings))
    assert "do not add up" in error.message
    assert (error.expected, error.observed) == (str(len(Outcome)), "0")


@pytest.mark.parametrize("entry", [-1, 3, 4, 2**53 - 1])
def test_a_rule_set_that_is_no_file_entry_is_refused(entry: int) -> None:
    error = refusal(members(rule_set_entry=entry))
    assert "the rule set's entry is not a file entry" in error.message
    assert (error.expected, error.observed) == ("0 to 2", str(entry))


def test_a_statement_in_another_form_or_too_large_is_refused() -> None:
    data = statement().to_bytes()
    for wrong in (data + b"\n", b" " + data, data.replace(b":", b": ", 1)):
        with pytest.raises(ProofError, match="canonical form"):
            parse_statement(wrong, path=PATH)
    with pytest.raises(ProofError, match="too large") as caught:
        parse_statement(b" " * (MAX_STATEMENT_BYTES + 1), path=PATH)
    assert caught.value.observed == f"{MAX_STATEMENT_BYTES + 1} bytes"


@pytest.mark.parametrize("reference", ["A", "TRU-2026-05-14-A", "a.b", "0", "a--b"])
def test_a_reference_that_can_name_a_folder_is_accepted(reference: str) -> None:
    assert require_reference(reference) == reference


@pytest.mark.parametrize(
    "reference",
    ["", ".", "..", "a..b", "-a", "a-", ".a", "a.", "a/b", "a b", "a\n", "é", "a\\b", "a" * 101],
)
def test_a_reference_that_cannot_name_a_folder_is_refused(reference: str) -> None:
    with pytest.raises(ProofError, match="cannot name a folder"):
        require_reference(reference, path="day.toml", line=3)
    assert "cannot name a folder" in refusal(members(day=reference)).message
