"""Paint for the scenes: fonts, gradients, grain and shapes filled with them.

Randomness comes from a seeded generator as bytes, so the same seed gives the same pixels.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from functools import lru_cache

from PIL import Image, ImageDraw, ImageFilter, ImageFont, ImageOps

Colour = tuple[int, int, int]
Point = tuple[float, float]
Size = tuple[int, int]


@lru_cache(maxsize=32)
def font(size_px: float) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    """The font that comes with Pillow, at a size in pixels."""
    return ImageFont.load_default(size_px)


def gradient(size: Size, top: Colour, bottom: Colour) -> Image.Image:
    """An RGB picture that goes from one colour to another, top to bottom."""
    ramp = Image.linear_gradient("L").resize(size)
    return ImageOps.colorize(ramp, top, bottom)


def grain(size: Size, cell: tuple[float, float], rng: random.Random) -> Image.Image:
    """Smooth random grey (mode L) whose spots are about `cell` pixels wide and high."""
    columns = max(2, int(size[0] / cell[0]))
    rows = max(2, int(size[1] / cell[1]))
    spots = Image.frombytes("L", (columns, rows), rng.randbytes(columns * rows))
    return spots.resize(size, Image.Resampling.BICUBIC)


def texture(
    size: Size,
    dark: Colour,
    light: Colour,
    cells: Sequence[tuple[float, float]],
    rng: random.Random,
) -> Image.Image:
    """A surface between two colours with grain of several sizes, in equal parts."""
    mixed = grain(size, cells[0], rng)
    for number, cell in enumerate(cells[1:], start=2):
        mixed = Image.blend(mixed, grain(size, cell, rng), 1 / number)
    return ImageOps.colorize(ImageOps.autocontrast(mixed, cutoff=1), dark, light)


def fill(
    picture: Image.Image,
    paint: Image.Image | Colour,
    points: Sequence[Point],
    *,
    soften_px: float = 0.0,
) -> None:
    """Lays a colour, or a picture of the same size, over the inside of a polygon."""
    margin = 3 * soften_px + 1
    left = max(0, int(min(x for x, _ in points) - margin))
    top = max(0, int(min(y for _, y in points) - margin))
    right = min(picture.width, int(max(x for x, _ in points) + margin) + 1)
    bottom = min(picture.height, int(max(y for _, y in points) + margin) + 1)
    if right <= left or bottom <= top:
        return
    mask = Image.new("L", (right - left, bottom - top), 0)
    ImageDraw.Draw(mask).polygon([(x - left, y - top) for x, y in points], fill=255)
    if soften_px:
        mask = mask.filter(ImageFilter.GaussianBlur(soften_px))
    box = (left, top, right, bottom)
    picture.paste(paint.crop(box) if isinstance(paint, Image.Image) else paint, box, mask)


def shade(colour: Colour, factor: float) -> Colour:
    """A colour made darker (below 1) or lighter (above 1)."""
    if factor <= 1:
        red, green, blue = (round(part * factor) for part in colour)
    else:
        red, green, blue = (round(part + (255 - part) * (factor - 1)) for part in colour)
    return red, green, blue
