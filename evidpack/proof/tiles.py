"""Tiles of a still and the root over them (docs/format.md, Pixel commitment)."""

from __future__ import annotations

import hashlib
import hmac
from typing import Final

from evidpack.limits import TILE_EDGE_PX
from evidpack.proof.digests import TILE
from evidpack.proof.tree import tree_root

_BYTES_PER_PIXEL: Final = 3


def tile_grid(width_px: int, height_px: int) -> tuple[int, int]:
    """Columns and rows of tiles."""
    return -(-width_px // TILE_EDGE_PX), -(-height_px // TILE_EDGE_PX)


def tile_bytes(rgb: bytes, width_px: int, height_px: int, column: int, row: int) -> bytes:
    """The rows of RGB triples of one tile, one after the other."""
    stride = width_px * _BYTES_PER_PIXEL
    left = column * TILE_EDGE_PX * _BYTES_PER_PIXEL
    right = min(left + TILE_EDGE_PX * _BYTES_PER_PIXEL, stride)
    first = row * TILE_EDGE_PX
    last = min(first + TILE_EDGE_PX, height_px)
    return b"".join(rgb[y * stride + left : y * stride + right] for y in range(first, last))


def tile_salts(key: bytes, count: int) -> list[bytes]:
    """The salts of the first `count` tiles."""
    return [
        hmac.digest(key, b"tile" + number.to_bytes(4, "big"), "sha256")[:16]
        for number in range(count)
    ]


def tile_leaves(rgb: bytes, width_px: int, height_px: int, key: bytes) -> list[bytes]:
    """The digest of every tile, in rows from the upper left."""
    columns, rows = tile_grid(width_px, height_px)
    salts = tile_salts(key, columns * rows)
    return [
        hashlib.sha256(
            TILE + salts[row * columns + column] + tile_bytes(rgb, width_px, height_px, column, row)
        ).digest()
        for row in range(rows)
        for column in range(columns)
    ]


def pixel_root(rgb: bytes, width_px: int, height_px: int, key: bytes) -> bytes:
    """The RFC 9162 root over the tiles' digests."""
    return tree_root(tile_leaves(rgb, width_px, height_px, key))
