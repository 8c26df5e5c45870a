"""The pixel commitment of a still: a tree over salted tiles of its decoded picture.

The picture is given as 8-bit RGB, three bytes a pixel, row after row from the top, without
padding.  It is cut into tiles of 32 × 32 pixels, narrower or lower at the right and lower border;
tiles are numbered row-major from 0.  Leaf = SHA-256(0x04 ‖ salt ‖ tile bytes); the tree over the
leaves is that of RFC 9162 §2.1 (docs/format.md, Pixel commitment).
"""

from __future__ import annotations

import hashlib
import struct
from itertools import islice
from typing import Final

from evidpack.errors import ProofError
from evidpack.limits import MAX_STILL_PIXELS, TILE_EDGE_PX
from evidpack.proof.digests import TILE
from evidpack.proof.salts import require_salt, salt_maker
from evidpack.proof.tree import tree_root

_PIXEL_BYTES: Final = 3
_TILE_ROW_BYTES: Final = TILE_EDGE_PX * _PIXEL_BYTES
_SALT_LABEL: Final = b"tile"


def tile_grid(width_px: int, height_px: int) -> tuple[int, int]:
    """The number of tile columns and tile rows.

    Raises ProofError for a picture without pixels or with more than `MAX_STILL_PIXELS`.
    """
    if width_px < 1 or height_px < 1 or width_px * height_px > MAX_STILL_PIXELS:
        raise ProofError(
            "a picture of this size has no tiles",
            expected=f"1 to {MAX_STILL_PIXELS} pixels",
            observed=f"{width_px} × {height_px}",
        )
    return -(-width_px // TILE_EDGE_PX), -(-height_px // TILE_EDGE_PX)


def tile_bytes(
    rgb: bytes | memoryview, width_px: int, height_px: int, column: int, row: int
) -> bytes:
    """The bytes of one tile, its pixel rows one after the other.

    `column` and `row` are counted in tiles, from 0.
    Raises ProofError where there is no such tile or the picture is not of that size.
    """
    columns, rows = tile_grid(width_px, height_px)
    _require_size(rgb, width_px, height_px)
    if not (0 <= column < columns and 0 <= row < rows):
        raise ProofError(
            "there is no such tile",
            expected=f"a column below {columns} and a row below {rows}",
            observed=f"column {column}, row {row}",
        )
    pixels = memoryview(rgb).cast("B")
    stride = width_px * _PIXEL_BYTES
    left = column * _TILE_ROW_BYTES
    right = min(left + _TILE_ROW_BYTES, stride)
    top = row * TILE_EDGE_PX
    bottom = min(top + TILE_EDGE_PX, height_px)
    return b"".join(pixels[y * stride + left : y * stride + right] for y in range(top, bottom))


def tile_salts(key: bytes, count: int) -> list[bytes]:
    """Salts of tiles 0 to count − 1: the first 16 bytes of HMAC-SHA256(key, "tile" ‖ number).

    The number is 4 bytes, big-endian; the key 32 bytes, else ProofError.
    """
    salt_of = salt_maker(key)
    return [salt_of(_SALT_LABEL + number.to_bytes(4)) for number in range(count)]


def tile_leaf(salt: bytes, tile: bytes) -> bytes:
    """SHA-256(0x04 ‖ salt ‖ tile bytes), 32 bytes. Raises ProofError for a salt not 16 bytes."""
    return hashlib.sha256(TILE + require_salt(salt, "a tile") + tile).digest()


def tile_leaves(rgb: bytes | memoryview, width_px: int, height_px: int, key: bytes) -> list[bytes]:
    """The leaves of all tiles in order, 32 bytes each; `key` is the still's, 32 bytes.

    Raises ProofError where the picture is not of that size or the key not of that length.
    """
    columns, rows = tile_grid(width_px, height_px)
    _require_size(rgb, width_px, height_px)
    beginnings = [TILE + salt for salt in tile_salts(key, columns * rows)]
    # One pattern cuts a pixel row into the parts that go to each tile of the band; all copying
    # is then done by struct, zip and join: more than twice as quick as slicing tile by tile.
    last_part_bytes = width_px * _PIXEL_BYTES - (columns - 1) * _TILE_ROW_BYTES
    pattern = struct.Struct(f"{_TILE_ROW_BYTES}s" * (columns - 1) + f"{last_part_bytes}s")
    pixel_rows = pattern.iter_unpack(rgb)
    sha, join = hashlib.sha256, b"".join
    leaves: list[bytes] = []
    for start in range(0, columns * rows, columns):
        band = islice(pixel_rows, TILE_EDGE_PX)
        parts_of_tiles = zip(beginnings[start : start + columns], *band, strict=True)
        leaves.extend(sha(join(parts)).digest() for parts in parts_of_tiles)
    return leaves


def pixel_root(rgb: bytes | memoryview, width_px: int, height_px: int, key: bytes) -> bytes:
    """The root over all tiles, 32 bytes, that a still's entry commits to.

    Raises ProofError as `tile_leaves` does.
    """
    return tree_root(tile_leaves(rgb, width_px, height_px, key))


def _require_size(rgb: bytes | memoryview, width_px: int, height_px: int) -> None:
    expected = width_px * height_px * _PIXEL_BYTES
    observed = memoryview(rgb).nbytes
    if observed != expected:
        raise ProofError(
            f"the pixels are not those of a picture of {width_px} × {height_px}",
            expected=f"{expected} bytes",
            observed=f"{observed} bytes",
        )
