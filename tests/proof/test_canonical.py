from __future__ import annotations

import json
import math
import struct
import sys
from itertools import count
from typing import Any

import pytest
import rfc8785
from hypothesis import example, given, settings
from hypothesis import strategies as st

from evidpack.errors import ProofError
from evidpack.limits import MAX_JSON_DEPTH, MAX_SAFE_INTEGER
from evidpack.proof.canonical import canonical_bytes, parse_canonical, parse_json
from tests.proof import reference
from tests.vectors import vectors

JCS_CASES = ["arrays", "french", "structures", "unicode", "values", "weird"]

TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
# Names on both sides of where the order of code points and of UTF-16 code units part.
EDGE_NAMES = st.text("\ud7ff\ue000\uffff\U00010000\U0010ffffaé", max_size=3)
INTEGERS = st.one_of(
    st.integers(-MAX_SAFE_INTEGER, MAX_SAFE_INTEGER),
    st.sampled_from([0, 1, -1, MAX_SAFE_INTEGER, -MAX_SAFE_INTEGER]),
)


def is_writable(number: float) -> bool:
    return not (number.is_integer() and MAX_SAFE_INTEGER < abs(number) < 1e21)


FLOATS = st.floats(allow_nan=False, allow_infinity=False).filter(is_writable)
SCALARS = st.one_of(st.none(), st.booleans(), INTEGERS, FLOATS, TEXTS)
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.one_of(
        st.lists(inner, max_size=5),
        st.dictionaries(st.one_of(TEXTS, EDGE_NAMES), inner, max_size=5),
    ),
    max_leaves=20,
)


def refusal(data: bytes, *, line: int | None = 7, canonical: bool = False) -> ProofError:
    parse = parse_canonical if canonical else parse_json
    with pytest.raises(ProofError) as caught:
        parse(data, path="seal/ledger.jsonl", line=line)
    assert caught.value.path == "seal/ledger.jsonl"
    assert caught.value.line == line
    return caught.value


def value_or_refusal(data: bytes) -> Any:
    try:
        return parse_json(data, path="p", line=3)
    except ProofError as error:
        return error


def nested(levels: int, opening: str = "[", closing: str = "]") -> bytes:
    return (opening * levels + closing * levels).encode()


# Outside vectors and published values


@pytest.mark.parametrize("name", JCS_CASES)
def test_the_vectors_of_rfc_8785_come_out_byte_for_byte(name: str) -> None:
    folder = vectors("jcs")
    expected = bytes.fromhex((folder / "outhex" / f"{name}.txt").read_text())
    value = parse_json((folder / "input" / f"{name}.json").read_bytes(), path=name)
    assert canonical_bytes(value) == expected
    assert expected == (folder / "output" / f"{name}.json").read_bytes()
    assert parse_canonical(expected, path=name) == value


def test_every_vector_is_in_the_list() -> None:
    assert sorted(file.stem for file in vectors("jcs").glob("input/*")) == JCS_CASES


@pytest.mark.parametrize("name", JCS_CASES)
def test_the_inputs_of_the_vectors_are_not_canonical_themselves(name: str) -> None:
    data = (vectors("jcs") / "input" / f"{name}.json").read_bytes()
    assert "canonical form" in refusal(data, canonical=True).message


# RFC 8785 Appendix B: the bits of a number, and its text.
APPENDIX_B = [
    ("0000000000000000", "0"),
    ("8000000000000000", "0"),
    ("0000000000000001", "5e-324"),
    ("8000000000000001", "-5e-324"),
    ("7fefffffffffffff", "1.7976931348623157e+308"),
    ("ffefffffffffffff", "-1.7976931348623157e+308"),
    ("44b52d02c7e14af5", "9.999999999999997e+22"),
    ("44b52d02c7e14af6", "1e+23"),
    ("44b52d02c7e14af7", "1.0000000000000001e+23"),
    ("444b1ae4d6e2ef50", "1e+21"),
    ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"),
    ("3eb0c6f7a0b5ed8d", "0.000001"),
    ("41b3de4355555553", "333333333.3333332"),
    ("41b3de4355555554", "333333333.33333325"),
    ("41b3de4355555555", "333333333.3333333"),
    ("41b3de4355555556", "333333333.3333334"),
    ("41b3de4355555557", "333333333.33333343"),
    ("becbf647612f3696", "-0.0000033333333333333333"),
    ("43143ff3c1cb0959", "1424953923781206.2"),
]


@pytest.mark.parametrize(("bits", "text"), APPENDIX_B)
def test_numbers_are_written_as_in_appendix_b_of_rfc_8785(bits: str, text: str) -> None:
    (value,) = struct.unpack(">d", bytes.fromhex(bits))
    assert canonical_bytes(value) == text.encode() == reference.number_text(value).encode()


@pytest.mark.parametrize(
    ("bits", "text"),
    [
        ("4340000000000000", "9007199254740992"),
        ("c340000000000000", "-9007199254740992"),
        ("4430000000000000", "295147905179352830000"),
        ("444b1ae4d6e2ef4e", "999999999999999700000"),
        ("444b1ae4d6e2ef4f", "999999999999999900000"),
    ],
)
def test_numbers_of_appendix_b_that_look_like_unsafe_integers_are_refused(
    bits: str, text: str
) -> None:
    # RFC 8785 can write them, but what it writes is a whole number beyond 2^53 − 1, which our
    # parser does not take: so they are refused when writing already.
    (value,) = struct.unpack(">d", bytes.fromhex(bits))
    assert reference.number_text(value) == text
    with pytest.raises(ProofError, match="a whole number is too large to be exact"):
        canonical_bytes(value)
    assert "a whole number is too large" in refusal(text.encode()).message
    assert "a whole number is too large" in refusal(repr(value).encode()).message


# Laws


@settings(max_examples=400)
@given(VALUES)
def test_what_is_written_is_what_the_library_writes(value: Any) -> None:
    assert canonical_bytes(value) == rfc8785.dumps(value)


@settings(max_examples=300)
@given(st.dictionaries(EDGE_NAMES, st.none(), max_size=6))
@example({"\ue000": None, "\U00010000": None})
def test_names_are_in_the_order_of_their_utf_16_code_units(value: dict[str, None]) -> None:
    # RFC 8785 §3.2.3, straight from its text.
    names = sorted(value, key=lambda name: list(name.encode("utf-16-be")))
    assert list(json.loads(canonical_bytes(value))) == names  # type: ignore[arg-type]


@settings(max_examples=500)
@given(FLOATS)
@example(1e-4)
@example(math.nextafter(1e-4, 0))
@example(2.0**53 - 1)
@example(4503599627370495.5)
def test_numbers_are_written_as_ecma_262_says(value: float) -> None:
    assert canonical_bytes(value).decode() == reference.number_text(value)


@settings(max_examples=300)
@given(VALUES)
def test_what_is_written_can_be_read_and_means_the_same(value: Any) -> None:
    written = canonical_bytes(value)
    again = parse_canonical(written, path="x")
    assert again == value
    assert canonical_bytes(again) == written


@settings(max_examples=300)
@given(VALUES, st.booleans(), st.sampled_from([None, 0, 2]))
def test_whatever_is_read_can_be_written(value: Any, ascii_only: bool, indent: int | None) -> None:
    text = json.dumps(value, ensure_ascii=ascii_only, indent=indent).encode()
    read = parse_json(text, path="x")
    assert parse_canonical(canonical_bytes(read), path="x") == read == value


@settings(max_examples=300)
@given(
    st.one_of(
        st.binary(max_size=40), st.text('[]{}",:\\u0dD8e+-.1 \n', max_size=40).map(str.encode)
    )
)
def test_arbitrary_bytes_are_refused_with_the_place_or_read(data: bytes) -> None:
    found = value_or_refusal(data)
    if isinstance(found, ProofError):
        assert found.place == "p:3"
    else:
        assert found == json.loads(data)


def test_types_that_only_look_plain_are_written_as_what_they_stand_for() -> None:
    # Subclasses come from enumerations; a tuple stands where a frozen value holds a list.
    class Word(str):
        __slots__ = ()

        def __str__(self) -> str:
            return "not this"

    class Count(int):
        def __repr__(self) -> str:
            return "not this"

    assert canonical_bytes({Word("k"): [Word("v"), Count(5), True]}) == b'{"k":["v",5,true]}'
    assert canonical_bytes((1, ("a",), ())) == b'[1,["a"],[]]'  # type: ignore[arg-type]


# What cannot be written


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize("wrap", [lambda x: x, lambda x: [x], lambda x: {"a": {"b": [1, x]}}])
def test_numbers_that_are_not_finite_cannot_be_written(value: float, wrap: Any) -> None:
    with pytest.raises(ProofError, match="a number is not finite") as caught:
        canonical_bytes(wrap(value))
    assert caught.value.observed == repr(value)


@pytest.mark.parametrize("value", [2**53, -(2**53), 10**5000, -(10**5000)], ids=count())
def test_integers_that_are_not_exact_everywhere_cannot_be_written(value: int) -> None:
    with pytest.raises(ProofError, match="a whole number is too large to be exact") as caught:
        canonical_bytes([{"n": value}])
    assert caught.value.observed == f"one of {value.bit_length()} bits"
    assert "9007199254740991" in str(caught.value)


@pytest.mark.parametrize("value", [b"bytes", {1}, object, 1j, range(3)])
def test_other_types_cannot_be_written(value: Any) -> None:
    with pytest.raises(ProofError, match="a type that JSON does not have") as caught:
        canonical_bytes({"a": [value]})
    assert caught.value.observed == type(value).__name__


@pytest.mark.parametrize("name", [1, None, True, 1.5, b"a", ("a",)])
def test_names_that_are_not_text_cannot_be_written(name: Any) -> None:
    with pytest.raises(ProofError, match="name of an object's member is not a text") as caught:
        canonical_bytes({"a": {name: 1}})
    assert caught.value.observed == type(name).__name__


@pytest.mark.parametrize(
    "value",
    ["\ud800", "a\udfffb", {"\udc00": 1}, [{"a": "\ud83d"}], {"\U0001f602": "\ud800", "a": 1.0}],
)
def test_lone_surrogates_cannot_be_written(value: Any) -> None:
    with pytest.raises(ProofError, match="a text holds a lone surrogate"):
        canonical_bytes(value)


def test_writing_goes_as_deep_as_reading_and_no_deeper() -> None:
    value: Any = []
    for _ in range(MAX_JSON_DEPTH - 1):
        value = [value] if len(value) % 2 else {"a": value}
    assert parse_canonical(canonical_bytes(value), path="x") == value
    with pytest.raises(ProofError, match="too deep within each other") as caught:
        canonical_bytes([value])
    assert caught.value.expected == f"at most {MAX_JSON_DEPTH} levels"


def test_a_value_that_holds_itself_is_too_deep() -> None:
    value: list[Any] = []
    value.append(value)
    with pytest.raises(ProofError, match="too deep within each other"):
        canonical_bytes(value)


# What cannot be read


@pytest.mark.parametrize(
    ("data", "offset"),
    [
        (b"", 0),
        (b" ", 1),
        (b"{", 1),
        (b"[1,]", 3),
        (b'{"a":1,}', 7),
        (b"{a:1}", 1),
        (b"{'a':1}", 1),
        (b"[1] [2]", 4),
        (b"1 2", 2),
        (b"{}\x00", 2),
        (b"01", 1),
        (b"+1", 0),
        (b".5", 0),
        (b"5.", 1),
        (b"-", 0),
        (b"0x10", 1),
        (b"tru", 0),
        (b"True", 0),
        (b"nul", 0),
        (b"undefined", 0),
        (b"/* c */1", 0),
        (b'"a', 0),
        (b'"\n"', 1),
        (b'"\x1f"', 1),
        (b'"\\x41"', 1),
        (b'"\\u12"', 2),
        (b'"\\', 0),
        ("١".encode(), 0),
        (b"\xc2\xa01", 0),
        ('["é" 1]'.encode(), 6),
        (b"\x0c1", 0),
    ],
)
def test_what_is_not_json_is_refused_with_its_place(data: bytes, offset: int) -> None:
    error = refusal(data)
    assert error.message == "this is not JSON"
    assert error.offset == offset
    assert f"at byte {offset}" in str(error)
    assert "seal/ledger.jsonl:7" in str(error)


@pytest.mark.parametrize(
    ("data", "name"),
    [
        (b'{"a":1,"a":1}', "'a' again"),
        (b'{"a":1,"b":2,"a":3}', "'a' again"),
        (b'[{"x":{"":1,"":2}}]', "'' again"),
        (b'{"a":1,"\\u0061":2}', "'a' again"),
        (b'{"b":1,"\\ud800":1,"\\ud800":2}', "'\\ud800' again"),
    ],
)
def test_a_name_twice_is_refused_and_named(data: bytes, name: str) -> None:
    error = refusal(data)
    assert error.message == "an object has two members of the same name"
    assert error.observed == name


def test_a_name_in_two_objects_or_in_two_forms_is_no_repetition() -> None:
    assert parse_json(b'[{"a":1},{"a":2}]', path="x") == [{"a": 1}, {"a": 2}]
    assert len(parse_json('{"é":1,"e\u0301":2}'.encode(), path="x")) == 2  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "data", [b"NaN", b"Infinity", b"-Infinity", b'{"a":[NaN]}', b"[1,-Infinity]"]
)
def test_words_for_numbers_that_are_not_finite_are_refused(data: bytes) -> None:
    error = refusal(data)
    assert error.message == "a number is not finite"
    assert error.observed in {"NaN", "Infinity", "-Infinity"}


@pytest.mark.parametrize(
    "data",
    [b"1e999", b"-1e999", b"[1E400]", b"1" + b"0" * 400 + b".0", b"1e" + b"9" * 9999],
    ids=count(),
)
def test_numbers_too_large_for_a_float_are_refused(data: bytes) -> None:
    error = refusal(data)
    assert error.message == "a number is too large"
    assert len(error.observed or "") <= 40


@pytest.mark.parametrize(
    "data",
    [
        b"9007199254740992",
        b"-9007199254740992",
        b'{"a":9007199254740993}',
        b"9007199254740992.0",
        b"1e16",
        b"1e20",
        b"12345678901234567890",
        b"1" * 5_000,
        b"-" + b"9" * 100_000,
        b"[" + b"1" * 1_000_000 + b"]",
    ],
    ids=count(),
)
def test_whole_numbers_beyond_two_to_the_53_are_refused(data: bytes) -> None:
    error = refusal(data)
    assert error.message == "a whole number is too large to be exact everywhere"
    assert len(str(error)) < 300


def test_huge_integers_are_refused_whatever_pythons_own_limit_is() -> None:
    before = sys.get_int_max_str_digits()
    try:
        for digits in (0, 640):
            sys.set_int_max_str_digits(digits)
            assert "too large" in refusal(b"1" * 10_000).message
    finally:
        sys.set_int_max_str_digits(before)


def test_the_largest_safe_integers_are_read() -> None:
    data = b"[9007199254740991,-9007199254740991,1e21,1e-400,-0]"
    assert parse_json(data, path="x") == [MAX_SAFE_INTEGER, -MAX_SAFE_INTEGER, 1e21, 0.0, 0]


@pytest.mark.parametrize(
    "data",
    [
        b'"\\ud800"',
        b'"\\uD800"',
        b'"\\udc00\\ud800"',
        b'{"\\udfff":1}',
        b'[{"a":"x\\ud83dy"}]',
        b'"\\ud83d\\\\ude02"',
    ],
)
def test_lone_surrogates_are_refused(data: bytes) -> None:
    assert refusal(data).message == "a text holds a lone surrogate"


def test_surrogate_pairs_and_escaped_backslashes_are_read() -> None:
    assert parse_json(b'["\\ud83d\\ude02","\\\\ud800","\\u00e9"]', path="x") == [
        "😂",
        "\\ud800",
        "é",
    ]


@pytest.mark.parametrize(
    ("data", "offset"),
    [
        (b"\xff", 0),
        (b'"\xe9"', 1),
        (b'"ab\xed\xa0\x80"', 3),  # a surrogate encoded by itself
        (b'"\xc0\x80"', 1),  # an overlong NUL
        (b'"\xf4\x90\x80\x80"', 1),  # beyond U+10FFFF
        (b'"\xe2\x82', 1),
        (b"\xff\xfe1\x00", 0),
    ],
)
def test_bytes_that_are_not_utf_8_are_refused_with_their_place(data: bytes, offset: int) -> None:
    error = refusal(data)
    assert error.message == "the text is not UTF-8"
    assert error.offset == offset
    assert error.observed == f"byte {data[offset]:02X} at byte {offset}"


@pytest.mark.parametrize("data", [b"\xef\xbb\xbf{}", b"\xef\xbb\xbf", b"\xef\xbb\xbf\xef\xbb\xbf1"])
def test_a_byte_order_mark_is_refused(data: bytes) -> None:
    assert refusal(data).message == "the text begins with a byte order mark"


def test_json_in_utf_16_is_refused() -> None:
    assert refusal('{"a":1}'.encode("utf-16-be")).message == "this is not JSON"


@pytest.mark.parametrize(
    "data",
    [
        nested(MAX_JSON_DEPTH + 1),
        nested(100_000),
        nested(1_000_000, '{"a":', "}"),
        b"[" * 1_000_000,
        b'[{"a":' * 50_000,
        b'["\\"",' * 1_000 + b"1" + b"]" * 1_000,
        b'["[[[]]]\\\\",' * 33 + b"1" + b"]" * 33,
    ],
    ids=count(),
)
def test_nesting_too_deep_is_refused_and_never_a_recursion_error(data: bytes) -> None:
    assert refusal(data).message == "arrays and objects stand too deep within each other"


def test_the_deepest_permitted_nesting_is_read() -> None:
    deepest = nested(MAX_JSON_DEPTH)
    assert canonical_bytes(parse_canonical(deepest, path="x")) == deepest
    assert refusal(nested(MAX_JSON_DEPTH + 1)).observed == str(MAX_JSON_DEPTH + 1)


@pytest.mark.parametrize(
    "data",
    [
        json.dumps("[" * 1_000).encode(),
        json.dumps(["\\", '"[' * 1_000, '\\"', {"{\\": "["}]).encode(),
        b"[" + b",".join([b"[{}]"] * 1_000) + b"]",
        b'["\\u005b' + b"[" * 40 + b'"]',
    ],
    ids=count(),
)
def test_brackets_within_texts_or_beside_each_other_are_no_depth(data: bytes) -> None:
    assert parse_json(data, path="x") == json.loads(data)


@settings(max_examples=300)
@given(
    st.lists(st.sampled_from(['"', "\\", "[", "]", "{", "}", "a", "\\\\", '\\"', ","]), max_size=60)
)
def test_nesting_is_never_counted_less_than_the_parser_would_go(parts: list[str]) -> None:
    # Pad in front so that the count runs; the reader beneath must agree or stop earlier.
    data = ("[" * MAX_JSON_DEPTH + "".join(parts) + "]" * MAX_JSON_DEPTH).encode()
    try:
        value = json.loads(data)
    except ValueError:
        refusal(data)
        return
    if depth_of(value) > MAX_JSON_DEPTH:
        assert "too deep" in refusal(data).message


def depth_of(value: Any) -> int:
    if isinstance(value, dict):
        value = list(value.values())
    return 1 + max(map(depth_of, value), default=0) if isinstance(value, list) else 0


# What is not in canonical form


@pytest.mark.parametrize(
    ("data", "offset"),
    [
        (b'{"b":1,"a":2}', 2),
        (b'{"a": 1}', 5),
        (b'{"a":1 }', 6),
        (b" 1", 0),
        (b"1\n", 1),
        (b"[1, 2]", 3),
        (b"1.0", 1),
        (b"1e2", 1),
        (b"1E2", 1),
        (b"-0", 0),
        (b"-0.0", 0),
        (b"0.10", 3),
        (b"1e+21 ", 5),
        (b"1e21", 2),
        (b"0.0000001", 0),
        (b'"\\/"', 1),
        (b'"\\u0061"', 1),
        (b'"\\u000A"', 2),
        (b'"\\u001F"', 6),
        (b'"\\u007f"', 1),
        (b'"\\ud83d\\ude02"', 1),
        ('{"\ue000":1,"\U00010000":2}'.encode(), 2),
        (b"333333333.33333329", 16),
    ],
)
def test_json_in_another_form_than_the_canonical_is_refused(data: bytes, offset: int) -> None:
    assert parse_json(data, path="x") == json.loads(data)
    error = refusal(data, canonical=True)
    assert error.message == "this JSON is not in the canonical form of RFC 8785"
    assert error.offset == offset
    assert f"at byte {offset}" in (error.expected or "")


def test_canonical_reading_refuses_all_that_strict_reading_does() -> None:
    for data in (
        b'{"a":1,"a":1}',
        b"NaN",
        b"\xef\xbb\xbf1",
        b"9007199254740992",
        b'"\\ud800"',
        b"",
    ):
        strict, canonical = refusal(data), refusal(data, canonical=True)
        assert (canonical.message, canonical.observed) == (strict.message, strict.observed)


def test_without_a_line_the_place_is_the_byte() -> None:
    error = refusal(b"[1,]", line=None)
    assert error.place == "seal/ledger.jsonl, at byte 3"


def test_a_difference_deep_in_a_long_line_is_shown_in_a_few_bytes() -> None:
    good = canonical_bytes([{"a": "x" * 10_000}, {"b": 1, "c": 2}])
    bad = good.replace(b'"b":1,"c":2', b'"c":2,"b":1')
    error = refusal(bad, canonical=True)
    assert error.offset == bad.index(b'c":2')
    assert len(str(error)) < 300
