from __future__ import annotations

import hashlib
import hmac
import json
from typing import Any

import pytest
import rfc8785
from hypothesis import given, settings
from hypothesis import strategies as st

from evidpack.errors import ProofError
from evidpack.proof.canonical import canonical_bytes
from evidpack.proof.commitments import (
    Entry,
    commit_entry,
    entry_line,
    field_commitment,
    field_salt,
    parse_entry,
    require_opening,
)

KEY = bytes(range(32))
LEDGER = "seal/ledger.jsonl"
KINDS = st.sampled_from(["file", "record", "finding"])
NAMES = st.text(st.characters(exclude_categories=["Cs"]), max_size=10)
SCALARS = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(2**53) + 1, 2**53 - 1),
    st.floats(-1e15, 1e15),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=10),
)
VALUES = st.one_of(
    SCALARS, st.lists(SCALARS, max_size=3), st.dictionaries(NAMES, SCALARS, max_size=3)
)
TABLES = st.dictionaries(NAMES, VALUES, min_size=1, max_size=8)
KEYS = st.binary(min_size=32, max_size=32)


def slow_line(kind: str, values: dict[str, Any], key: bytes) -> bytes:
    """The definition in docs/format.md, with the library's JSON and Python's HMAC."""
    fields = {}
    for name, value in values.items():
        salt = hmac.new(key, name.encode(), "sha256").digest()[:16]
        fields[name] = hashlib.sha256(b"\x03" + salt + rfc8785.dumps([name, value])).hexdigest()
    return rfc8785.dumps({"fields": fields, "kind": kind})


def parsed(kind: str, values: dict[str, Any]) -> tuple[Entry, dict[str, bytes]]:
    line, salts = commit_entry(kind, values, KEY)
    return parse_entry(line, path=LEDGER, number=4), salts


def open_all(line: bytes, values: dict[str, Any]) -> None:
    entry = parse_entry(line, path=LEDGER, number=0)
    for name, value in values.items():
        require_opening(entry, name, field_salt(KEY, name), value, number=0)


def refused_line(data: bytes) -> ProofError:
    with pytest.raises(ProofError) as caught:
        parse_entry(data, path=LEDGER, number=4)
    assert (caught.value.path, caught.value.line) == (LEDGER, 5)
    return caught.value


@settings(max_examples=200)
@given(KINDS, TABLES, KEYS)
def test_an_entry_is_the_definition(kind: str, values: dict[str, Any], key: bytes) -> None:
    line, salts = commit_entry(kind, values, key)
    assert line == slow_line(kind, values, key) == entry_line(kind, values, key)
    assert b"\n" not in line
    assert salts == {name: field_salt(key, name) for name in values}


@given(KINDS, TABLES, KEYS)
def test_what_is_committed_can_be_read_and_opened(
    kind: str, values: dict[str, Any], key: bytes
) -> None:
    line, salts = commit_entry(kind, values, key)
    entry = parse_entry(line, path=LEDGER, number=0)
    assert entry.kind == kind
    assert entry.fields.keys() == values.keys()
    for name, value in values.items():
        assert entry.fields[name] == field_commitment(salts[name], name, value).hex()
        require_opening(entry, name, salts[name], value, number=0)


@given(TABLES, KEYS)
def test_a_line_does_not_depend_on_the_order_of_its_fields(
    values: dict[str, Any], key: bytes
) -> None:
    backwards = dict(reversed(values.items()))
    assert entry_line("record", values, key) == entry_line("record", backwards, key)


def test_a_line_shows_kind_and_names_and_nothing_else() -> None:
    line = entry_line("record", {"plate": "QZ00 ZZZ", "speed_mph": 71}, KEY)
    shown = json.loads(line)
    assert shown.keys() == {"fields", "kind"}
    assert shown["fields"].keys() == {"plate", "speed_mph"}
    assert b"QZ00" not in line
    assert b":71" not in line


def test_equal_values_are_not_seen_to_be_equal() -> None:
    same = {"a": "QZ00 ZZZ", "b": "QZ00 ZZZ"}
    first, second = (
        json.loads(entry_line("record", same, key))["fields"] for key in (KEY, bytes(32))
    )
    assert len({first["a"], first["b"], second["a"], second["b"]}) == 4


@given(NAMES, VALUES, VALUES, KEYS)
def test_different_values_have_different_commitments(
    name: str, one: Any, other: Any, key: bytes
) -> None:
    salt = field_salt(key, name)
    same = canonical_bytes(one) == canonical_bytes(other)
    commitments = field_commitment(salt, name, one), field_commitment(salt, name, other)
    assert (commitments[0] == commitments[1]) == same


def test_name_and_value_cannot_be_cut_elsewhere() -> None:
    salt = bytes(16)
    pairs = [("a", "b"), ("ab", ""), ("", "ab"), ('a","b', ""), ("a", ["b"]), ("a", '"b"')]
    assert len({field_commitment(salt, name, value) for name, value in pairs}) == len(pairs)


# Openings


def test_a_wrong_value_is_refused_naming_entry_and_field() -> None:
    entry, salts = parsed("record", {"speed_mph": 71, "unit": "mph"})
    for wrong in (72, "71", 71.5, None, [71], True):
        with pytest.raises(
            ProofError, match=r'^field "speed_mph" of entry 4 does not open as it was committed'
        ) as caught:
            require_opening(entry, "speed_mph", salts["speed_mph"], wrong, number=4)
        assert caught.value.expected == f"commitment {entry.fields['speed_mph']}"
        assert caught.value.observed != caught.value.expected
    # 71.0 is the same JSON number, so it opens (RFC 8785 §3.2.2.3).
    require_opening(entry, "speed_mph", salts["speed_mph"], 71.0, number=4)


@given(st.integers(0, 127))
def test_a_wrong_salt_is_refused_naming_entry_and_field(bit: int) -> None:
    entry, salts = parsed("record", {"speed_mph": 71, "unit": "mph"})
    wrong = (int.from_bytes(salts["unit"]) ^ (1 << bit)).to_bytes(16)
    with pytest.raises(ProofError, match=r'^field "unit" of entry 4 does not open'):
        require_opening(entry, "unit", wrong, "mph", number=4)


def test_one_field_does_not_open_as_another() -> None:
    entry, salts = parsed("record", {"one": 71, "two": 71})
    with pytest.raises(ProofError, match=r'^field "two" of entry 4 does not open'):
        require_opening(entry, "two", salts["one"], 71, number=4)
    swapped = Entry(kind="record", fields={"one": entry.fields["two"], "two": entry.fields["one"]})
    with pytest.raises(ProofError, match=r'^field "one" of entry 4 does not open'):
        require_opening(swapped, "one", salts["two"], 71, number=4)


def test_a_field_that_the_entry_does_not_have_is_refused() -> None:
    entry, salts = parsed("record", {"speed_mph": 71, "unit": "mph"})
    with pytest.raises(
        ProofError, match='"speed" of entry 4 is opened, but the entry has no'
    ) as caught:
        require_opening(
            entry, "speed", salts["unit"], 71, number=4, path="seal/openings.jsonl", line=5
        )
    assert caught.value.expected == "speed_mph, unit"
    assert caught.value.observed == "speed"
    assert caught.value.place == "seal/openings.jsonl:5"


@pytest.mark.parametrize("length", [0, 15, 17, 32])
def test_a_salt_of_another_length_is_refused_naming_entry_and_field(length: int) -> None:
    entry, _ = parsed("record", {"unit": "mph"})
    with pytest.raises(
        ProofError, match=r'^p:5: entry 4: the salt of field "unit" is of the wrong'
    ):
        require_opening(entry, "unit", bytes(length), "mph", number=4, path="p", line=5)
    with pytest.raises(ProofError, match=r'^the salt of field "unit" is of the wrong length'):
        field_commitment(bytes(length), "unit", "mph")


@pytest.mark.parametrize("value", [float("nan"), 2**53, "\ud800", [b"x"]])
def test_a_value_that_json_cannot_say_is_refused_naming_entry_and_field(value: Any) -> None:
    entry, salts = parsed("record", {"unit": "mph"})
    with pytest.raises(ProofError, match=r'^entry 4: field "unit": a '):
        require_opening(entry, "unit", salts["unit"], value, number=4)
    with pytest.raises(ProofError, match=r'^field "unit": a '):
        entry_line("record", {"other": 1, "unit": value}, KEY)


# What cannot be made


@pytest.mark.parametrize("kind", ["", "File", "files", "seal", "recor"])
def test_an_unknown_kind_is_not_written(kind: str) -> None:
    with pytest.raises(ProofError, match="an entry is of an unknown kind") as caught:
        entry_line(kind, {"a": 1}, KEY)
    assert caught.value.expected == "file, record, finding"
    assert caught.value.observed == f'"{kind}"'


def test_an_entry_without_fields_is_not_written() -> None:
    with pytest.raises(ProofError, match="an entry has no fields"):
        entry_line("file", {}, KEY)


@pytest.mark.parametrize("length", [0, 16, 31, 33])
def test_an_entry_key_of_another_length_is_refused(length: int) -> None:
    with pytest.raises(ProofError, match="the key for salts is of the wrong length"):
        entry_line("file", {"a": 1}, bytes(length))
    with pytest.raises(ProofError, match="the key for salts is of the wrong length"):
        field_salt(bytes(length), "a")


def test_a_name_with_a_lone_surrogate_is_refused_in_printable_words() -> None:
    for call in (
        lambda: field_salt(KEY, "raw:\ud800"),
        lambda: entry_line("record", {"raw:\ud800": 1}, KEY),
    ):
        with pytest.raises(ProofError, match="name of a field holds a lone surrogate") as caught:
            call()
        assert caught.value.observed == "raw:\\ud800"
    with pytest.raises(ProofError, match="lone surrogate") as caught:
        field_commitment(bytes(16), "raw:\ud800", 1)
    assert str(caught.value).isprintable()


def test_what_a_terminal_obeys_is_not_repeated_in_an_error() -> None:
    entry, salts = parsed("record", {"raw:\x1b[2J\n": 1, "raw:Größe": 2})
    with pytest.raises(ProofError) as caught:
        require_opening(entry, "raw:\x1b[2J\n", salts["raw:Größe"], 1, number=4)
    assert str(caught.value).startswith('field "raw:\\x1b[2J\\n" of entry 4')
    with pytest.raises(ProofError) as caught:
        require_opening(entry, "\u202e", salts["raw:Größe"], 1, number=4)
    assert str(caught.value).isprintable()
    assert "raw:Größe" in str(caught.value)


# What cannot be read


@pytest.mark.parametrize(
    ("value", "observed"),
    [
        ([], "list"),
        ("file", '"file"'),
        (None, "NoneType"),
        (1, "int"),
        ({}, "an object of nothing"),
        ({"kind": "file"}, "an object of kind"),
        ({"fields": {}}, "an object of fields"),
        ({"fields": {"a": "0" * 64}, "kind": "file", "n": 1}, "an object of fields, kind, n"),
    ],
)
def test_what_is_not_an_entry_is_refused(value: Any, observed: str) -> None:
    error = refused_line(rfc8785.dumps(value))
    assert error.message == "entry 4 is not an entry"
    assert error.observed == observed


@pytest.mark.parametrize("kind", ["seal", "", None, 1, ["file"], {"file": 1}])
def test_an_entry_of_unknown_kind_is_refused(kind: Any) -> None:
    error = refused_line(rfc8785.dumps({"fields": {"a": "0" * 64}, "kind": kind}))
    assert error.message == "entry 4 is of unknown kind"
    assert error.expected == "file, record, finding"


@pytest.mark.parametrize("fields", [{}, [], None, "a", 1])
def test_an_entry_without_fields_is_refused(fields: Any) -> None:
    error = refused_line(rfc8785.dumps({"fields": fields, "kind": "file"}))
    assert error.message == "entry 4 has no fields"


@pytest.mark.parametrize(
    "commitment",
    [
        "",
        "0" * 63,
        "0" * 65,
        "A" * 64,
        "g" * 64,
        "0" * 64 + "\n",
        "٠" * 64,
        0,
        None,
        ["0" * 64],
        {},
    ],
)
def test_what_is_not_a_commitment_is_refused_naming_the_field(commitment: Any) -> None:
    fields = {"a": "0" * 64, "raw:Plate": commitment}
    error = refused_line(rfc8785.dumps({"fields": fields, "kind": "record"}))
    assert error.message == 'field "raw:Plate" of entry 4 is not a commitment'
    assert error.expected == "64 lower-case hexadecimal digits"


def test_a_line_in_another_form_is_refused() -> None:
    line = entry_line("file", {"a": 1, "b": 2}, KEY)
    for data in (
        line + b"\n",
        b" " + line,
        line.replace(b":", b": ", 1),
        json.dumps(json.loads(line)).encode(),
    ):
        assert "not in the canonical form" in refused_line(data).message
    assert "same name" in refused_line(line.replace(b'"b"', b'"a"')).message
    assert "not JSON" in refused_line(line + line).message
    assert "not JSON" in refused_line(b"").message


@given(st.data())
def test_a_line_with_any_one_bit_changed_is_refused_or_does_not_open(data: st.DataObject) -> None:
    values: dict[str, Any] = {"path": "export/a.jpg", "size": 5}
    line = entry_line("file", values, KEY)
    place = data.draw(st.integers(0, len(line) - 1))
    changed = bytearray(line)
    changed[place] ^= 1 << data.draw(st.integers(0, 7))
    with pytest.raises(ProofError, match=r"of entry 0|^seal/ledger\.jsonl:1: "):
        open_all(bytes(changed), values)
