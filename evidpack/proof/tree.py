"""The Merkle tree of RFC 9162, section 2.1: roots, and proofs of inclusion and consistency."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from evidpack.errors import ProofError
from evidpack.proof.digests import node_digest


class TreeBuilder:
    """A root over leaves that come one by one, in memory of the order of log(count)."""

    def __init__(self) -> None:
        self.count = 0
        self._peaks: list[tuple[int, bytes]] = []

    def append(self, leaf: bytes) -> None:
        """Add one leaf digest (32 bytes)."""
        self.count += 1
        size, digest = 1, leaf
        while self._peaks and self._peaks[-1][0] == size:
            _, left = self._peaks.pop()
            digest = node_digest(left, digest)
            size *= 2
        self._peaks.append((size, digest))

    def root(self) -> bytes:
        """The root so far. Raises ProofError for no leaf."""
        if not self._peaks:
            raise ProofError("a tree needs a leaf")
        digest = self._peaks[-1][1]
        for _, left in reversed(self._peaks[:-1]):
            digest = node_digest(left, digest)
        return digest


def tree_root(leaves: Iterable[bytes]) -> bytes:
    """The root over these leaf digests. Raises ProofError for none."""
    builder = TreeBuilder()
    for leaf in leaves:
        builder.append(leaf)
    return builder.root()


def inclusion_path(leaves: Sequence[bytes], index: int) -> list[bytes]:
    """The audit path of one leaf, from the leaf up (RFC 9162, section 2.1.3.1)."""
    if len(leaves) == 1:
        return []
    split = 1 << (len(leaves) - 1).bit_length() - 1
    if index < split:
        return [*inclusion_path(leaves[:split], index), tree_root(leaves[split:])]
    return [*inclusion_path(leaves[split:], index - split), tree_root(leaves[:split])]
