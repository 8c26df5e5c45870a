"""Canonical JSON (RFC 8785), and a parser that accepts nothing ambiguous."""

from __future__ import annotations

import json
import math
import re
from typing import Final, NoReturn

import rfc8785

from evidpack.errors import ProofError
from evidpack.limits import MAX_JSON_DEPTH, MAX_SAFE_INTEGER
from evidpack.model.values import JsonValue

_MAX_NUMBER_CHARACTERS: Final = 400
_SURROGATE: Final = re.compile("[\ud800-\udfff]")


def canonical_bytes(value: JsonValue) -> bytes:
    """The one permitted byte sequence of a value. Raises ProofError where RFC 8785 has none."""
    try:
        return rfc8785.dumps(value)
    except (rfc8785.CanonicalizationError, UnicodeEncodeError, RecursionError) as error:
        raise ProofError("the value has no canonical form", observed=str(error)[:200]) from error


def parse_json(data: bytes, *, path: str, line: int | None = None) -> JsonValue:
    """Read JSON that means one thing only.

    Raises ProofError for bytes that are not UTF-8, a byte order mark, repeated member names,
    numbers that are not finite, integers beyond 2^53 - 1, lone surrogates, and nesting deeper
    than the limit.
    """
    _require_shallow(data, path=path, line=line)
    try:
        value: JsonValue = json.loads(
            data.decode("utf-8"),
            object_pairs_hook=_object,
            parse_int=_integer,
            parse_float=_float,
            parse_constant=_constant,
        )
    except ProofError as error:
        raise ProofError(error.message, path=path, line=line, observed=error.observed,
                         expected=error.expected) from error
    except (ValueError, RecursionError) as error:
        raise ProofError("not valid JSON in UTF-8", path=path, line=line,
                         expected="JSON", observed=str(error)[:200]) from error
    return value


def parse_canonical(data: bytes, *, path: str, line: int | None = None) -> JsonValue:
    """Read JSON and require that the bytes are its canonical form. Raises ProofError."""
    value = parse_json(data, path=path, line=line)
    if canonical_bytes(value) != data:
        raise ProofError("the JSON is not in canonical form (RFC 8785)", path=path, line=line)
    return value


def _require_shallow(data: bytes, *, path: str, line: int | None) -> None:
    """A bound on nesting before any recursive reader sees the bytes."""
    if data.count(b"[") + data.count(b"{") <= MAX_JSON_DEPTH:
        return
    depth = 0
    inside = escaped = False
    for byte in data:
        if inside:
            if escaped:
                escaped = False
            elif byte == 0x5C:
                escaped = True
            elif byte == 0x22:
                inside = False
        elif byte == 0x22:
            inside = True
        elif byte in b"[{":
            depth += 1
            if depth > MAX_JSON_DEPTH:
                raise ProofError("the JSON is nested too deep", path=path, line=line,
                                 expected=f"at most {MAX_JSON_DEPTH}", observed="more")
        elif byte in b"]}":
            depth -= 1


def _object(pairs: list[tuple[str, JsonValue]]) -> dict[str, JsonValue]:
    value = dict(pairs)
    if len(value) != len(pairs):
        seen: set[str] = set()
        for name, _ in pairs:
            if name in seen:
                raise ProofError("a member name is repeated", observed=repr(name)[:80])
            seen.add(name)
    return value


def _integer(text: str) -> int:
    if len(text) > 17 or abs(int(text)) > MAX_SAFE_INTEGER:
        raise ProofError("an integer is out of bounds", expected="at most 2^53 - 1", observed=text[:40])
    return int(text)


def _float(text: str) -> float:
    number = float(text) if len(text) <= _MAX_NUMBER_CHARACTERS else math.inf
    if not math.isfinite(number):
        raise ProofError("a number is not finite", observed=text[:40])
    return number


def _constant(text: str) -> NoReturn:
    raise ProofError("a number is not finite", observed=text)
