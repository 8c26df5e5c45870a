"""Digests with a prefix that says what is digested (docs/format.md, Digests)."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from typing import Final

LEAF: Final = b"\x00"
NODE: Final = b"\x01"
LINK: Final = b"\x02"
FIELD: Final = b"\x03"
TILE: Final = b"\x04"
FIRST_LINK: Final = bytes(32)


def sha256(data: bytes) -> bytes:
    """SHA-256 (FIPS 180-4), 32 bytes."""
    return hashlib.sha256(data).digest()


def leaf_digest(entry_line: bytes) -> bytes:
    """RFC 9162, section 2.1.1: the digest of one ledger line without its line feed."""
    return hashlib.sha256(LEAF + entry_line).digest()


def node_digest(left: bytes, right: bytes) -> bytes:
    """RFC 9162, section 2.1.1: the digest of two subtrees."""
    return hashlib.sha256(NODE + left + right).digest()


def link_digest(previous: bytes, leaf: bytes) -> bytes:
    """The next link of the hash chain."""
    return hashlib.sha256(LINK + previous + leaf).digest()


def chain_head(leaves: Iterable[bytes]) -> bytes:
    """The last link over these leaf digests; 32 zero bytes for none."""
    link = FIRST_LINK
    for leaf in leaves:
        link = link_digest(link, leaf)
    return link


def groups_of_four(digest: bytes) -> str:
    """Hex in groups of four digits, for print and reading aloud."""
    digits = digest.hex()
    return " ".join(digits[start : start + 4] for start in range(0, len(digits), 4))
