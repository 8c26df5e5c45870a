"""Steps 3 and 4: the ledger against the seal statement, the contents against the ledger.

The ledger and the openings are read line by line beside each other, once.  Only what the file
entries say is kept; records and findings are read again by the re-check.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import BinaryIO, Final, cast

from evidpack.container import layout
from evidpack.errors import ProofError
from evidpack.limits import MAX_LEDGER_LINE_BYTES, MIB
from evidpack.model.fields import RecordKind
from evidpack.proof.commitments import entry_line, parse_entry
from evidpack.proof.digests import FIRST_LINK, leaf_digest, link_digest
from evidpack.proof.openings import Opening, opening_of, parse_opening
from evidpack.proof.statement import ENTRY_KINDS, SealStatement
from evidpack.proof.tree import TreeBuilder
from evidpack.verifying.report import Fault, fault_from
from evidpack.verifying.sealed_file import SealedFile, sealed_file

__all__ = [
    "LedgerWalk",
    "SealedFile",
    "compare_contents",
    "split_lines",
    "walk_ledger",
]

MAX_FAULTS: Final = 1_000


@dataclass(slots=True, kw_only=True)
class LedgerWalk:
    """What steps 3 and 4 found."""

    entries: int = 0
    chain_head: bytes = FIRST_LINK
    tree_root: bytes = b""
    files: dict[str, SealedFile] = field(default_factory=dict)
    empty_folders: list[str] = field(default_factory=list)
    ledger_faults: list[Fault] = field(default_factory=list)
    content_faults: list[Fault] = field(default_factory=list)


def split_lines(stream: BinaryIO, *, path: str) -> Iterator[bytes]:
    """Lines without their line feed, split on byte 0x0A alone.

    Raises ProofError for a line over the limit, an empty line, or a last line without line feed.
    """
    number = 0
    if isinstance(stream, io.RawIOBase):  # without a buffer, lines are read byte by byte
        stream = cast("BinaryIO", io.BufferedReader(stream, MIB))
    while line := stream.readline(MAX_LEDGER_LINE_BYTES + 1):
        number += 1
        if not line.endswith(b"\n"):
            raise ProofError(
                "a line is longer than the limit or the last line has no line feed",
                path=path,
                line=number,
                expected=f"a line feed within {MAX_LEDGER_LINE_BYTES} bytes",
                observed=f"{len(line)} bytes without one",
            )
        if len(line) == 1:
            raise ProofError("a line is empty", path=path, line=number)
        yield line[:-1]


def walk_ledger(ledger: BinaryIO, openings: BinaryIO, statement: SealStatement) -> LedgerWalk:
    """Recompute chain and tree, and check every opening against its commitments."""
    walk = LedgerWalk()
    tree = TreeBuilder()
    opening_lines = split_lines(openings, path=layout.OPENINGS)
    try:
        for number, line in enumerate(split_lines(ledger, path=layout.LEDGER)):
            leaf = leaf_digest(line)
            tree.append(leaf)
            walk.chain_head = link_digest(walk.chain_head, leaf)
            walk.entries += 1
            if number >= statement.entry_count or len(walk.ledger_faults) >= MAX_FAULTS:
                continue
            _examine_entry(walk, statement, number, line, opening_lines)
    except ProofError as error:
        walk.ledger_faults.append(fault_from(error, layout.LEDGER))
    if walk.entries:
        walk.tree_root = tree.root()
    _compare_with_statement(walk, statement)
    _require_no_more(walk, opening_lines)
    return walk


def _examine_entry(
    walk: LedgerWalk,
    statement: SealStatement,
    number: int,
    line: bytes,
    opening_lines: Iterator[bytes],
) -> None:
    """One ledger line and its opening; a fault of either is collected, not raised."""
    kind = statement.kind_at(number)
    try:
        opening_line = next(opening_lines, None)
        opening = None if opening_line is None else opening_of(kind, line, opening_line)
        if opening is None:
            opening = _read_strictly(walk, kind, number, line, opening_line)
        if opening is None:
            return
        if kind == "file":
            _keep_file(walk, number, opening)
        elif opening.values.get("record_kind") == RecordKind.EMPTY_FOLDER.value:
            walk.empty_folders.append(str(opening.values.get("path")))
    except ProofError as error:
        if len(walk.content_faults) < MAX_FAULTS:
            walk.content_faults.append(fault_from(error, layout.OPENINGS))


def _read_strictly(
    walk: LedgerWalk, expected: str, number: int, line: bytes, opening_line: bytes | None
) -> Opening | None:
    """Name what is wrong with an entry or its opening. A fault of the ledger line is noted and
    gives None; one of the opening raises ProofError."""
    try:
        entry = parse_entry(line, path=layout.LEDGER, number=number)
        if entry.kind != expected:
            raise ProofError(
                f"entry {number} is of another kind than its position says",
                path=layout.LEDGER,
                line=number + 1,
                expected=expected,
                observed=entry.kind,
            )
    except ProofError as error:
        walk.ledger_faults.append(fault_from(error, layout.LEDGER))
        return None
    if opening_line is None:
        raise ProofError(f"entry {number} has no opening", path=layout.OPENINGS)
    opening = parse_opening(opening_line, path=layout.OPENINGS, number=number)
    _require_same_entry(entry.kind, line, opening, number)
    return opening


def _require_same_entry(kind: str, line: bytes, opening: Opening, number: int) -> None:
    """Every commitment against its opening: rebuild the line from the opening and compare."""
    rebuilt = entry_line(kind, opening.values, opening.key)
    if rebuilt == line:
        return
    sealed = parse_entry(line, path=layout.LEDGER, number=number).fields
    opened = parse_entry(rebuilt, path=layout.OPENINGS, number=number).fields
    wrong = sorted(
        name for name in sealed.keys() | opened.keys() if sealed.get(name) != opened.get(name)
    )
    raise ProofError(
        f"entry {number} ({kind}) does not open as it was committed",
        path=layout.OPENINGS,
        line=number + 1,
        expected="values that give the sealed commitments",
        observed="others for " + ", ".join(wrong)[:200],
    )


def _keep_file(walk: LedgerWalk, number: int, opening: Opening) -> None:
    sealed = sealed_file(number, opening)
    if sealed.path in walk.files:
        raise ProofError(
            "two file entries have the same path",
            path=f"data/{sealed.path}",
            expected=f"one entry (number {walk.files[sealed.path].entry})",
            observed=f"another (number {number})",
        )
    walk.files[sealed.path] = sealed


def _compare_with_statement(walk: LedgerWalk, statement: SealStatement) -> None:
    if walk.entries != statement.entry_count:
        walk.ledger_faults.append(
            Fault(
                item=layout.LEDGER,
                message="the number of entries is not the one signed",
                expected=f"{statement.entry_count} ("
                + ", ".join(f"{statement.entries[kind]} {kind}" for kind in ENTRY_KINDS)
                + ")",
                observed=str(walk.entries),
            )
        )
    for name, computed, signed in (
        ("chain head", walk.chain_head, statement.chain_head),
        ("tree root", walk.tree_root, statement.tree_root),
    ):
        if computed != signed:
            walk.ledger_faults.append(
                Fault(
                    item=layout.LEDGER,
                    message=f"the {name} recomputed from the ledger is not the one signed",
                    expected=signed.hex(),
                    observed=computed.hex(),
                )
            )


def _require_no_more(walk: LedgerWalk, opening_lines: Iterator[bytes]) -> None:
    try:
        surplus = sum(1 for _ in opening_lines)
    except ProofError as error:
        walk.content_faults.append(fault_from(error, layout.OPENINGS))
        return
    if surplus:
        walk.content_faults.append(
            Fault(
                item=layout.OPENINGS,
                message="there are more openings than entries",
                expected="none left",
                observed=f"{surplus} more",
            )
        )


def compare_contents(
    walk: LedgerWalk,
    statement: SealStatement,
    digests: Mapping[str, bytes],
    sizes: Mapping[str, int],
) -> None:
    """Each file entry against its file, and no file without an entry or a signed digest.

    `digests` and `sizes` are of every member of the archive, by its name under the top folder.
    Faults are added to ``walk.content_faults``.
    """
    for sealed in walk.files.values():
        name = layout.DATA + sealed.path
        if name not in digests:
            walk.content_faults.append(
                Fault(item=name, message=f"the file of entry {sealed.entry} is missing")
            )
        elif digests[name] != sealed.sha256 or sizes[name] != sealed.size:
            walk.content_faults.append(
                Fault(
                    item=name,
                    message=f"the file is not the one of entry {sealed.entry}",
                    expected=f"{sealed.size} bytes, SHA-256 {sealed.sha256.hex()}",
                    observed=f"{sizes[name]} bytes, SHA-256 {digests[name].hex()}",
                )
            )
    for name in digests:
        if name.startswith(layout.DATA) and name.removeprefix(layout.DATA) not in walk.files:
            walk.content_faults.append(Fault(item=name, message="the file has no ledger entry"))
        elif not name.startswith(layout.DATA) and name not in layout.BUNDLE_TAG_ORDER:
            walk.content_faults.append(
                Fault(item=name, message="a bundle of this format holds no such file")
            )
    _compare_pinned(walk, statement, digests)


def _compare_pinned(
    walk: LedgerWalk, statement: SealStatement, digests: Mapping[str, bytes]
) -> None:
    if set(statement.pinned) != set(layout.PINNED_BY_SEAL):
        walk.content_faults.append(
            Fault(
                item=layout.STATEMENT,
                message="the statement pins another set of files than the format says",
                expected=", ".join(layout.PINNED_BY_SEAL),
                observed=", ".join(sorted(statement.pinned)) or "none",
            )
        )
    for name, signed in statement.pinned.items():
        found = digests.get(name)
        if found != signed:
            walk.content_faults.append(
                Fault(
                    item=name,
                    message="the file is not the one whose digest was signed",
                    expected=signed.hex(),
                    observed="missing" if found is None else found.hex(),
                )
            )
