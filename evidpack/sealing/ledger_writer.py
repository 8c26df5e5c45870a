"""Writing the ledger and its openings, one entry after the other, without holding them."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from types import TracebackType
from typing import IO, Final, Self

from evidpack.limits import MIB
from evidpack.model.values import JsonValue
from evidpack.proof.commitments import entry_and_opening
from evidpack.proof.digests import FIRST_LINK, leaf_digest, link_digest
from evidpack.proof.statement import ENTRY_KINDS
from evidpack.proof.tree import TreeBuilder

_IN_MEMORY_BYTES: Final = 16 * MIB

RandomBytes = Callable[[int], bytes]


class LedgerWriter:
    """Takes entries in ledger order; keeps chain head and tree root as it goes.

    Both texts are spooled to unnamed temporary files in `folder` once they grow, so that memory
    does not grow with the number of entries.
    """

    def __init__(self, folder: Path) -> None:
        self.ledger: IO[bytes] = _spool(folder)
        self.openings: IO[bytes] = _spool(folder)
        self.counts: dict[str, int] = dict.fromkeys(ENTRY_KINDS, 0)
        self.chain_head = FIRST_LINK
        self._tree = TreeBuilder()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.ledger.close()
        self.openings.close()

    @property
    def count(self) -> int:
        """Entries written so far: the number of the next one."""
        return sum(self.counts.values())

    def add(self, kind: str, values: Mapping[str, JsonValue], entry_key: bytes) -> int:
        """Write one entry and its opening; return its number."""
        line, opening = entry_and_opening(kind, values, entry_key)
        leaf = leaf_digest(line)
        self._tree.append(leaf)
        self.chain_head = link_digest(self.chain_head, leaf)
        self.ledger.write(line + b"\n")
        self.openings.write(opening + b"\n")
        number = self.count
        self.counts[kind] += 1
        return number

    def tree_root(self) -> bytes:
        """The RFC 9162 root over all entries so far."""
        return self._tree.root()


def _spool(folder: Path) -> IO[bytes]:
    """A temporary file without a name; the writer closes it."""
    return tempfile.SpooledTemporaryFile(_IN_MEMORY_BYTES, dir=str(folder))
