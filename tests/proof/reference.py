"""Slow, obvious versions of what the proof room does quickly, each from the text of its source.

Recursive definitions of RFC 9162 §2.1 with list slices; HMAC from RFC 2104; numbers from
ECMA-262 (which RFC 8785 §3.2.2.3 names).  Nothing here calls the code under test.
"""

from __future__ import annotations

import hashlib
import struct
from decimal import Decimal

EDGE = 32


def sha(data: bytes) -> bytes:
    return hashlib.sha256(data).digest()


def largest_power_of_two_below(n: int) -> int:
    k = 1
    while k * 2 < n:
        k *= 2
    return k


def root(leaves: list[bytes]) -> bytes:
    """MTH of RFC 9162 §2.1.1, over entries that are hashed already."""
    if not leaves:
        return sha(b"")
    if len(leaves) == 1:
        return leaves[0]
    k = largest_power_of_two_below(len(leaves))
    return sha(b"\x01" + root(leaves[:k]) + root(leaves[k:]))


def path(m: int, leaves: list[bytes]) -> list[bytes]:
    """PATH of RFC 9162 §2.1.3.1."""
    if len(leaves) == 1:
        return []
    k = largest_power_of_two_below(len(leaves))
    if m < k:
        return [*path(m, leaves[:k]), root(leaves[k:])]
    return [*path(m - k, leaves[k:]), root(leaves[:k])]


def proof(m: int, leaves: list[bytes]) -> list[bytes]:
    """PROOF of RFC 9162 §2.1.4.1."""
    return subproof(m, leaves, whole=True)


def subproof(m: int, leaves: list[bytes], *, whole: bool) -> list[bytes]:
    """SUBPROOF of RFC 9162 §2.1.4.1."""
    if m == len(leaves):
        return [] if whole else [root(leaves)]
    k = largest_power_of_two_below(len(leaves))
    if m <= k:
        return [*subproof(m, leaves[:k], whole=whole), root(leaves[k:])]
    return [*subproof(m - k, leaves[k:], whole=False), root(leaves[:k])]


def chain(leaves: list[bytes]) -> bytes:
    """Link i = SHA-256(0x02 ‖ link i − 1 ‖ leaf i), from 32 zero bytes."""
    if not leaves:
        return b"\x00" * 32
    return sha(b"\x02" + chain(leaves[:-1]) + leaves[-1])


def hmac_sha256(key: bytes, message: bytes) -> bytes:
    """RFC 2104 §2, for a key no longer than SHA-256's block of 64 bytes."""
    block = key + b"\x00" * (64 - len(key))
    inner = bytes(byte ^ 0x36 for byte in block)
    outer = bytes(byte ^ 0x5C for byte in block)
    return sha(outer + sha(inner + message))


def tiles(rgb: bytes, width: int, height: int) -> list[bytes]:
    """The bytes of every tile, pixel by pixel, row-major."""
    cut = []
    for top in range(0, height, EDGE):
        for left in range(0, width, EDGE):
            tile = bytearray()
            for y in range(top, min(top + EDGE, height)):
                for x in range(left, min(left + EDGE, width)):
                    place = (y * width + x) * 3
                    tile += rgb[place : place + 3]
            cut.append(bytes(tile))
    return cut


def tile_leaves(rgb: bytes, width: int, height: int, key: bytes) -> list[bytes]:
    leaves = []
    for number, tile in enumerate(tiles(rgb, width, height)):
        salt = hmac_sha256(key, b"tile" + struct.pack(">I", number))[:16]
        leaves.append(sha(b"\x04" + salt + tile))
    return leaves


def number_text(value: float) -> str:
    """ECMA-262, Number::toString, radix 10: s are the k shortest digits, value = s × 10^(n − k).

    The shortest digits are those of Python's repr.
    """
    if value == 0:
        return "0"
    if value < 0:
        return "-" + number_text(-value)
    _, digit_list, exponent = Decimal(repr(value)).normalize().as_tuple()
    assert isinstance(exponent, int)
    s = "".join(map(str, digit_list))
    k = len(s)
    n = exponent + k
    if k <= n <= 21:
        return s + "0" * (n - k)
    if 0 < n <= 21:
        return s[:n] + "." + s[n:]
    if -6 < n <= 0:
        return "0." + "0" * -n + s
    e = f"e{'+' if n - 1 >= 0 else '-'}{abs(n - 1)}"
    return (s if k == 1 else s[0] + "." + s[1:]) + e
