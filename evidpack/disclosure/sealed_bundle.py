"""Random access to one bundle: the ledger, the openings, and single files of the payload.

Nothing of the payload is read but what is asked for.  Leaves are compared with the seal statement
when the bundle is opened; an opening is compared with its commitments when it is read.
"""

from __future__ import annotations

import hashlib
import json
from array import array
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import BinaryIO

from evidpack.container import layout
from evidpack.container.archive import Archive
from evidpack.container.zip_reader import read_archive
from evidpack.errors import ContainerError, ProofError
from evidpack.limits import MAX_SIGNATURE_BYTES, MAX_STATEMENT_BYTES, MAX_TOKEN_BYTES
from evidpack.model.values import JsonValue
from evidpack.proof.commitments import commit_entry
from evidpack.proof.digests import chain_head, leaf_digest, sha256
from evidpack.proof.openings import parse_opening
from evidpack.proof.statement import SealStatement, parse_statement
from evidpack.proof.tree import tree_root
from evidpack.trust.cms import parse_signature, require_signature
from evidpack.verifying.ledger_walk import split_lines


@dataclass(frozen=True, slots=True, kw_only=True)
class SealedEntry:
    """One entry with what its opening says. `key` is 32 bytes and never leaves the bundle."""

    number: int
    kind: str
    values: Mapping[str, JsonValue]
    key: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class ProvedEntry:
    """An entry whose opening gives its ledger line; `salts` (16 bytes) by name of field."""

    entry: SealedEntry
    line: bytes
    salts: Mapping[str, bytes]


class SealedBundle:
    """A bundle as the discloser uses it.

    Attributes:
        archive: its structure checked.
        statement: the seal statement; `statement_bytes`, `signature` and `token` as they stand in
            the bundle, the token None where there is none.
        leaves: the leaf digest of every entry, 32 bytes each.
    """

    def __init__(self, archive: Archive) -> None:
        """Read the ledger of an archive.

        Raises:
            ProofError: the ledger is not the one that the seal statement names.
            TrustError: the signature is not one over the seal statement.
            ContainerError: a file of the seal is missing or damaged.
        """
        self.archive = archive
        self.statement_bytes = archive.read(layout.STATEMENT, limit=MAX_STATEMENT_BYTES)
        self.statement: SealStatement = parse_statement(self.statement_bytes, path=layout.STATEMENT)
        self.signature = archive.read(layout.SIGNATURE, limit=MAX_SIGNATURE_BYTES)
        require_signature(
            parse_signature(self.signature, path=layout.SIGNATURE), self.statement_bytes
        )
        self.token = self._token()
        self.leaves, self._line_starts = self._read_ledger()
        self._opening_starts = self._read_starts()
        self._known = 0  # lines of the openings that were read strictly

    @property
    def statement_sha256(self) -> bytes:
        """The name of the seal: SHA-256 of its statement."""
        return sha256(self.statement_bytes)

    @property
    def count(self) -> int:
        """The number of entries."""
        return len(self.leaves)

    def entries(self) -> Iterator[SealedEntry]:
        """Every entry in order, parsed one at a time: strictly the first time through, and then as
        lines that are known to be what was sealed."""
        for number, line in enumerate(self._lines(layout.OPENINGS)):
            yield self._parsed(number, line) if number >= self._known else self._again(number, line)
            self._known = max(self._known, number + 1)

    def entry(self, number: int) -> SealedEntry:
        """One entry."""
        return self._parsed(number, self._line(layout.OPENINGS, self._opening_starts, number))

    def proved(self, number: int) -> ProvedEntry:
        """One entry, compared with its commitments.

        Raises ProofError where the opening does not give the sealed line.
        """
        entry = self.entry(number)
        line = self._line(layout.LEDGER, self._line_starts, number)
        rebuilt, salts = commit_entry(entry.kind, entry.values, entry.key)
        if rebuilt != line:
            raise ProofError(
                f"entry {number} does not open as it was committed",
                path=layout.OPENINGS,
                line=number + 1,
                hint="Verify the bundle: it is not as it was sealed.",
            )
        return ProvedEntry(entry=entry, line=line, salts=salts)

    def open_file(self, path: str) -> tuple[BinaryIO, int]:
        """A file of the payload by its path under the data folder, and its size in bytes."""
        member = self.archive.member(layout.DATA + path)
        return self.archive.open(member), member.size

    def read_file(self, path: str, *, limit: int) -> bytes:
        """A whole file of the payload, at most `limit` bytes, its checksum checked."""
        return self.archive.read(layout.DATA + path, limit=limit)

    def _parsed(self, number: int, line: bytes) -> SealedEntry:
        opening = parse_opening(line, path=layout.OPENINGS, number=number)
        return SealedEntry(
            number=number,
            kind=self.statement.kind_at(number),
            values=opening.values,
            key=opening.key,
        )

    def _again(self, number: int, line: bytes) -> SealedEntry:
        """An entry whose line was read strictly before."""
        opening = json.loads(line)
        return SealedEntry(
            number=number,
            kind=self.statement.kind_at(number),
            values=opening["values"],
            key=bytes.fromhex(opening["key"]),
        )

    def _token(self) -> bytes | None:
        if layout.TOKEN not in self.archive:
            return None
        return self.archive.read(layout.TOKEN, limit=MAX_TOKEN_BYTES)

    def _lines(self, name: str) -> Iterator[bytes]:
        return split_lines(self.archive.open(self.archive.member(name)), path=name)

    def _read_ledger(self) -> tuple[list[bytes], array[int]]:
        leaves: list[bytes] = []
        starts = array("Q", [0])
        for line in self._lines(layout.LEDGER):
            leaves.append(leaf_digest(line))
            starts.append(starts[-1] + len(line) + 1)
        signed = self.statement
        if (
            len(leaves) != signed.entry_count
            or chain_head(leaves) != signed.chain_head
            or tree_root(leaves) != signed.tree_root
        ):
            raise ProofError(
                "the ledger is not the one that the seal statement names",
                path=layout.LEDGER,
                expected=f"{signed.entry_count} entries, tree root {signed.tree_root.hex()}",
                observed=f"{len(leaves)} entries, others",
                hint="Verify the bundle: it is not as it was sealed.",
            )
        return leaves, starts

    def _read_starts(self) -> array[int]:
        starts = array("Q", [0])
        digest = hashlib.sha256()
        for line in self._lines(layout.OPENINGS):
            starts.append(starts[-1] + len(line) + 1)
            digest.update(line)
            digest.update(b"\n")
        if len(starts) != len(self._line_starts):
            raise ProofError(
                "there are not as many openings as entries",
                path=layout.OPENINGS,
                expected=str(len(self.leaves)),
                observed=str(len(starts) - 1),
            )
        # What is withheld is never opened in a pack, so that nothing later would tell a change of it.
        if digest.digest() != self.statement.pinned.get(layout.OPENINGS):
            raise ProofError(
                "the openings are not the ones that the seal statement names",
                path=layout.OPENINGS,
                hint="Verify the bundle: it is not as it was sealed.",
            )
        return starts

    def _line(self, name: str, starts: array[int], number: int) -> bytes:
        if not 0 <= number < len(self.leaves):
            raise ProofError(
                "there is no entry of that number",
                expected=f"0 to {len(self.leaves) - 1}",
                observed=str(number),
            )
        member = self.archive.member(name)
        length = starts[number + 1] - starts[number] - 1
        return self.archive.source.read(member.offset + starts[number], length)


def open_sealed_bundle(stream: BinaryIO, *, path: str) -> SealedBundle:
    """Open a bundle for disclosure.

    Raises ContainerError, ProofError or TrustError where it is no bundle of this format or its
    ledger is not the one sealed.
    """
    archive = read_archive(stream, path=path)
    if layout.LEDGER not in archive:
        raise ContainerError(
            "this is not a bundle: it holds no ledger",
            path=path,
            expected=layout.LEDGER,
            observed="none",
            hint="A pack holds no ledger; packs are made from bundles.",
        )
    return SealedBundle(archive)
