from __future__ import annotations

from typing import Any

import pytest
import rfc8785
from hypothesis import given, settings
from hypothesis import strategies as st

from evidpack.errors import ProofError
from evidpack.proof.commitments import entry_and_opening, parse_entry
from evidpack.proof.openings import opening_of, parse_opening
from tests.proof.test_commitments import KEY, KEYS, KINDS, TABLES, slow_line

OPENINGS = "seal/openings.jsonl"
VALUES = {"path": "export/a.jpg", "size": 12, "note": "ü", "share": 0.5, "none": None}


def refused(line: bytes) -> str:
    with pytest.raises(ProofError) as caught:
        parse_opening(line, path=OPENINGS, number=6)
    assert (caught.value.path, caught.value.line) == (OPENINGS, 7)
    return caught.value.message


@settings(max_examples=200)
@given(KINDS, TABLES, KEYS)
def test_both_lines_are_the_definition(kind: str, values: dict[str, Any], key: bytes) -> None:
    line, opening = entry_and_opening(kind, values, key)
    assert line == slow_line(kind, values, key)
    assert opening == rfc8785.dumps({"key": key.hex(), "values": values})


@given(KINDS, TABLES, KEYS)
def test_what_was_written_is_read_the_same_by_both_readers(
    kind: str, values: dict[str, Any], key: bytes
) -> None:
    line, opening = entry_and_opening(kind, values, key)
    quick = opening_of(kind, line, opening)
    strict = parse_opening(opening, path=OPENINGS, number=0)
    assert quick == strict
    assert strict.key == key
    assert parse_entry(line, path="seal/ledger.jsonl", number=0).kind == kind


@given(st.data())
def test_no_line_with_one_other_byte_opens(data: st.DataObject) -> None:
    line, opening = entry_and_opening("file", VALUES, KEY)
    which = data.draw(st.integers(0, 1))
    changed = bytearray((line, opening)[which])
    place = data.draw(st.integers(0, len(changed) - 1))
    changed[place] ^= data.draw(st.integers(1, 255))
    both = (bytes(changed), opening) if which == 0 else (line, bytes(changed))
    assert opening_of("file", *both) is None


# What the plain parser of Python lets pass, and the strict one does not.
LOOSE = [
    ('{"key":"%s","values":{"a":1,"a":1}}', "two members of the same name"),
    ('{"key":"%s","values":{"a":NaN}}', "not finite"),
    ('{"key":"%s","values":{"a":-0}}', "canonical form"),
    ('{"key":"%s","values":{"a":1.0}}', "canonical form"),
    ('{"key":"%s","values":{"a":9007199254740992}}', "too large"),
    ('{"key":"%s","values":{"a":1e999}}', "too large"),
    ('{"key":"%s", "values":{"a":1}}', "canonical form"),
    ('{"values":{"a":1},"key":"%s"}', "canonical form"),
    ('{"key":"%s","values":{"a":"\\ud800"}}', "lone surrogate"),
    ('{"key":"%s","values":{"a":"\\u0041"}}', "canonical form"),
    ('{"key":"%s","values":{"b":1,"a":1}}', "canonical form"),
    ('\ufeff{"key":"%s","values":{"a":1}}', "byte order mark"),
    ('{"key":"%s","values":{"a":' + "[" * 40 + "]" * 40 + "}}", "too deep"),
    ('{"key":"%s","more":1,"values":{"a":1}}', 'an opening is {"key", "values"}'),
    ('{"key":"%s","values":[]}', "holds a 32-byte key in hex and values"),
    ("[]", 'an opening is {"key", "values"}'),
    ("null", 'an opening is {"key", "values"}'),
]


@pytest.mark.parametrize(("text", "message"), LOOSE)
def test_no_loose_text_opens(text: str, message: str) -> None:
    line, _ = entry_and_opening("file", {"a": 1}, KEY)
    opening = (text.replace("%s", KEY.hex())).encode()
    assert opening_of("file", line, opening) is None
    assert message in refused(opening)


@pytest.mark.parametrize("key", ["00" * 31, "zz" * 32, "00" * 33])
def test_a_key_that_is_none_opens_nothing(key: str) -> None:
    line, _ = entry_and_opening("file", {"a": 1}, KEY)
    opening = f'{{"key":"{key}","values":{{"a":1}}}}'.encode()
    assert opening_of("file", line, opening) is None
    assert "key" in refused(opening)


def test_another_kind_does_not_open() -> None:
    line, opening = entry_and_opening("file", VALUES, KEY)
    assert opening_of("record", line, opening) is None
    assert opening_of("nonsense", line, opening) is None


def test_a_value_that_fits_its_commitment_but_not_its_opening_is_refused_when_sealing() -> None:
    # The opening puts two objects around a value: 30 arrays are 32 levels, 31 are one too many.
    def nested(levels: int) -> Any:
        value: Any = 1
        for _ in range(levels):
            value = [value]
        return value

    _, opening = entry_and_opening("record", {"a": nested(30)}, KEY)
    parse_opening(opening, path=OPENINGS, number=0)
    with pytest.raises(ProofError, match='field "a": arrays and objects stand too deep'):
        entry_and_opening("record", {"a": nested(31)}, KEY)
