"""What a disclosure index is made from. Plain values: nothing here draws, reads or decides."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from evidpack.index.sheet import PaperName
from evidpack.model.findings import Finding
from evidpack.model.records import Record


@dataclass(frozen=True, slots=True, kw_only=True)
class IndexedFile:
    """One file entry. `number` is its ledger entry (0-based), `path` relative to the data folder,
    `size` in bytes, `modified` RFC 3339 text in UTC, `sha256` 64 hex digits."""

    number: int
    path: str
    kind: str
    origin: str
    size: int
    modified: str
    sha256: str
    original_name: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class IndexedRecord:
    """One record with the number of its ledger entry (0-based)."""

    number: int
    record: Record


@dataclass(frozen=True, slots=True, kw_only=True)
class IndexedFinding:
    """One finding with the number of its ledger entry (0-based)."""

    number: int
    finding: Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class PreviousSeal:
    """An earlier seal of the same day. `relation` is supplement, correction or description;
    `statement_sha256` 64 hex digits."""

    relation: str
    statement_sha256: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class IndexContent:
    """Everything that the index of one sealed day shows.

    `claimed_sealing_time` is aware, with the offset in which it is to be printed;
    `chain_head` and `tree_root` are 32 bytes; `signer_fingerprint` is the SHA-256 of the signing
    certificate (32 bytes). `entries` counts the ledger's entries by kind (file, record, finding).
    The sequences are in ledger order. `pixel_proof` says whether stills carry pixel roots.
    `undescribed` marks a day that was sealed before anybody described it.
    """

    day_reference: str
    unit: str
    date: date | None
    zone: str
    claimed_sealing_time: datetime
    document_number: str
    evidpack_version: str
    signer_name: str
    signer_fingerprint: bytes
    chain_head: bytes
    tree_root: bytes
    rule_set_title: str
    rule_set_edition: str
    entries: Mapping[str, int]
    files: Sequence[IndexedFile] = ()
    records: Sequence[IndexedRecord] = ()
    findings: Sequence[IndexedFinding] = ()
    previous: PreviousSeal | None = None
    time_stamp_expected: bool = True
    pixel_proof: bool = True
    undescribed: bool = False
    paper: PaperName = "A4"
    labels: Mapping[str, str] = field(default_factory=dict)  # check number → its title
