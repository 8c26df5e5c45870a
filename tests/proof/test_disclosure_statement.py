"""The disclosure statement and the accounting: strict, canonical, one form each."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.errors import ProofError
from evidpack.proof.accounting import (
    AccountingLine,
    Became,
    count_outcomes,
    exhibits_of,
    neutral_line,
    parse_accounting_line,
)
from evidpack.proof.disclosure_statement import (
    DisclosureStatement,
    EarlierVerification,
    pack_reference,
    parse_disclosure_statement,
)
from evidpack.proof.pack_parts import (
    OpenedField,
    PackOpening,
    RedactionRecord,
    leaves_text,
    parse_leaves,
    parse_pack_opening,
    parse_redaction,
    parse_tiles,
    tiles_text,
)

AT = datetime(2026, 6, 1, 12, tzinfo=UTC)


def statement(**changes: Any) -> DisclosureStatement:
    values: dict[str, Any] = {
        "pack": "pack-1-0123456789ab",
        "day": "D-1",
        "origin": bytes(32),
        "case": "AB-12",
        "recipient": "Defence",
        "issue": 1,
        "previous": None,
        "decided_by": "C. Nobody",
        "decided_at": AT,
        "accounting": {became.value: 0 for became in Became},
        "exhibits": 3,
        "pinned": {"index.pdf": bytes(32)},
        "release_log": None,
        "verification": EarlierVerification(report=bytes(32), verdict="verified", at=AT),
        "claimed_time": AT,
        "signing_certificate": bytes(32),
        "time_stamp_required": True,
        "versions": {"evidpack": "1"},
    }
    return DisclosureStatement(**(values | changes))


def changed(**members: Any) -> bytes:
    value = json.loads(statement().to_bytes()) | members
    return json.dumps(value, sort_keys=True, separators=(",", ":")).encode()


def test_a_statement_is_read_back() -> None:
    for one in (
        statement(),
        statement(
            issue=2, pack="pack-2-0123456789ab", previous=bytes(32), release_log=bytes(32),
            verification=None, time_stamp_required=False,
        ),
    ):  # fmt: skip
        assert parse_disclosure_statement(one.to_bytes(), path="s") == one


@pytest.mark.parametrize(
    ("members", "message"),
    [
        ({"type": "seal"}, '"type" of the disclosure statement'),
        ({"version": 2}, "format version 2"),
        ({"issue": 2}, '"pack"'),
        ({"issue": 0}, '"pack"'),
        ({"pack": "pack-1-xyz"}, '"pack"'),
        ({"pack": "../pack-1-0123456789ab"}, '"pack"'),
        ({"previous": "00" * 32}, '"previous"'),
        ({"case": " "}, '"case"'),
        ({"recipient": "x" * 501}, '"recipient"'),
        ({"origin": "00"}, '"origin"'),
        ({"exhibits": -1}, '"exhibits"'),
        ({"accounting": {"released": 1}}, "lacks"),
        ({"decided_at": "yesterday"}, '"decided_at"'),
        ({"time_stamp": "maybe"}, '"time_stamp"'),
        ({"verification": {"at": "2026-06-01T00:00:00Z"}}, "lacks"),
        ({"more": 1}, "members that this format does not know"),
    ],
)
def test_any_other_statement_is_refused_with_what_is_wrong(
    members: dict[str, Any], message: str
) -> None:
    with pytest.raises(ProofError) as caught:
        parse_disclosure_statement(changed(**members), path="disclosure/statement.json")
    assert message in str(caught.value)
    assert caught.value.path == "disclosure/statement.json"


def test_the_name_of_a_pack_has_its_issue_and_six_random_bytes() -> None:
    assert pack_reference(12, bytes(range(6))) == "pack-12-000102030405"


LINE = AccountingLine(
    entry=3, kind="record", became=Became.REDACTED, reason="r", use="unused", exhibit=9,
    description="d", closed=("a", "b"),
)  # fmt: skip


def test_lines_of_the_accounting_are_read_back() -> None:
    assert parse_accounting_line(LINE.to_bytes(), path="a", number=3) == LINE
    neutral = neutral_line(4, "file")
    assert parse_accounting_line(neutral.to_bytes(), path="a", number=4) == neutral


@pytest.mark.parametrize(
    ("members", "message"),
    [
        ({"entry": 4}, "does not take the entries one after the other"),
        ({"kind": "thing"}, '"kind"'),
        ({"became": "lost"}, '"became"'),
        ({"reason": " "}, '"reason"'),
        ({"use": None}, '"use"'),
        ({"use": "maybe"}, '"use"'),
        ({"exhibit": 0}, '"exhibit"'),
        ({"exhibit": None}, '"exhibit"'),
        ({"description": None}, '"description"'),
        ({"closed": ["b", "a"]}, '"closed"'),
        ({"closed": ["a", "a"]}, '"closed"'),
        ({"closed": []}, '"closed"'),
        ({"became": "released"}, '"closed"'),
        ({"became": "withheld", "exhibit": None, "closed": []}, "the neutral form"),
        ({"more": 1}, "members that this format does not know"),
    ],
)
def test_any_other_line_is_refused_with_its_line(members: dict[str, Any], message: str) -> None:
    value = json.loads(LINE.to_bytes()) | members
    data = json.dumps(value, sort_keys=True, separators=(",", ":")).encode()
    with pytest.raises(ProofError) as caught:
        parse_accounting_line(data, path="disclosure/accounting.jsonl", number=3)
    assert message in str(caught.value)
    assert caught.value.line == 4


def test_a_neutral_line_that_says_more_is_refused() -> None:
    value = json.loads(neutral_line(0, "file").to_bytes())
    for name, said in (("reason", "a secret"), ("description", "x"), ("use", "unused")):
        data = json.dumps(value | {name: said}, sort_keys=True, separators=(",", ":")).encode()
        with pytest.raises(ProofError, match="not of the right form"):
            parse_accounting_line(data, path="a", number=0)


def test_an_exhibit_stands_for_one_entry() -> None:
    other = AccountingLine(
        entry=5, kind="file", became=Became.INSPECT, reason="r", use="unused", exhibit=9,
        description="d",
    )  # fmt: skip
    with pytest.raises(ProofError, match="exhibit 9 stands for two entries"):
        exhibits_of([LINE, other])
    assert exhibits_of([LINE, neutral_line(0, "file")]) == {3: 9}
    assert count_outcomes([LINE, other, neutral_line(0, "file")]) == {
        "released": 0, "redacted": 1, "inspect": 1, "withheld": 1, "withdrawn": 0,
    }  # fmt: skip


def test_openings_are_read_back_and_others_refused() -> None:
    opening = PackOpening(entry=3, fields={"a": OpenedField(salt=bytes(16), value=[1, None])})
    assert parse_pack_opening(opening.to_bytes(), path="o", number=1) == opening
    for data in (
        b'{"entry":3,"fields":{}}',
        b'{"entry":3,"fields":{"a":{"salt":"00","value":1}}}',
        b'{"entry":3,"fields":{"a":{"salt":"00000000000000000000000000000000"}}}',
        b'{"entry":"3","fields":{"a":1}}',
        b'{"entry":3,"fields":{"a":{"salt":"00000000000000000000000000000000","value":1}},"key":1}',
    ):
        with pytest.raises(ProofError) as caught:
            parse_pack_opening(data, path="o", number=8)
        assert caught.value.line == 8


@given(st.lists(st.binary(min_size=32, max_size=32), max_size=20))
def test_leaves_are_written_and_read_back(leaves: list[bytes]) -> None:
    assert parse_leaves(leaves_text(leaves), path="l") == leaves


@pytest.mark.parametrize(
    "data", [b"00", b"\n", b"AB" * 32 + b"\n", b"ab" * 32, b"ab" * 32 + b"\r\n"]
)
def test_other_leaves_are_refused(data: bytes) -> None:
    with pytest.raises(ProofError):
        parse_leaves(data, path="l")


@given(st.lists(st.tuples(st.booleans(), st.integers(0, 255)), max_size=40))
def test_tiles_are_written_and_read_back(tiles: list[tuple[bool, int]]) -> None:
    salts = {n: bytes([byte]) * 16 for n, (open_, byte) in enumerate(tiles) if open_}
    closed = {n: bytes([byte]) * 32 for n, (open_, byte) in enumerate(tiles) if not open_}
    assert parse_tiles(tiles_text(salts, closed), path="t") == (salts, closed)


@pytest.mark.parametrize(
    "data", [b"open 00\n", b"closed " + b"0" * 32 + b"\n", b"shut " + b"0" * 64 + b"\n", b"open"]
)
def test_other_tiles_are_refused(data: bytes) -> None:
    with pytest.raises(ProofError) as caught:
        parse_tiles(data, path="t")
    assert caught.value.path == "t"


def test_redaction_records_are_read_back_and_others_refused() -> None:
    record = RedactionRecord(
        entry=1, exhibit=2, boxes=((1, 2, 3, 4),), polygons=(((1, 2), (3, 4), (5, 6)),),
        tiles=(0, 1), reason="r", by="b", at="a",
    )  # fmt: skip
    assert parse_redaction(record.to_bytes(), path="r", number=1) == record
    value = json.loads(record.to_bytes())
    for changes in ({"boxes": [1]}, {"tiles": [True]}, {"tiles": [[1]]}, {"reason": 1}, {"x": 1}):
        data = json.dumps(value | changes, sort_keys=True, separators=(",", ":")).encode()
        with pytest.raises(ProofError):
            parse_redaction(data, path="r", number=1)
