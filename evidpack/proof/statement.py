"""The seal statement: the one small document that is signed (docs/format.md, Seal statement).

It names the entries by their number of each kind, the head of the hash chain and the root of the
tree, and pins by digest the files that no entry covers.  It holds no personal data, since every
pack carries it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final, Literal, cast

from evidpack.errors import ProofError
from evidpack.limits import MAX_ENTRIES, MAX_STATEMENT_BYTES
from evidpack.model.findings import Outcome
from evidpack.model.values import JsonValue
from evidpack.proof.canonical import canonical_bytes, parse_canonical

FORMAT_VERSION: Final = 1
ENTRY_KINDS: Final = ("file", "record", "finding")
Relation = Literal["supplement", "correction", "description"]
RELATIONS: Final = ("supplement", "correction", "description")

_HEX64: Final = re.compile(r"[0-9a-f]{64}")
_REFERENCE: Final = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9.-]{0,98}[A-Za-z0-9])?")
_RFC3339: Final = re.compile(
    r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(?:\.\d{1,6})?(?:Z|[+-]\d{2}:\d{2})"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Previous:
    """An earlier seal statement of the same day: its SHA-256, how this one relates, and why."""

    statement: bytes
    relation: Relation
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SealStatement:
    """What the sealer signs. Digests are 32 bytes; `claimed_time` is aware."""

    day: str
    entries: Mapping[str, int]
    chain_head: bytes
    tree_root: bytes
    pinned: Mapping[str, bytes]
    findings: Mapping[str, int]
    rule_set_entry: int | None
    claimed_time: datetime
    signing_certificate: bytes
    time_stamp_required: bool
    previous: Previous | None
    versions: Mapping[str, str]

    @property
    def entry_count(self) -> int:
        """Entries of all kinds."""
        return sum(self.entries.values())

    def kind_at(self, number: int) -> str:
        """The kind of the entry at a 0-based position: files, then records, then findings."""
        for kind in ENTRY_KINDS:
            if number < self.entries[kind]:
                return kind
            number -= self.entries[kind]
        raise ProofError("there is no entry of that number", observed=str(number))

    def to_bytes(self) -> bytes:
        """The canonical JSON that is signed (RFC 8785)."""
        previous: JsonValue = None
        if self.previous is not None:
            previous = {
                "reason": self.previous.reason,
                "relation": self.previous.relation,
                "statement": self.previous.statement.hex(),
            }
        return canonical_bytes(
            {
                "chain_head": self.chain_head.hex(),
                "claimed_time": self.claimed_time.isoformat(),
                "day": self.day,
                "entries": dict(self.entries),
                "findings": dict(self.findings),
                "pinned": {name: digest.hex() for name, digest in self.pinned.items()},
                "previous": previous,
                "rule_set_entry": self.rule_set_entry,
                "signing_certificate": self.signing_certificate.hex(),
                "time_stamp": "required" if self.time_stamp_required else "none",
                "tree_root": self.tree_root.hex(),
                "type": "seal",
                "version": FORMAT_VERSION,
                "versions": dict(self.versions),
            }
        )


def require_reference(reference: str, *, path: str | None = None, line: int | None = None) -> str:
    """A day reference as it may name a folder: letters, digits, hyphen, dot, at most 100.

    Raises ProofError otherwise.
    """
    if not _REFERENCE.fullmatch(reference) or ".." in reference:
        raise ProofError(
            "the day reference cannot name a folder",
            path=path,
            line=line,
            expected="1 to 100 letters, digits, hyphens or single dots, none of them at the ends",
            observed=repr(reference[:120]),
        )
    return reference


def parse_statement(data: bytes, *, path: str) -> SealStatement:
    """Read a seal statement strictly.

    Raises ProofError for anything but the canonical JSON of exactly these members, and names the
    version where it is one from the future.
    """
    if len(data) > MAX_STATEMENT_BYTES:
        raise ProofError(
            "the seal statement is too large",
            path=path,
            expected=f"at most {MAX_STATEMENT_BYTES} bytes",
            observed=f"{len(data)} bytes",
        )
    reader = _Members(parse_canonical(data, path=path), path=path, where="the seal statement")
    if reader.text("type") != "seal":
        raise reader.wrong("type", '"seal"')
    version = reader.integer("version")
    if version != FORMAT_VERSION:
        raise ProofError(
            f"this statement is of format version {version}, which this evidpack does not know",
            path=path,
            expected=f"version {FORMAT_VERSION}",
            observed=f"version {version}",
            hint="Verify it with a release of evidpack that knows that version.",
        )
    statement = SealStatement(
        day=require_reference(reader.text("day"), path=path),
        entries=reader.counts("entries", ENTRY_KINDS),
        chain_head=reader.digest("chain_head"),
        tree_root=reader.digest("tree_root"),
        pinned=reader.digests("pinned"),
        findings=reader.counts("findings", tuple(outcome.value for outcome in Outcome)),
        rule_set_entry=reader.optional_integer("rule_set_entry"),
        claimed_time=reader.time("claimed_time"),
        signing_certificate=reader.digest("signing_certificate"),
        time_stamp_required=reader.choice("time_stamp", ("required", "none")) == "required",
        previous=_parse_previous(reader),
        versions=reader.texts("versions"),
    )
    reader.finish()
    _require_consistent(statement, path)
    return statement


def _parse_previous(reader: _Members) -> Previous | None:
    value = reader.take("previous")
    if value is None:
        return None
    inner = _Members(value, path=reader.path, where="previous")
    previous = Previous(
        statement=inner.digest("statement"),
        relation=cast("Relation", inner.choice("relation", RELATIONS)),
        reason=inner.text("reason"),
    )
    inner.finish()
    return previous


def _require_consistent(statement: SealStatement, path: str) -> None:
    """The counts must agree with each other, whatever the ledger turns out to hold."""
    if not 0 < statement.entry_count <= MAX_ENTRIES:
        raise ProofError(
            "the number of entries is out of bounds",
            path=path,
            expected=f"1 to {MAX_ENTRIES}",
            observed=str(statement.entry_count),
        )
    if sum(statement.findings.values()) != statement.entries["finding"]:
        raise ProofError(
            "the findings by outcome do not add up to the number of finding entries",
            path=path,
            expected=str(statement.entries["finding"]),
            observed=str(sum(statement.findings.values())),
        )
    entry = statement.rule_set_entry
    if entry is not None and not 0 <= entry < statement.entries["file"]:
        raise ProofError(
            "the rule set's entry is not a file entry",
            path=path,
            expected=f"0 to {statement.entries['file'] - 1}",
            observed=str(entry),
        )


class _Members:
    """The members of one JSON object, each taken once, with a clear error for each wrong shape."""

    def __init__(self, value: JsonValue, *, path: str, where: str) -> None:
        if not isinstance(value, dict):
            raise ProofError(f"{where} is not a JSON object", path=path)
        self.path = path
        self._where = where
        self._left = dict(value)

    def take(self, name: str) -> JsonValue:
        if name not in self._left:
            raise ProofError(f'{self._where} lacks "{name}"', path=self.path)
        return self._left.pop(name)

    def finish(self) -> None:
        if self._left:
            raise ProofError(
                f"{self._where} has members that this format does not know",
                path=self.path,
                expected="none",
                observed=", ".join(sorted(self._left))[:200],
            )

    def wrong(self, name: str, expected: str) -> ProofError:
        return ProofError(
            f'"{name}" of {self._where} is not of the right form',
            path=self.path,
            expected=expected,
            observed="something else",
        )

    def text(self, name: str) -> str:
        value = self.take(name)
        if not isinstance(value, str):
            raise self.wrong(name, "a text")
        return value

    def integer(self, name: str) -> int:
        value = self.take(name)
        if not isinstance(value, int) or isinstance(value, bool):
            raise self.wrong(name, "a whole number")
        return value

    def optional_integer(self, name: str) -> int | None:
        if self._left.get(name, 0) is None:
            self.take(name)
            return None
        return self.integer(name)

    def choice(self, name: str, choices: tuple[str, ...]) -> str:
        value = self.text(name)
        if value not in choices:
            raise self.wrong(name, " or ".join(choices))
        return value

    def digest(self, name: str) -> bytes:
        value = self.text(name)
        if not _HEX64.fullmatch(value):
            raise self.wrong(name, "64 lower-case hexadecimal digits")
        return bytes.fromhex(value)

    def time(self, name: str) -> datetime:
        value = self.text(name)
        if not _RFC3339.fullmatch(value):
            raise self.wrong(name, "an RFC 3339 time with an offset")
        try:
            return datetime.fromisoformat(value)
        except ValueError as error:
            raise self.wrong(name, "an RFC 3339 time that exists") from error

    def counts(self, name: str, names: tuple[str, ...]) -> dict[str, int]:
        inner = _Members(self.take(name), path=self.path, where=f'"{name}"')
        counts = {member: inner.integer(member) for member in names}
        inner.finish()
        if any(count < 0 for count in counts.values()):
            raise self.wrong(name, "no negative number")
        return counts

    def digests(self, name: str) -> dict[str, bytes]:
        value = self.take(name)
        inner = _Members(value, path=self.path, where=f'"{name}"')
        return {member: inner.digest(member) for member in list(inner._left)}

    def texts(self, name: str) -> dict[str, str]:
        value = self.take(name)
        inner = _Members(value, path=self.path, where=f'"{name}"')
        return {member: inner.text(member) for member in list(inner._left)}
