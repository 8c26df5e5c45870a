"""A ledger entry: the names of its fields in the open, their values behind salted commitments.

Commitment = SHA-256(0x03 ‖ salt ‖ JCS([name, value])).  The name is inside, since a commitment
without it could be opened as two things (docs/format.md, Proof).
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from evidpack.errors import ProofError
from evidpack.model.values import JsonValue
from evidpack.proof.canonical import canonical_bytes, parse_canonical
from evidpack.proof.digests import FIELD
from evidpack.proof.salts import require_salt, salt_maker
from evidpack.proof.statement import ENTRY_KINDS

_is_digest_hex: Final = re.compile(r"[0-9a-f]{64}").fullmatch
_SHOWN_CHARACTERS: Final = 120
_REMEMBERED_CHARACTERS: Final = 4_096


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of the ledger: its kind, and each field's commitment in hex by name."""

    kind: str
    fields: Mapping[str, str]


def field_salt(entry_key: bytes, name: str) -> bytes:
    """The first 16 bytes of HMAC-SHA256(entry key, name in UTF-8).

    Raises ProofError where the key is not 32 bytes or the name is not well-formed Unicode.
    """
    return salt_maker(entry_key)(_name_bytes(name))


def field_commitment(salt: bytes, name: str, value: JsonValue) -> bytes:
    """SHA-256(0x03 ‖ salt ‖ JCS([name, value])), 32 bytes; the salt is 16 bytes.

    Raises ProofError, naming the field, for a salt of another length or a value that canonical
    JSON cannot say.
    """
    require_salt(salt, f'field "{_shown(name)}"')
    return _commit(salt, name, value).digest()


def entry_line(kind: str, values: Mapping[str, JsonValue], entry_key: bytes) -> bytes:
    """The line of one entry: canonical JSON of its kind and commitments, without line feed.

    Raises ProofError as `commit_entry` does.
    """
    return commit_entry(kind, values, entry_key)[0]


def commit_entry(
    kind: str, values: Mapping[str, JsonValue], entry_key: bytes
) -> tuple[bytes, dict[str, bytes]]:
    """The line of one entry, and the salt of each field by name (16 bytes each).

    Raises ProofError for an unknown kind, an entry without fields, a key that is not 32 bytes,
    or, naming the field, a value that canonical JSON cannot say.
    """
    line, salts, _ = _commit_all(kind, values, entry_key)
    return line, salts


def entry_and_opening(
    kind: str, values: Mapping[str, JsonValue], entry_key: bytes
) -> tuple[bytes, bytes]:
    """The line of one entry and that of its opening, canonical JSON without line feeds.

    Each value is written as JSON once, for both.  Raises ProofError as `commit_entry` does.
    """
    line, _, members = _commit_all(kind, values, entry_key)
    head = f'{{"key":"{entry_key.hex()}","values":{{'.encode()
    return line, b"".join((head, b",".join(members), b"}}"))


def _commit_all(
    kind: str, values: Mapping[str, JsonValue], entry_key: bytes
) -> tuple[bytes, dict[str, bytes], list[bytes]]:
    """The line, the salts by name, and the members of the opening's object of values."""
    if kind not in ENTRY_KINDS:
        raise _unknown_kind(kind)
    if not values:
        raise ProofError("an entry has no fields", expected="at least one", observed="none")
    salt_of = salt_maker(entry_key)
    salts: dict[str, bytes] = {}
    committed: list[str] = []
    members: list[bytes] = []
    for name in _names_in_order(tuple(values)):
        salt = salts[name.text] = salt_of(name.utf8)
        value = _value_bytes(name.text, values[name.text])
        digest = hashlib.sha256(b"".join((FIELD, salt, b"[", name.quoted, b",", value, b"]")))
        committed.append(f'{name.member}"{digest.hexdigest()}"')
        members.append(b"".join((name.quoted, b":", value)))
    line = f'{{"fields":{{{",".join(committed)}}},"kind":"{kind}"}}'
    return line.encode(), salts, members


@dataclass(frozen=True, slots=True, kw_only=True)
class _Name:
    """The name of a field in the forms that are needed again and again."""

    text: str
    utf8: bytes
    quoted: bytes  # as JSON
    member: str  # as JSON, with the colon behind it


def _names_in_order(names: tuple[str, ...]) -> tuple[_Name, ...]:
    """The names in the order of RFC 8785 §3.2.3, by UTF-16 code units.

    Most entries of a day share their names with thousands of others.
    """
    few = sum(map(len, names)) <= _REMEMBERED_CHARACTERS
    return _remembered_names(names) if few else _sorted_names(names)


def _sorted_names(names: tuple[str, ...]) -> tuple[_Name, ...]:
    made = []
    for text in names:
        utf8 = _name_bytes(text)
        quoted = canonical_bytes(text)
        made.append(_Name(text=text, utf8=utf8, quoted=quoted, member=quoted.decode() + ":"))
    return tuple(sorted(made, key=lambda name: name.text.encode("utf-16-be")))


_remembered_names: Final = lru_cache(maxsize=256)(_sorted_names)


def _value_bytes(name: str, value: JsonValue) -> bytes:
    """A value as it stands in its opening, two objects deep, and in its commitment."""
    try:
        return canonical_bytes(value, depth=2)
    except ProofError as error:
        error.message = f'field "{_shown(name)}": {error.message}'
        raise


def parse_entry(line: bytes, *, path: str, number: int) -> Entry:
    """Read one line of the ledger, without its line feed; `number` is the entry's, from 0.

    Raises ProofError with path and line for anything but the canonical JSON of exactly a known
    kind and at least one field with its commitment, 64 lower-case hex digits.
    """
    place = number + 1
    value = parse_canonical(line, path=path, line=place)
    if not isinstance(value, dict) or value.keys() != {"fields", "kind"}:
        raise ProofError(
            f"entry {number} is not an entry",
            path=path,
            line=place,
            expected='an object of "fields" and "kind", and nothing else',
            observed=_shape(value),
        )
    kind, fields = value["kind"], value["fields"]
    if not isinstance(kind, str) or kind not in ENTRY_KINDS:
        raise _unknown_kind(kind, path=path, number=number)
    if not isinstance(fields, dict) or not fields:
        raise ProofError(
            f"entry {number} has no fields",
            path=path,
            line=place,
            expected="an object of at least one name and its commitment",
            observed=_shape(fields),
        )
    commitments: dict[str, str] = {}
    for name, commitment in fields.items():
        if not isinstance(commitment, str) or not _is_digest_hex(commitment):
            raise ProofError(
                f'field "{_shown(name)}" of entry {number} is not a commitment',
                path=path,
                line=place,
                expected="64 lower-case hexadecimal digits",
                observed=_shape(commitment),
            )
        commitments[name] = commitment
    return Entry(kind=kind, fields=commitments)


def require_opening(
    entry: Entry,
    name: str,
    salt: bytes,
    value: JsonValue,
    *,
    number: int,
    path: str | None = None,
    line: int | None = None,
) -> None:
    """Check that a field of entry `number` (from 0) was sealed with this value under this salt.

    `path` and `line` say in errors where the opening stands.
    Raises ProofError, naming the entry and the field, where it was not.
    """
    what = f'field "{_shown(name)}" of entry {number}'
    try:
        require_salt(salt, f'field "{_shown(name)}"')
        found = _commit(salt, name, value).hexdigest()
    except ProofError as error:
        error.message = f"entry {number}: {error.message}"
        error.path, error.line = path, line
        raise
    sealed = entry.fields.get(name)
    if sealed is None:
        raise ProofError(
            f"{what} is opened, but the entry has no such field",
            path=path,
            line=line,
            expected=_shown(", ".join(sorted(entry.fields))),
            observed=_shown(name),
        )
    if found != sealed:
        raise ProofError(
            f"{what} does not open as it was committed",
            path=path,
            line=line,
            expected=f"commitment {sealed}",
            observed=f"commitment {found}",
        )


def _commit(salt: bytes, name: str, value: JsonValue) -> hashlib._Hash:
    committed = b"".join((b"[", canonical_bytes(name), b",", _value_bytes(name, value), b"]"))
    return hashlib.sha256(FIELD + salt + committed)


def _name_bytes(name: str) -> bytes:
    try:
        return name.encode()
    except UnicodeEncodeError as error:
        raise ProofError(
            "the name of a field holds a lone surrogate",
            expected="characters that UTF-8 can carry",
            observed=_shown(name),
        ) from error


def _shown(name: str) -> str:
    """A name from outside on one line of an error: bounded, and nothing a terminal obeys."""
    return "".join(
        mark if mark.isprintable() else mark.encode("unicode_escape").decode()
        for mark in name[:_SHOWN_CHARACTERS]
    )


def _unknown_kind(
    kind: JsonValue, *, path: str | None = None, number: int | None = None
) -> ProofError:
    return ProofError(
        "an entry is of an unknown kind"
        if number is None
        else f"entry {number} is of unknown kind",
        path=path,
        line=None if number is None else number + 1,
        expected=", ".join(ENTRY_KINDS),
        observed=_shape(kind),
    )


def _shape(value: JsonValue) -> str:
    """What was found, short enough for one line of an error."""
    if isinstance(value, dict):
        return "an object of " + (_shown(", ".join(sorted(value))) or "nothing")
    if isinstance(value, str):
        return f'"{_shown(value)}"'
    return type(value).__name__
