"""The Merkle tree of RFC 9162 §2.1 over leaf digests, and the proofs that go with it.

The tree is split at the largest power of two below its size.  Pairing neighbours level by level
and passing an odd last one up unchanged gives the same tree, and is what is done here.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from typing import Final

from evidpack.errors import ProofError
from evidpack.proof.digests import NODE, node_digest, require_digest, sha256

EMPTY_ROOT: Final = sha256(b"")


class TreeBuilder:
    """Takes leaf digests one at a time and gives the root; memory is O(log n)."""

    def __init__(self) -> None:
        # Roots of the full subtrees so far, widest first: one for each 1 bit of the count.
        self._subtrees: list[bytes] = []
        self._count = 0

    @property
    def count(self) -> int:
        """Leaves so far."""
        return self._count

    def append(self, leaf: bytes) -> None:
        """Add one leaf digest. Raises ProofError where it is not 32 bytes."""
        subtree = require_digest(leaf, f"leaf {self._count}")
        ones = self._count
        while ones & 1:
            subtree = node_digest(self._subtrees.pop(), subtree)
            ones >>= 1
        self._subtrees.append(subtree)
        self._count += 1

    def root(self) -> bytes:
        """The root over the leaves so far, 32 bytes; SHA-256 of nothing where there are none."""
        if not self._subtrees:
            return EMPTY_ROOT
        root = self._subtrees[-1]
        for subtree in reversed(self._subtrees[:-1]):
            root = node_digest(subtree, root)
        return root


def tree_root(leaves: Iterable[bytes]) -> bytes:
    """The root over leaf digests in order, 32 bytes (RFC 9162 §2.1.1).

    Raises ProofError for a leaf that is not 32 bytes.
    """
    level = [require_digest(leaf, f"leaf {number}") for number, leaf in enumerate(leaves)]
    if not level:
        return EMPTY_ROOT
    while len(level) > 1:
        level = _level_above(level)
    return level[0]


def inclusion_path(leaves: Sequence[bytes], index: int) -> list[bytes]:
    """The digests that, with leaf `index` (from 0), give the root (RFC 9162 §2.1.3.1).

    From the leaf upwards; empty where there is one leaf only.
    Raises ProofError where there is no such leaf or a leaf is not 32 bytes.
    """
    if not 0 <= index < len(leaves):
        raise _no_such_leaf(index, len(leaves))
    level = [require_digest(leaf, f"leaf {number}") for number, leaf in enumerate(leaves)]
    path = []
    while len(level) > 1:
        sibling = index ^ 1
        if sibling < len(level):
            path.append(level[sibling])
        level = _level_above(level)
        index >>= 1
    return path


def require_inclusion(
    *, leaf: bytes, index: int, size: int, path: Sequence[bytes], root: bytes
) -> None:
    """Check that a leaf digest stands at `index` (from 0) of a tree (RFC 9162 §2.1.3.2).

    `size` is the tree's number of leaves, `path` what `inclusion_path` gives.
    Raises ProofError, naming the leaf, where it does not.
    """
    if not 0 <= index < size:
        raise _no_such_leaf(index, size)
    what = f"the inclusion proof of leaf {index} of {size}"
    found = require_digest(leaf, f"leaf {index}")
    node, last = index, size - 1
    for step, sibling in enumerate(path):
        require_digest(sibling, f"step {step} of {what}")
        if last == 0:
            raise _too_long(what, expected=step, observed=len(path))
        if node & 1 or node == last:
            found = node_digest(sibling, found)
            node, last = _up_to_right_child(node, last)
        else:
            found = node_digest(found, sibling)
        node >>= 1
        last >>= 1
    if last != 0:
        raise _too_short(what, len(path))
    _require_root(what, "root", computed=found, claimed=root)


def require_consistency(
    *, first: int, second: int, first_root: bytes, second_root: bytes, path: Sequence[bytes]
) -> None:
    """Check that a tree of `second` leaves begins with the `first` leaves of an earlier one.

    RFC 9162 §2.1.4.2.  A consistency proof is defined only for an earlier tree that has leaves
    (§2.1.4.1: first > 0).  Nothing follows from an empty one, so `first` 0 is refused, whatever
    the roots and the path.  Equal sizes have an empty path and equal roots.
    Raises ProofError where it does not begin so.
    """
    what = f"the consistency proof from {first} to {second} leaves"
    if not 0 < first <= second:
        raise ProofError(
            f"{what} is not defined",
            expected=f"a first size from 1 to {second}",
            observed=str(first),
        )
    for step, digest in enumerate(path):
        require_digest(digest, f"step {step} of {what}")
    if first == second:
        if path:
            raise _too_long(what, expected=0, observed=len(path))
        found_first = found_second = first_root
    else:
        found_first, found_second = _follow_consistency(what, first, second, first_root, path)
    _require_root(what, "first root", computed=found_first, claimed=first_root)
    _require_root(what, "second root", computed=found_second, claimed=second_root)


def _follow_consistency(
    what: str, first: int, second: int, first_root: bytes, path: Sequence[bytes]
) -> tuple[bytes, bytes]:
    """The roots of both trees that a path gives, for 0 < first < second (RFC 9162 §2.1.4.2)."""
    # A first size that is a power of two is a whole subtree: its root is where the path starts.
    steps = [first_root, *path] if first & (first - 1) == 0 else list(path)
    if not steps:
        raise _too_short(what, 0)
    node, last = _up_to_left_child(first - 1, second - 1)
    found_first = found_second = steps[0]
    for step, digest in enumerate(steps[1:], start=1):
        if last == 0:
            expected = len(path) - len(steps) + step
            raise _too_long(what, expected=expected, observed=len(path))
        if node & 1 or node == last:
            found_first = node_digest(digest, found_first)
            found_second = node_digest(digest, found_second)
            node, last = _up_to_right_child(node, last)
        else:
            found_second = node_digest(found_second, digest)
        node >>= 1
        last >>= 1
    if last != 0:
        raise _too_short(what, len(path))
    return found_first, found_second


def _level_above(level: list[bytes]) -> list[bytes]:
    sha = hashlib.sha256
    above = [
        sha(NODE + left + right).digest()
        for left, right in zip(level[::2], level[1::2], strict=False)
    ]
    if len(level) & 1:
        above.append(level[-1])
    return above


def _up_to_right_child(node: int, last: int) -> tuple[int, int]:
    """Pass over the levels at which the last node of an odd level goes up unchanged."""
    while not node & 1 and node != 0:
        node >>= 1
        last >>= 1
    return node, last


def _up_to_left_child(node: int, last: int) -> tuple[int, int]:
    """Pass over the levels below the widest full subtree that ends where the first tree ends."""
    while node & 1:
        node >>= 1
        last >>= 1
    return node, last


def _require_root(what: str, which: str, *, computed: bytes, claimed: bytes) -> None:
    if computed != claimed:
        raise ProofError(
            f"{what} does not lead to the {which}", expected=claimed.hex(), observed=computed.hex()
        )


def _no_such_leaf(index: int, size: int) -> ProofError:
    return ProofError(
        "there is no leaf of that number in the tree",
        expected=f"0 to {size - 1}" if size > 0 else "no number, since the tree is empty",
        observed=str(index),
    )


def _too_long(what: str, *, expected: int, observed: int) -> ProofError:
    return ProofError(
        f"{what} is too long", expected=f"{expected} digests", observed=f"{observed} digests"
    )


def _too_short(what: str, observed: int) -> ProofError:
    return ProofError(
        f"{what} is too short", expected="more digests", observed=f"{observed} digests"
    )
