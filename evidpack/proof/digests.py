"""SHA-256 (FIPS 180-4) behind one prefix byte a use, so that no digest can stand for another.

A reader can repeat each of these with any SHA-256 program (docs/format.md, Proof).
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from typing import Final

from evidpack.errors import ProofError

DIGEST_BYTES: Final = 32

LEAF: Final = b"\x00"
NODE: Final = b"\x01"
LINK: Final = b"\x02"
FIELD: Final = b"\x03"
TILE: Final = b"\x04"

FIRST_LINK: Final = bytes(DIGEST_BYTES)

_GROUP_DIGITS: Final = 4


def sha256(data: bytes | bytearray | memoryview) -> bytes:
    """SHA-256 of the data, 32 bytes (FIPS 180-4)."""
    return hashlib.sha256(data).digest()


def leaf_digest(entry_line: bytes) -> bytes:
    """SHA-256(0x00 ‖ line), 32 bytes (RFC 9162 §2.1.1). The line is without its line feed."""
    return hashlib.sha256(LEAF + entry_line).digest()


def node_digest(left: bytes, right: bytes) -> bytes:
    """SHA-256(0x01 ‖ left ‖ right), 32 bytes, of two digests of 32 bytes (RFC 9162 §2.1.1)."""
    return hashlib.sha256(NODE + left + right).digest()


def link_digest(previous: bytes, leaf: bytes) -> bytes:
    """SHA-256(0x02 ‖ previous link ‖ leaf), 32 bytes: one more link of the chain.

    The link before the first is `FIRST_LINK`.
    """
    return hashlib.sha256(LINK + previous + leaf).digest()


def chain_head(leaves: Iterable[bytes]) -> bytes:
    """The last link over leaf digests of 32 bytes in order; `FIRST_LINK` where there are none.

    Raises ProofError for a leaf that is not 32 bytes, since the join of two shorter ones could
    be cut elsewhere.
    """
    head = FIRST_LINK
    for number, leaf in enumerate(leaves):
        head = link_digest(head, require_digest(leaf, f"leaf {number}"))
    return head


def require_digest(digest: bytes, what: str) -> bytes:
    """The digest itself. Raises ProofError, naming `what`, where it is not 32 bytes."""
    if len(digest) != DIGEST_BYTES:
        raise ProofError(
            f"{what} is not a SHA-256 digest",
            expected=f"{DIGEST_BYTES} bytes",
            observed=f"{len(digest)} bytes",
        )
    return digest


def groups_of_four(digest: bytes) -> str:
    """Lower-case hex in groups of four digits, as it is printed for people to compare."""
    digits = digest.hex()
    return " ".join(
        digits[start : start + _GROUP_DIGITS] for start in range(0, len(digits), _GROUP_DIGITS)
    )
