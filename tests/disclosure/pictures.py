"""Small invented pictures with a plate, and what a redacted copy of them shows."""

from __future__ import annotations

import hashlib
import io
import random
from collections.abc import Collection
from functools import cache

from PIL import Image, ImageDraw, ImageFont, ImageOps

from evidpack.proof.tiles import tile_bytes, tile_grid

PLATE_PX = (44, 14)


@cache
def _ground(width_px: int, height_px: int) -> Image.Image:
    noise = random.Random(11).randbytes(width_px * height_px * 3)
    return Image.frombytes("RGB", (width_px, height_px), noise)


@cache
def _font() -> ImageFont.ImageFont | ImageFont.FreeTypeFont:
    return ImageFont.load_default(12)


def street(
    width_px: int, height_px: int, *, plate: str = "Q000", at: tuple[int, int] = (10, 10)
) -> Image.Image:
    """Noise with a yellow plate of 44 × 14 pixels, the same but for the plate's letters."""
    image = _ground(width_px, height_px).copy()
    sign = Image.new("RGB", PLATE_PX, (250, 220, 0))
    ImageDraw.Draw(sign).text((3, 2), plate, fill=(10, 10, 40), font=_font())
    image.paste(sign, at)
    return image


def large_still(name: str) -> Image.Image:
    """A still of 200 × 150 pixels as it was before encoding; lossless ones are dark in the middle."""
    grey = Image.radial_gradient("L").resize((200, 150))
    return (ImageOps.invert(grey) if name.endswith("jpg") else grey).convert("RGB")


def unique_identifier(image: Image.Image) -> str:
    """An identifier of 32 hex digits that follows from the pixels, as a camera may make one."""
    return hashlib.md5(image.convert("RGB").tobytes()).hexdigest()


def decoded(data: bytes) -> tuple[bytes, int, int]:
    """RGB rows, width and height."""
    with Image.open(io.BytesIO(data)) as image:
        return image.convert("RGB").tobytes(), image.width, image.height


def open_pixels(rgb: bytes, width_px: int, height_px: int, closed: Collection[int]) -> bytes:
    """All that a redacted copy shows: the pixels of the tiles left open."""
    columns, rows = tile_grid(width_px, height_px)
    return b"".join(
        tile_bytes(rgb, width_px, height_px, tile % columns, tile // columns)
        for tile in range(columns * rows)
        if tile not in closed
    )
