"""Redacted copies of stills: pixels under a flat colour, and the openings of the tiles left open.

A copy is a PNG made from the pixels alone: signature, IHDR, IDAT, IEND and nothing else, so that
no metadata, text, thumbnail or earlier version of the picture can be in it.
"""

from __future__ import annotations

import io
from collections.abc import Collection, Sequence
from typing import Final

from PIL import Image, ImageDraw

from evidpack.disclosure.regions import Shape
from evidpack.errors import ProofError
from evidpack.proof.tiles import tile_grid, tile_leaves, tile_salts
from evidpack.verifying.png_chunks import require_plain_png
from evidpack.verifying.redacted_copy import FLAT_RGB, TileOpenings, tile_area

_OUTLINE_PX: Final = 3
_INK: Final = (0, 0, 0)
_HALO: Final = (255, 255, 255)


def redacted_copy(rgb: bytes, width_px: int, height_px: int, tiles: Collection[int]) -> bytes:
    """The picture as a lossless PNG, the given tiles filled with `FLAT_RGB`.

    `rgb` holds 8-bit RGB rows without padding.  Raises ProofError where it is not of that size, a
    tile is not in the picture, or the PNG library wrote more than pixels.
    """
    covered = _covered(rgb, width_px, height_px, tiles)
    png = _png(Image.frombytes("RGB", (width_px, height_px), covered))
    require_plain_png(png, path="the redacted copy", width_px=width_px, height_px=height_px)
    return png


def preview(
    rgb: bytes, width_px: int, height_px: int, tiles: Collection[int], shapes: Sequence[Shape]
) -> bytes:
    """The redacted copy as PNG with the regions asked for outlined upon the cover.

    It shows how far each was grown, and nothing of what is under the cover: a preview that is
    passed on by mistake gives nothing away.  Raises ProofError as `redacted_copy` does.
    """
    covered = _covered(rgb, width_px, height_px, tiles)
    image = Image.frombytes("RGB", (width_px, height_px), covered)
    draw = ImageDraw.Draw(image)
    for shape in shapes:
        closed = [*shape.points, shape.points[0]]
        # Black on white, so that it shows on any ground and without colour.
        draw.line(closed, fill=_HALO, width=_OUTLINE_PX)
        draw.line(closed, fill=_INK, width=1)
    return _png(image)


def tile_openings(
    rgb: bytes, width_px: int, height_px: int, tile_key: bytes, tiles: Collection[int]
) -> TileOpenings:
    """Salts of the tiles left open, leaf digests of those closed; `tile_key` is the still's.

    Raises ProofError where the picture is not of that size, the key not 32 bytes, or a tile not
    in the picture.
    """
    count = _require_tiles(width_px, height_px, tiles)
    leaves = tile_leaves(rgb, width_px, height_px, tile_key)
    salts = tile_salts(tile_key, count)
    return TileOpenings(
        salts={tile: salts[tile] for tile in range(count) if tile not in tiles},
        closed={tile: leaves[tile] for tile in sorted(tiles)},
    )


def _require_tiles(width_px: int, height_px: int, tiles: Collection[int]) -> int:
    columns, rows = tile_grid(width_px, height_px)
    strange = [tile for tile in tiles if not 0 <= tile < columns * rows]
    if strange:
        raise ProofError(
            "there is no such tile",
            expected=f"0 to {columns * rows - 1}",
            observed=str(min(strange)),
        )
    return columns * rows


def _covered(rgb: bytes, width_px: int, height_px: int, tiles: Collection[int]) -> bytes:
    """A copy of the rows with the tiles filled."""
    _require_tiles(width_px, height_px, tiles)
    if len(rgb) != width_px * height_px * len(FLAT_RGB):
        raise ProofError(
            f"the pixels are not those of a picture of {width_px} × {height_px}",
            expected=f"{width_px * height_px * len(FLAT_RGB)} bytes",
            observed=f"{len(rgb)} bytes",
        )
    covered = bytearray(rgb)
    stride = width_px * len(FLAT_RGB)
    for tile in tiles:
        left, top, right, bottom = tile_area(width_px, height_px, tile)
        flat = FLAT_RGB * (right - left)
        for y in range(top, bottom):
            start = y * stride + left * len(FLAT_RGB)
            covered[start : start + len(flat)] = flat
    return bytes(covered)


def _png(image: Image.Image) -> bytes:
    written = io.BytesIO()
    image.save(written, format="PNG", compress_level=6)
    return written.getvalue()
