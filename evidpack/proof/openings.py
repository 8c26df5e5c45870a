"""Openings: the key and the values of one entry, one line of ``openings.jsonl`` each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from evidpack.errors import ProofError
from evidpack.model.values import JsonValue
from evidpack.proof.canonical import parse_canonical, read_plainly
from evidpack.proof.commitments import entry_and_opening


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """One line of the openings: the entry's key (32 bytes) and its values."""

    key: bytes
    values: Mapping[str, JsonValue]


def parse_opening(line: bytes, *, path: str, number: int) -> Opening:
    """Read one line of the openings strictly; `number` is the entry's, from 0. Raises ProofError."""
    value = parse_canonical(line, path=path, line=number + 1)
    if not isinstance(value, dict) or set(value) != {"key", "values"}:
        raise ProofError('an opening is {"key", "values"}', path=path, line=number + 1)
    key, values = value["key"], value["values"]
    if not isinstance(values, dict) or not isinstance(key, str) or len(key) != 64:
        raise ProofError(
            "an opening holds a 32-byte key in hex and values", path=path, line=number + 1
        )
    try:
        key_bytes = bytes.fromhex(key)
    except ValueError as error:
        raise ProofError("an opening's key is not hex", path=path, line=number + 1) from error
    return Opening(key=key_bytes, values=values)


def opening_of(kind: str, entry: bytes, opening: bytes) -> Opening | None:
    """The opening of an entry, where both lines are byte for byte what sealing its key and values
    as an entry of this kind writes; else None, and the reason is to be found by stricter reading.

    Every rule about either line is one about what is written, so that being the same as what is
    written anew is all of them: canonical form, the kind, names, commitments, key.
    """
    value = read_plainly(opening)
    if not isinstance(value, dict) or value.keys() != {"key", "values"}:
        return None
    key, values = value["key"], value["values"]
    if not isinstance(values, dict) or not isinstance(key, str):
        return None
    try:
        key_bytes = bytes.fromhex(key)
        if entry_and_opening(kind, values, key_bytes) != (entry, opening):
            return None
    except (ValueError, ProofError):
        return None
    return Opening(key=key_bytes, values=values)
