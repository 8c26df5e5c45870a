"""Entries of the ledger, and the salted commitments of their fields (docs/format.md, Ledger)."""

from __future__ import annotations

import hashlib
import hmac
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from evidpack.errors import ProofError
from evidpack.model.values import JsonValue
from evidpack.proof.canonical import canonical_bytes, parse_canonical
from evidpack.proof.digests import FIELD

SALT_BYTES: Final = 16
KINDS: Final = ("file", "record", "finding")
_HEX64: Final = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One ledger line: its kind, and the commitment (64 hex digits) of each field by name."""

    kind: str
    fields: Mapping[str, str]


def field_salt(entry_key: bytes, name: str) -> bytes:
    """The salt of one field: the first 16 bytes of HMAC-SHA256(entry key, name)."""
    return hmac.digest(entry_key, name.encode(), "sha256")[:SALT_BYTES]


def field_commitment(salt: bytes, name: str, value: JsonValue) -> bytes:
    """SHA-256(0x03 ‖ salt ‖ JCS([name, value])), 32 bytes."""
    return hashlib.sha256(FIELD + salt + canonical_bytes([name, value])).digest()


def entry_line(kind: str, values: Mapping[str, JsonValue], entry_key: bytes) -> bytes:
    """The canonical line of an entry, without line feed."""
    fields: dict[str, JsonValue] = {
        name: field_commitment(field_salt(entry_key, name), name, value).hex()
        for name, value in values.items()
    }
    return canonical_bytes({"fields": fields, "kind": kind})


def parse_entry(line: bytes, *, path: str, number: int) -> Entry:
    """Read one ledger line strictly. Raises ProofError naming the line."""
    value = parse_canonical(line, path=path, line=number + 1)
    if not isinstance(value, dict) or set(value) != {"fields", "kind"}:
        raise ProofError('an entry is {"fields", "kind"}', path=path, line=number + 1)
    kind, fields = value["kind"], value["fields"]
    if kind not in KINDS or not isinstance(kind, str):
        raise ProofError("the entry is of no known kind", path=path, line=number + 1,
                         expected=", ".join(KINDS), observed=repr(kind)[:80])
    if not isinstance(fields, dict) or not fields:
        raise ProofError("the entry has no fields", path=path, line=number + 1)
    commitments: dict[str, str] = {}
    for name, commitment in fields.items():
        if not isinstance(commitment, str) or not _HEX64.fullmatch(commitment):
            raise ProofError(f'field "{name[:80]}" has no commitment', path=path, line=number + 1,
                             expected="64 lower-case hex digits", observed=repr(commitment)[:80])
        commitments[name] = commitment
    return Entry(kind=kind, fields=commitments)
