"""JSON that can be written in one way only (RFC 8785), and a parser that accepts no more.

Whatever `canonical_bytes` writes, `parse_canonical` reads, and the other way round: a sealed line
that the verifier then refuses cannot be made.
"""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Iterable
from typing import Final, NoReturn, cast

import rfc8785

from evidpack.errors import ProofError
from evidpack.limits import MAX_JSON_DEPTH, MAX_SAFE_INTEGER
from evidpack.model.values import JsonValue

_BYTE_ORDER_MARK: Final = b"\xef\xbb\xbf"
_LAST_BASIC_CHARACTER: Final = "\uffff"
_EXCERPT: Final = 40
_MAX_INTEGER_CHARACTERS: Final = len(str(-MAX_SAFE_INTEGER))
_NOT_BRACKETS: Final = bytes(byte for byte in range(256) if byte not in b"[]{}")

# RFC 8785 §3.2.2.3 writes a number from here on with an exponent, below it as whole digits.
_FIRST_WITH_EXPONENT: Final = 1e21
# Between these, a number with a fraction is written by Python as RFC 8785 has it.
_PLAIN_FROM: Final = 1e-4
_PLAIN_BELOW: Final = 2.0**53

_write_plain: Final = json.JSONEncoder(
    ensure_ascii=False,
    check_circular=False,  # the limit on depth finds a value that holds itself
    allow_nan=False,
    sort_keys=True,
    separators=(",", ":"),
).encode


def canonical_bytes(value: JsonValue, *, depth: int = 0) -> bytes:
    """The one JSON text of a value, in UTF-8 (RFC 8785).

    `depth` is the number of arrays and objects around the place where the text is to stand.
    Raises ProofError for what no text in this form could say, or `parse_canonical` would refuse:
    NaN and infinities, whole numbers beyond ±(2^53 − 1) (also as a float below 10^21, which is
    written with all its digits), lone surrogates, names that are not text, other types, and more
    than `MAX_JSON_DEPTH` arrays or objects within each other.
    """
    plain = type(value) is str or _require_json(value, depth=depth)
    try:
        # Python's own encoder is several times quicker and, for plain values, writes the same.
        return _write_plain(value).encode() if plain else rfc8785.dumps(value)
    except ValueError as error:
        raise _lone_surrogate() from error


def parse_json(data: bytes, *, path: str, line: int | None = None) -> JsonValue:
    """Read one JSON text strictly (RFC 8259, and the limits that RFC 7493 sets).

    `path` and `line` (from 1) say in errors where the text stands.

    Raises ProofError for anything but one value in UTF-8 without a byte order mark, for a name
    twice in one object, NaN, Infinity, a number too large for a float or a whole number beyond
    ±(2^53 − 1), a lone surrogate, and more than `MAX_JSON_DEPTH` levels.
    """
    try:
        text = _require_text(data)
        _require_shallow(data)
        value = cast("JsonValue", _decoder.decode(text))
        if b"\\u" in data:
            _require_no_lone_surrogate(value)
    except json.JSONDecodeError as error:
        offset = len(error.doc[: error.pos].encode())
        raise ProofError(
            "this is not JSON",
            path=path,
            line=line,
            offset=offset,
            expected="one JSON value and nothing else",
            observed=f"{error.msg}, at byte {offset}",
        ) from error
    except ProofError as error:
        error.path, error.line = path, line
        raise
    return value


def parse_canonical(data: bytes, *, path: str, line: int | None = None) -> JsonValue:
    """Read one JSON text that must be in canonical form (RFC 8785).

    Raises ProofError as `parse_json` does, and where writing the value again gives other bytes.
    """
    value = read_plainly(data)
    if value is not None and _writes(value, data):
        return value
    value = parse_json(data, path=path, line=line)
    written = canonical_bytes(value)
    if written != data:
        offset = _first_difference(written, data)
        raise ProofError(
            "this JSON is not in the canonical form of RFC 8785",
            path=path,
            line=line,
            offset=offset,
            expected=f"{written[offset : offset + _EXCERPT]!r} at byte {offset}",
            observed=repr(data[offset : offset + _EXCERPT]),
        )
    return value


def read_plainly(data: bytes) -> JsonValue:
    """What a text says if it is the canonical form of that, else anything, or None.

    Python's own parser, without the checks of `parse_json`, which cost as much again: whatever
    it lets pass (a name twice, NaN, −0, a number too large) is written again in other bytes or
    not at all.  So the answer may be used where `canonical_bytes` of it gives `data`, and nowhere
    else.
    """
    try:
        _require_shallow(data)
        return cast("JsonValue", json.loads(data.decode()))
    except (ValueError, ProofError):
        return None


def _writes(value: JsonValue, data: bytes) -> bool:
    try:
        return canonical_bytes(value) == data
    except ProofError:
        return False


def _require_json(value: object, *, depth: int) -> bool:
    """Refuse what JSON cannot say. True where the plain encoder writes it as RFC 8785 has it."""
    if value is None or isinstance(value, (str, bool)):
        return True
    if isinstance(value, int):
        return _require_safe_integer(value)
    if isinstance(value, float):
        return _require_number(value)
    if not isinstance(value, (dict, list, tuple)):
        raise ProofError(
            "a value is of a type that JSON does not have",
            expected="null, true, false, a number, a text, an array or an object",
            observed=type(value).__name__,
        )
    if depth == MAX_JSON_DEPTH:
        raise _too_deep(f"more than {MAX_JSON_DEPTH}")
    plain = True
    if isinstance(value, dict):
        plain = _require_names(value)
        value = value.values()
    for member in value:
        # The type is asked first because most members are texts, and a call costs more.
        if type(member) is not str and not _require_json(member, depth=depth + 1):
            plain = False
    return plain


def _require_names(names: Iterable[object]) -> bool:
    """Refuse names that are not text. True where order by code point is the order of RFC 8785.

    RFC 8785 §3.2.3 sorts by UTF-16 code units; the two orders differ only where characters
    outside the Basic Multilingual Plane take part.
    """
    plain = True
    for name in names:
        if not isinstance(name, str):
            raise ProofError(
                "the name of an object's member is not a text",
                expected="a text",
                observed=type(name).__name__,
            )
        if not name.isascii() and max(name) > _LAST_BASIC_CHARACTER:
            plain = False
    return plain


def _require_safe_integer(value: int) -> bool:
    if not -MAX_SAFE_INTEGER <= value <= MAX_SAFE_INTEGER:
        # Its digits are not shown: turning a huge number into text is itself refused by Python.
        raise _unsafe_integer(f"one of {value.bit_length()} bits")
    return True


def _require_number(value: float) -> bool:
    if not math.isfinite(value):
        raise ProofError(
            "a number is not finite", expected="a number that JSON can say", observed=repr(value)
        )
    if not value.is_integer():
        return _PLAIN_FROM <= abs(value) < _PLAIN_BELOW
    if MAX_SAFE_INTEGER < abs(value) < _FIRST_WITH_EXPONENT:
        raise _unsafe_integer(repr(value))
    return False


def _require_text(data: bytes) -> str:
    if data.startswith(_BYTE_ORDER_MARK):
        raise ProofError(
            "the text begins with a byte order mark",
            expected="UTF-8 without one",
            observed="EF BB BF at byte 0",
        )
    try:
        return data.decode()
    except UnicodeDecodeError as error:
        raise ProofError(
            "the text is not UTF-8",
            offset=error.start,
            expected="UTF-8",
            observed=f"byte {data[error.start]:02X} at byte {error.start}",
        ) from error


def _require_shallow(data: bytes) -> None:
    """Count levels before parsing, since the parser would run into Python's recursion limit.

    What follows the first error in a text that is not JSON may be counted wrongly; the parser
    stops there.
    """
    if data.count(b"[") + data.count(b"{") <= MAX_JSON_DEPTH:
        return
    without_escapes = data.replace(b"\\\\", b"").replace(b'\\"', b"")
    outside_texts = b"".join(without_escapes.split(b'"')[::2])
    depth = deepest = 0
    for bracket in outside_texts.translate(None, _NOT_BRACKETS):
        depth += 1 if bracket in b"[{" else -1
        deepest = max(deepest, depth)
    if deepest > MAX_JSON_DEPTH:
        raise _too_deep(str(deepest))


def _require_no_lone_surrogate(value: JsonValue) -> None:
    try:
        _write_plain(value).encode()
    except UnicodeEncodeError as error:
        raise _lone_surrogate() from error


def _object(pairs: list[tuple[str, JsonValue]]) -> dict[str, JsonValue]:
    members = dict(pairs)
    if len(members) != len(pairs):
        [(name, _)] = Counter(name for name, _ in pairs).most_common(1)
        raise ProofError(
            "an object has two members of the same name",
            expected="each name once",
            observed=f"{name[:_EXCERPT]!r} again",
        )
    return members


def _integer(text: str) -> int:
    # Length first: Python refuses to convert a text of thousands of digits.
    if len(text) > _MAX_INTEGER_CHARACTERS:
        raise _unsafe_integer(f"one of {len(text)} characters")
    value = int(text)
    _require_safe_integer(value)
    return value


def _float(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise ProofError(
            "a number is too large",
            expected="one that a 64-bit floating-point number can hold",
            observed=text[:_EXCERPT],
        )
    _require_number(value)
    return value


def _constant(text: str) -> NoReturn:
    raise ProofError("a number is not finite", expected="a number that JSON can say", observed=text)


_decoder: Final = json.JSONDecoder(
    object_pairs_hook=_object, parse_int=_integer, parse_float=_float, parse_constant=_constant
)


def _first_difference(one: bytes, other: bytes) -> int:
    shorter = min(len(one), len(other))
    return next((place for place in range(shorter) if one[place] != other[place]), shorter)


def _unsafe_integer(observed: str) -> ProofError:
    return ProofError(
        "a whole number is too large to be exact everywhere",
        expected=f"at most {MAX_SAFE_INTEGER} either side of 0",
        observed=observed,
    )


def _too_deep(observed: str) -> ProofError:
    return ProofError(
        "arrays and objects stand too deep within each other",
        expected=f"at most {MAX_JSON_DEPTH} levels",
        observed=observed,
    )


def _lone_surrogate() -> ProofError:
    return ProofError(
        "a text holds a lone surrogate",
        expected="characters that UTF-8 can carry",
        observed="half of a UTF-16 pair",
    )
