"""Steps 3, 4 and 9 of a pack: leaves, accounting, revealed entries and their openings."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final

from evidpack.container import layout
from evidpack.container.archive import Archive
from evidpack.errors import ContainerError, ProofError
from evidpack.limits import MAX_TAG_FILE_BYTES
from evidpack.model.values import JsonValue
from evidpack.proof.accounting import (
    REVEALED,
    AccountingLine,
    count_outcomes,
    exhibits_of,
    parse_accounting_line,
)
from evidpack.proof.commitments import Entry, parse_entry, require_opening
from evidpack.proof.digests import chain_head, leaf_digest
from evidpack.proof.disclosure_statement import DisclosureStatement
from evidpack.proof.pack_parts import (
    PackOpening,
    parse_leaves,
    parse_pack_opening,
)
from evidpack.proof.statement import SealStatement
from evidpack.proof.tree import tree_root
from evidpack.verifying.ledger_walk import split_lines
from evidpack.verifying.report import Fault, fault_from

MAX_FAULTS: Final = 1_000
_HEX64: Final = re.compile(r"[0-9a-f]{64}")
_ORIGINALS: Final = ("export/", "office/")


@dataclass(frozen=True, slots=True, kw_only=True)
class RevealedEntry:
    """An entry that the pack opens, proved against its leaf."""

    line: AccountingLine
    sealed: Entry
    opened: Mapping[str, JsonValue]

    @property
    def closed(self) -> tuple[str, ...]:
        """Names of the fields that were sealed and are not opened."""
        return tuple(sorted(self.sealed.fields.keys() - self.opened.keys()))


@dataclass(slots=True, kw_only=True)
class PackContents:
    """What steps 3, 4 and 9 found. Faults are collected by step."""

    leaves: list[bytes] = field(default_factory=list)
    lines: list[AccountingLine] = field(default_factory=list)
    revealed: list[RevealedEntry] = field(default_factory=list)
    ledger_faults: list[Fault] = field(default_factory=list)
    content_faults: list[Fault] = field(default_factory=list)
    accounting_faults: list[Fault] = field(default_factory=list)


def note_fault(faults: list[Fault], error: Exception, item: str) -> None:
    """Keep one of evidpack's own errors as a fault, up to the limit."""
    if len(faults) < MAX_FAULTS:
        faults.append(fault_from(error, item))


def examine_leaves(contents: PackContents, archive: Archive, origin: SealStatement) -> None:
    """Step 3: the leaf digests give the chain head and the tree root that were sealed."""
    name = layout.DISCLOSURE_LEAVES
    try:
        contents.leaves = parse_leaves(archive.read(name, limit=MAX_TAG_FILE_BYTES), path=name)
        if len(contents.leaves) != origin.entry_count:
            raise ProofError(
                "the number of leaf digests is not the number of sealed entries",
                path=name,
                expected=str(origin.entry_count),
                observed=str(len(contents.leaves)),
            )
        for what, computed, sealed in (
            ("chain head", chain_head(contents.leaves), origin.chain_head),
            ("tree root", tree_root(contents.leaves), origin.tree_root),
        ):
            if computed != sealed:
                raise ProofError(
                    f"the {what} recomputed from the leaf digests is not the one sealed",
                    path=name,
                    expected=sealed.hex(),
                    observed=computed.hex(),
                )
    except (ProofError, ContainerError) as error:
        note_fault(contents.ledger_faults, error, name)


def examine_accounting(
    contents: PackContents,
    archive: Archive,
    origin: SealStatement,
    statement: DisclosureStatement | None,
) -> None:
    """Step 9, first half: one line an entry, of its kind, and the counts that were signed."""
    name = layout.DISCLOSURE_ACCOUNTING
    try:
        for number, data in enumerate(lines_of(archive, name)):
            line = parse_accounting_line(data, path=name, number=number)
            if number >= origin.entry_count or line.kind != origin.kind_at(number):
                raise ProofError(
                    f"the accounting names an entry {number} ({line.kind}) that was not sealed",
                    path=name,
                    line=number + 1,
                    expected=f"{origin.entry_count} entries in the sealed order of kinds",
                    observed=f"entry {number} as {line.kind}",
                )
            contents.lines.append(line)
        if len(contents.lines) != origin.entry_count:
            raise ProofError(
                "the accounting leaves out sealed entries",
                path=name,
                expected=f"{origin.entry_count} lines",
                observed=f"{len(contents.lines)}",
            )
        exhibits = exhibits_of(contents.lines)
    except (ProofError, ContainerError) as error:
        note_fault(contents.accounting_faults, error, name)
        return
    if statement is not None:
        _compare_counts(contents, statement, exhibits)


def _compare_counts(
    contents: PackContents, statement: DisclosureStatement, exhibits: Mapping[int, int]
) -> None:
    counted = count_outcomes(contents.lines)
    if counted != dict(statement.accounting):
        contents.accounting_faults.append(
            Fault(
                item=layout.DISCLOSURE_ACCOUNTING,
                message="the counts that the statement claims are not those of the accounting",
                expected=", ".join(f"{count} {name}" for name, count in counted.items()),
                observed=", ".join(
                    f"{count} {name}" for name, count in statement.accounting.items()
                ),
            )
        )
    highest = max(exhibits.values(), default=0)
    if highest > statement.exhibits:
        contents.accounting_faults.append(
            Fault(
                item=layout.DISCLOSURE_ACCOUNTING,
                message="an exhibit has a higher number than the statement says were given",
                expected=f"at most {statement.exhibits}",
                observed=str(highest),
            )
        )


def lines_of(archive: Archive, name: str) -> Iterator[bytes]:
    """The lines of a member, without their line feeds."""
    return split_lines(archive.open(archive.member(name)), path=name)


def examine_revealed(contents: PackContents, archive: Archive) -> None:
    """Step 4: each revealed entry is the sealed one, and each opened field was committed to."""
    wanted = [line for line in contents.lines if line.became in REVEALED]
    entries = lines_of(archive, layout.DISCLOSURE_ENTRIES)
    openings = lines_of(archive, layout.DISCLOSURE_OPENINGS)
    try:
        for place, line in enumerate(wanted, start=1):
            sealed = next(entries, None)
            opening = next(openings, None)
            if sealed is None or opening is None:
                lacking = (
                    layout.DISCLOSURE_ENTRIES if sealed is None else layout.DISCLOSURE_OPENINGS
                )
                raise ProofError(
                    f"entry {line.entry} is said to be {line.became}, and is not revealed",
                    path=lacking,
                    expected=f"{len(wanted)} lines",
                    observed=f"{place - 1}",
                )
            _examine_one(contents, line, sealed, opening, place)
        for name, rest in (
            (layout.DISCLOSURE_ENTRIES, entries),
            (layout.DISCLOSURE_OPENINGS, openings),
        ):
            if next(rest, None) is not None:
                raise ProofError(
                    "more entries are revealed than the accounting says",
                    path=name,
                    expected=f"{len(wanted)} lines",
                    observed="more",
                )
    except (ProofError, ContainerError) as error:
        note_fault(contents.content_faults, error, layout.DISCLOSURE_ENTRIES)


def _examine_one(
    contents: PackContents, line: AccountingLine, sealed: bytes, opened: bytes, place: int
) -> None:
    try:
        leaf = leaf_digest(sealed)
        if line.entry >= len(contents.leaves) or contents.leaves[line.entry] != leaf:
            raise ProofError(
                f"the revealed entry {line.entry} is not the sealed one",
                path=layout.DISCLOSURE_ENTRIES,
                line=place,
                expected=contents.leaves[line.entry].hex()
                if line.entry < len(contents.leaves)
                else "a leaf digest",
                observed=leaf.hex(),
            )
        entry = parse_entry(sealed, path=layout.DISCLOSURE_ENTRIES, number=line.entry)
        opening = parse_pack_opening(opened, path=layout.DISCLOSURE_OPENINGS, number=place)
        _require_openings(entry, opening, line, place)
        found = RevealedEntry(line=line, sealed=entry, opened=opening.values)
        contents.revealed.append(found)
    except ProofError as error:
        note_fault(contents.content_faults, error, layout.DISCLOSURE_OPENINGS)
        return
    if found.closed != line.closed or entry.kind != line.kind:
        contents.accounting_faults.append(
            Fault(
                item=f"{layout.DISCLOSURE_ACCOUNTING}:{line.entry + 1}",
                message=f"entry {line.entry} keeps other fields closed than the accounting says",
                expected=", ".join(line.closed) or "none",
                observed=", ".join(found.closed) or "none",
            )
        )


def _require_openings(entry: Entry, opening: PackOpening, line: AccountingLine, place: int) -> None:
    if opening.entry != line.entry:
        raise ProofError(
            "the openings do not follow the revealed entries",
            path=layout.DISCLOSURE_OPENINGS,
            line=place,
            expected=f"entry {line.entry}",
            observed=f"entry {opening.entry}",
        )
    for name, opened in opening.fields.items():
        require_opening(
            entry,
            name,
            opened.salt,
            opened.value,
            number=line.entry,
            path=layout.DISCLOSURE_OPENINGS,
            line=place,
        )
