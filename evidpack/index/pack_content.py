"""What the index of a pack is made from. Plain values: nothing here draws, reads or decides.

Every text is shown to the recipient, so the caller has checked that none holds what is withheld.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from evidpack.index.sheet import PaperName
from evidpack.model.findings import Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class PackExhibit:
    """One entry that the pack shows or describes.

    `number` is the exhibit's, kept from issue to issue; `entry` the ledger's (0-based); `kind` file,
    record or finding; `use` relied on, unused or not relevant; `became` released, redacted, inspect,
    withheld or withdrawn.  `name` is the file in the pack, `details` opened values as name and text,
    `closed` names of fields kept closed.  `new` marks what an earlier issue did not show.
    """

    number: int
    entry: int
    kind: str
    use: str
    became: str
    description: str
    reason: str
    name: str | None = None
    details: Sequence[tuple[str, str]] = ()
    closed: Sequence[str] = ()
    picture: bool = False  # whether `name` is a picture to be shown small
    new: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PackRedaction:
    """What is blacked out in a copy: regions in pixels in words, tiles closed and in all, why, by
    whom, when (aware)."""

    exhibit: int
    name: str
    width_px: int
    height_px: int
    regions: Sequence[str]
    tiles_closed: int
    tiles: int
    reason: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class PackFinding:
    """A finding that is disclosed, under its exhibit number."""

    exhibit: int
    finding: Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class WithheldClass:
    """Entries of one kind that are withheld in the same words; `entries` as ranges (``3–7, 12``)."""

    kind: str
    wording: str
    reason: str
    count: int
    entries: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PackVerification:
    """A full verification of the bundle before the pack was made: its verdict, when, and the
    SHA-256 of its report (32 bytes)."""

    verdict: str
    at: datetime
    report: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class PackContent:
    """Everything that the index of one pack shows.

    Digests are 32 bytes, times aware with the offset in which they are printed.  `contents` is the
    digest that `acknowledgement` is derived from.  `accounting` counts entries by what became of
    them, `entries` by kind, `sealed_outcomes` the seal's findings by outcome.  `finding_labels` are titles
    of checks by number.  `undisclosed_adverse` counts queries and failures of the seal that are not
    shown.  `changes` says in sentences what this issue adds, changes or withdraws.
    Sequences of exhibits are in the order of their numbers.
    """

    reference: str
    day: str
    case: str
    recipient: str
    issue: int
    previous_statement: bytes | None
    captures: Sequence[str]
    decided_by: str
    decided_at: datetime
    discloser_name: str
    discloser_fingerprint: bytes
    claimed_time: datetime
    time_stamp_expected: bool
    contents: bytes
    acknowledgement: str
    origin_statement: bytes
    origin_sealed_at: datetime
    origin_sealer_name: str
    origin_time_stamped: bool
    chain_head: bytes
    tree_root: bytes
    entries: Mapping[str, int]
    accounting: Mapping[str, int]
    exhibits: Sequence[PackExhibit]
    withheld: Sequence[WithheldClass]
    evidpack_version: str
    redactions: Sequence[PackRedaction] = ()
    findings: Sequence[PackFinding] = ()
    finding_labels: Mapping[str, str] = field(default_factory=dict)
    sealed_outcomes: Mapping[str, int] = field(default_factory=dict)
    undisclosed_adverse: int = 0
    changes: Sequence[str] = ()
    verification: PackVerification | None = None
    paper: PaperName = "A4"
