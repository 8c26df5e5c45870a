from __future__ import annotations

import hashlib
import json
from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.intake.run_log import FIRST_PREVIOUS, read_past_runs
from evidpack.model.fields import RecordKind
from evidpack.model.records import Record

SAID = {"check": "10", "subject": "capture 7", "outcome": "query", "sentence": "It does not fit."}
CHANGES: dict[str, object] = {"new": [], "gone": [], "left_out": 0}


def _line(number: int, before: str, **changed: object) -> bytes:
    run = {
        "run": number,
        "previous": before,
        "at": "2026-05-14T18:00:00+00:00",
        "rule_set": {"name": "general", "edition": "1", "sha256": "ab" * 32},
        "counts": {"pass": 7, "query": 1},
        "adverse": 1,
        **changed,
    }
    return json.dumps(run, sort_keys=True, separators=(",", ":")).encode()


def _log(*changes: dict[str, object]) -> list[bytes]:
    lines: list[bytes] = []
    previous = FIRST_PREVIOUS
    for number, changed in enumerate(changes, start=1):
        lines.append(_line(number, previous, **changed))
        previous = hashlib.sha256(lines[-1]).hexdigest()
    return lines


def _read(lines: list[bytes]) -> list[Record]:
    data = b"".join(line + b"\n" for line in lines)
    return list(read_past_runs(BytesIO(data), path="office/runs.jsonl"))


def test_each_line_is_a_past_run_with_its_chain() -> None:
    first, second = _read(_log({}, {"adverse": 0}))
    assert first.kind is RecordKind.PAST_RUN
    assert first.values == {
        "run": 1,
        "previous": "0" * 64,
        "at": "2026-05-14T18:00:00+00:00",
        "rule_set_name": "general",
        "rule_set_edition": "1",
        "rule_set_sha256": "ab" * 32,
        "counts": {"pass": 7, "query": 1},
        "adverse": 1,
        "chain": "holds",
    }
    assert (second.values["adverse"], second.values["chain"]) == (0, "holds")
    assert str(second.source) == "office/runs.jsonl:2"


def test_lines_that_say_what_is_new_and_gone_give_a_record_of_each_finding() -> None:
    records = _read(_log({**CHANGES, "new": [SAID]}, {**CHANGES, "gone": [SAID], "left_out": 3}))
    first, second, finding = records
    assert (first.values["new"], first.values["gone"]) == (1, 0)
    assert (second.values["new"], second.values["gone"], second.values["left_out"]) == (0, 1, 3)
    assert finding.kind is RecordKind.PAST_FINDING
    assert finding.values == {**SAID, "runs": [1]}
    assert str(finding.source) == "office/runs.jsonl:1"


def test_what_stood_before_a_line_of_the_older_form_still_stands_after_it() -> None:
    *_, finding = _read(_log({**CHANGES, "new": [SAID]}, {}, CHANGES))
    assert finding.values["runs"] == [1, 3]


def test_a_line_taken_out_or_altered_breaks_the_chain_after_it() -> None:
    lines = _log({}, {}, {})
    assert [one.values["chain"] for one in _read([lines[0], lines[2]])] == ["holds", "broken"]
    assert [one.values["chain"] for one in _read(lines[1:])] == ["broken", "holds"]
    altered = lines[0].replace(b'"adverse":1', b'"adverse":0')
    assert [one.values["chain"] for one in _read([altered, *lines[1:]])] == [
        "holds",
        "broken",
        "holds",
    ]


@pytest.mark.parametrize(
    ("changed", "reason"),
    [
        ({"run": True}, "whole number"),
        ({"run": -1}, "whole number"),
        ({"adverse": 1.5}, "whole number"),
        ({"adverse": 2**60}, "whole number"),
        ({"previous": "0" * 63}, "64 lower-case"),
        ({"previous": "A" * 64}, "64 lower-case"),
        ({"at": "2026-05-14T18:00:00"}, "needs an offset"),
        ({"at": "yesterday"}, "not a time"),
        ({"at": None}, "text is missing"),
        ({"rule_set": {"name": "x"}}, "a rule set has the keys"),
        ({"rule_set": {"name": "\ud800", "edition": "1", "sha256": "ab" * 32}}, "characters"),
        ({"counts": []}, "counts is an object"),
        ({"counts": {"pass": "7"}}, "whole number"),
        ({"more": 1}, "a run has the keys"),
        ({"new": []}, "a run has the keys"),
        ({**CHANGES, "new": {}}, "lists of findings"),
        ({**CHANGES, "new": ["x"]}, "a finding has the keys"),
        ({**CHANGES, "gone": [{**SAID, "more": "x"}]}, "a finding has the keys"),
        ({**CHANGES, "gone": [{**SAID, "check": 10}]}, "text is missing"),
        ({**CHANGES, "new": [{**SAID, "sentence": "x" * 65_537}]}, "too long"),
        ({**CHANGES, "left_out": -1}, "whole number"),
    ],
)
def test_a_line_that_is_no_run_is_kept_as_unreadable(
    changed: dict[str, object], reason: str
) -> None:
    (record,) = _read([_line(1, FIRST_PREVIOUS, **changed)])
    assert record.kind is RecordKind.UNREADABLE
    assert reason in str(record.values["reason"])
    assert record.values["record"] == "past_run"


@pytest.mark.parametrize("line", [b"{", b"[]", b"\xff", b"[" * 100_000, b"9" * 5000])
def test_a_line_that_is_no_json_is_kept_as_unreadable(line: bytes) -> None:
    (record,) = _read([line])
    assert record.kind is RecordKind.UNREADABLE


@given(st.binary(max_size=60))
def test_any_bytes_give_one_record_a_line(data: bytes) -> None:
    records = list(read_past_runs(BytesIO(data), path="x"))
    assert len(records) == len([line for line in data.split(b"\n") if line])
