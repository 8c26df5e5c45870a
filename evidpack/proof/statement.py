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
from evidpack.proof.members import Members

NEWER_RELEASE: Final = "Verify it with a release of evidpack that knows that version."
FORMAT_VERSION: Final = 1
ENTRY_KINDS: Final = ("file", "record", "finding")
Relation = Literal["supplement", "correction", "description"]
RELATIONS: Final = ("supplement", "correction", "description")

_REFERENCE: Final = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9.-]{0,62}[A-Za-z0-9])?")


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
    """A day reference as it may name a folder: letters, digits, hyphen, dot, at most 64.

    Raises ProofError otherwise.
    """
    if not _REFERENCE.fullmatch(reference) or ".." in reference:
        raise ProofError(
            "the day reference cannot name a folder",
            path=path,
            line=line,
            expected="1 to 64 letters, digits, hyphens or single dots, none of them at the ends",
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
    reader = Members(parse_canonical(data, path=path), path=path, where="the seal statement")
    if reader.text("type") != "seal":
        raise reader.wrong("type", '"seal"')
    version = reader.integer("version")
    if version != FORMAT_VERSION:
        raise ProofError(
            f"this statement is of format version {version}, which this evidpack does not know",
            path=path,
            expected=f"version {FORMAT_VERSION}",
            observed=f"version {version}",
            hint=NEWER_RELEASE,
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


def _parse_previous(reader: Members) -> Previous | None:
    value = reader.take("previous")
    if value is None:
        return None
    inner = Members(value, path=reader.path, where="previous")
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
