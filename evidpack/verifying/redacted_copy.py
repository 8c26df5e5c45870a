"""Step 4 for a redacted copy: all that it shows is what was sealed, and it shows nothing else.

The leaves of the tiles left open are recomputed from the copy's pixels and their salts; with the
leaf digests of the closed tiles they must give the pixel root that the still's entry commits to.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from evidpack.errors import ProofError
from evidpack.limits import TILE_EDGE_PX
from evidpack.proof.digests import require_digest
from evidpack.proof.tiles import tile_bytes, tile_grid, tile_leaf
from evidpack.proof.tree import tree_root
from evidpack.verifying.png_chunks import require_plain_png

# Mid-grey: it stands out by night and by day, and in print.
FLAT_RGB: Final = b"\x80\x80\x80"


@dataclass(frozen=True, slots=True, kw_only=True)
class TileOpenings:
    """Of each tile, by number: the salt (16 bytes) where open, the leaf digest where closed."""

    salts: Mapping[int, bytes]
    closed: Mapping[int, bytes]


def tile_area(width_px: int, height_px: int, tile: int) -> tuple[int, int, int, int]:
    """Left, top, right, bottom of a tile in pixels; right and bottom are not part of it."""
    row, column = divmod(tile, tile_grid(width_px, height_px)[0])
    left, top = column * TILE_EDGE_PX, row * TILE_EDGE_PX
    return left, top, min(left + TILE_EDGE_PX, width_px), min(top + TILE_EDGE_PX, height_px)


def require_redacted_copy(
    png: bytes,
    *,
    path: str,
    width_px: int,
    height_px: int,
    pixel_root: bytes,
    openings: TileOpenings,
) -> None:
    """The copy is a plain PNG, flat where tiles are closed, and elsewhere what was sealed.

    Raises ProofError: another form of PNG, a tile without opening or with two, a closed tile that
    is not flat (named), or pixels, salts and digests that do not give the root.  Only the root was
    sealed, so which of the open tiles differs cannot be said.
    """
    columns, rows = tile_grid(width_px, height_px)
    _require_each_once(openings, columns * rows, path)
    require_plain_png(png, path=path, width_px=width_px, height_px=height_px)
    rgb = _decoded(png, path, width_px, height_px)
    leaves = []
    for tile in range(columns * rows):
        row, column = divmod(tile, columns)
        pixels = tile_bytes(rgb, width_px, height_px, column, row)
        salt = openings.salts.get(tile)
        if salt is not None:
            leaves.append(tile_leaf(salt, pixels))
            continue
        if pixels != FLAT_RGB * (len(pixels) // len(FLAT_RGB)):
            raise ProofError(
                f"tile {tile} (column {column}, row {row}) is closed and shows something",
                path=path,
                expected="the flat colour of redactions",
                observed="other pixels",
            )
        leaves.append(require_digest(openings.closed[tile], f"the leaf of tile {tile}"))
    if (root := tree_root(leaves)) != pixel_root:
        raise ProofError(
            "outside the redaction the copy is not the still that was sealed",
            path=path,
            expected=f"pixel root {pixel_root.hex()}",
            observed=root.hex(),
            hint="Ask the discloser for the copy again: its pixels or their openings were changed.",
        )


def _require_each_once(openings: TileOpenings, count: int, path: str) -> None:
    both = openings.salts.keys() & openings.closed.keys()
    either = openings.salts.keys() | openings.closed.keys()
    if both:
        raise ProofError(
            f"tile {min(both)} is said to be open and closed", path=path,
            expected="one of the two", observed="both",
        )  # fmt: skip
    if strange := either - set(range(count)):
        raise ProofError(
            f"there is an opening for tile {max(strange)}, which the picture has not", path=path,
            expected=f"tiles 0 to {count - 1}", observed=str(max(strange)),
        )  # fmt: skip
    if len(either) != count:
        missing = min(set(range(count)) - either)
        raise ProofError(
            f"tile {missing} is neither open nor closed", path=path,
            expected=f"{count} tiles", observed=str(len(either)),
        )  # fmt: skip


def _decoded(png: bytes, path: str, width_px: int, height_px: int) -> bytes:
    """The pixels of a PNG whose form has been checked, by Pillow."""
    from PIL import Image

    try:
        with warnings.catch_warnings():
            # The size is bounded already: it is that of the sealed still, within our own limit.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(png), formats=("PNG",)) as image:
                if image.size != (width_px, height_px) or image.mode != "RGB":
                    raise ValueError(f"{image.size} {image.mode}")
                return image.tobytes()
    except (OSError, ValueError, SyntaxError, MemoryError, Image.DecompressionBombError) as error:
        raise ProofError(
            "the redacted copy cannot be decoded",
            path=path,
            expected="a PNG that Pillow can read",
            observed=f"{type(error).__name__}: {error}"[:200],
        ) from error
