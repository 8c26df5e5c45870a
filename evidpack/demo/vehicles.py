"""Vehicles seen from the front or the back, drawn in metres and scaled to their distance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from PIL import Image, ImageDraw, ImageFilter

from evidpack.demo import canvas
from evidpack.demo.canvas import Colour, Point
from evidpack.demo.plan import Vehicle

PX_PER_M: Final = 180
WIDTH_M: Final = 2.9
HEIGHT_M: Final = 3.1
_GROUND_M: Final = 0.25  # room under the wheels for the shadow
_GLASS: Final[tuple[Colour, Colour]] = ((128, 150, 164), (34, 42, 48))


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """Half widths and heights of a body, metres."""

    half: float
    waist: float
    top: float
    roof_half: float


SHAPES: Final[dict[str, Shape]] = {
    "hatchback": Shape(half=0.87, waist=0.96, top=1.47, roof_half=0.58),
    "saloon": Shape(half=0.91, waist=0.93, top=1.42, roof_half=0.56),
    "estate": Shape(half=0.91, waist=0.96, top=1.48, roof_half=0.62),
    "tall": Shape(half=0.95, waist=1.12, top=1.70, roof_half=0.68),
    "van": Shape(half=0.98, waist=1.22, top=2.05, roof_half=0.86),
    "ambulance": Shape(half=1.02, waist=1.30, top=2.55, roof_half=0.94),
}


class _Pencil:
    """Draws in metres: x from the middle, y from the road."""

    def __init__(self) -> None:
        size = (round(WIDTH_M * PX_PER_M), round(HEIGHT_M * PX_PER_M))
        self.picture = Image.new("RGBA", size, (0, 0, 0, 0))
        self.draw = ImageDraw.Draw(self.picture)

    def at(self, x: float, y: float) -> Point:
        return (x + WIDTH_M / 2) * PX_PER_M, (HEIGHT_M - _GROUND_M - y) * PX_PER_M

    def both(self, points: Sequence[Point], colour: Colour) -> None:
        """A polygon and its mirror image."""
        for side in (1, -1):
            self.draw.polygon([self.at(side * x, y) for x, y in points], fill=(*colour, 255))

    def across(self, right: Sequence[Point]) -> list[Point]:
        """A symmetric outline from its right half, bottom to top."""
        left = [(-x, y) for x, y in reversed(right)]
        return [self.at(x, y) for x, y in (*right, *left)]

    def body(self, right: Sequence[Point], light: Colour, dark: Colour) -> None:
        """A symmetric part, lit from above."""
        outline = self.across(right)
        mask = Image.new("L", self.picture.size, 0)
        ImageDraw.Draw(mask).polygon(outline, fill=255)
        mask = mask.filter(ImageFilter.GaussianBlur(PX_PER_M / 40))
        mask = mask.point(lambda level: max(0, min(255, (level - 96) * 4)))
        top = int(min(v for _, v in outline))
        bottom = int(max(v for _, v in outline)) + 1
        paint = Image.new("RGB", self.picture.size, dark)
        paint.paste(canvas.gradient((self.picture.width, bottom - top), light, dark), (0, top))
        self.picture.paste(paint, (0, 0), mask)

    def box(self, x: float, y: float, half: float, high: float, colour: Colour) -> None:
        """A box with rounded corners, from its middle and lower edge."""
        left, upper = self.at(x - half, y + high)
        right, lower = self.at(x + half, y)
        radius = min(half * 2, high) * PX_PER_M * 0.22
        self.draw.rounded_rectangle((left, upper, right, lower), radius, fill=(*colour, 255))


@lru_cache(maxsize=4)
def portrait(vehicle: Vehicle, *, rear: bool) -> Image.Image:
    """The vehicle with its shadow, RGBA, PX_PER_M pixels a metre."""
    shape = SHAPES[vehicle.body]
    pencil = _Pencil()
    _shadow_and_tyres(pencil, shape)
    colour = vehicle.colour
    w, waist = shape.half, shape.waist
    if vehicle.body in {"van", "ambulance"}:
        roof = ((w, waist * 0.9), (shape.roof_half + 0.04, shape.top - 0.12),
                (shape.roof_half - 0.1, shape.top))  # fmt: skip
    else:
        roof = ((w - 0.1, waist - 0.08), (shape.roof_half, shape.top - 0.1),
                (shape.roof_half - 0.16, shape.top))  # fmt: skip
    pencil.body(roof, canvas.shade(colour, 1.35), canvas.shade(colour, 0.7))
    lower = ((w - 0.1, 0.2), (w - 0.02, 0.34), (w, waist * 0.66), (w - 0.05, waist * 0.94),
             (w - 0.12, waist))  # fmt: skip
    pencil.body(lower, canvas.shade(colour, 1.22), canvas.shade(colour, 0.55))
    (_rear if rear else _front)(pencil, shape, vehicle)
    for side in (-1, 1):
        pencil.box(side * w, waist - 0.02, 0.12, 0.15, canvas.shade(colour, 0.62))
    if vehicle.body == "ambulance":
        _blue_lamps(pencil, shape)
    return pencil.picture


def _shadow_and_tyres(pencil: _Pencil, shape: Shape) -> None:
    shadow = Image.new("L", pencil.picture.size, 0)
    box = (*pencil.at(-shape.half - 0.2, 0.16), *pencil.at(shape.half + 0.2, -0.14))
    ImageDraw.Draw(shadow).ellipse(box, fill=190)
    shadow = shadow.filter(ImageFilter.GaussianBlur(PX_PER_M * 0.06))
    pencil.picture.paste((12, 13, 15, 255), (0, 0), shadow)
    pencil.picture.putalpha(shadow)
    for side in (-1, 1):
        pencil.box(side * (shape.half - 0.15), 0.0, 0.11, 0.5, (20, 20, 22))
    pencil.box(0, 0.16, shape.half - 0.12, 0.2, (24, 24, 26))


def _window(pencil: _Pencil, shape: Shape, low: float, high: float) -> None:
    """The windscreen or rear window, with the sky in its upper part and a glint."""
    rise = (shape.top - shape.waist) or 1.0
    at_low = shape.half - 0.2
    at_high = shape.roof_half - 0.07
    narrow = at_low + (at_high - at_low) * (high - low) / rise
    pencil.body(((at_low, low), (narrow, high)), *_GLASS)
    glint = [(-at_low * 0.5, low + 0.02), (-at_low * 0.32, low + 0.02),
             (-narrow * 0.02, high - 0.03), (-narrow * 0.2, high - 0.03)]  # fmt: skip
    layer = Image.new("L", pencil.picture.size, 0)
    ImageDraw.Draw(layer).polygon([pencil.at(x, y) for x, y in glint], fill=46)
    pencil.picture.paste((214, 226, 232, 255), (0, 0), layer)


def _front(pencil: _Pencil, shape: Shape, vehicle: Vehicle) -> None:
    w, waist = shape.half, shape.waist
    high = shape.top - (0.1 if shape.top < 1.9 else 0.34 * (shape.top - 1.2))
    _window(pencil, shape, waist + 0.02, high)
    for side in (-0.36, 0.36):  # head rests behind the glass
        pencil.box(side, waist + 0.06, 0.1, 0.2, (52, 60, 66))
    pencil.box(0, waist * 0.56, w * 0.5, waist * 0.16, (22, 23, 26))
    for bar in (0.6, 0.66):
        pencil.box(0, waist * bar, w * 0.48, 0.012, (120, 124, 126))
    pencil.box(0, 0.24, w * 0.62, 0.1, (26, 27, 30))
    lamp = ((w * 0.58, waist * 0.62), (w * 0.96, waist * 0.68), (w * 0.94, waist * 0.84),
            (w * 0.62, waist * 0.76))  # fmt: skip
    pencil.both(lamp, (222, 230, 234))
    core = ((w * 0.7, waist * 0.67), (w * 0.86, waist * 0.70), (w * 0.85, waist * 0.79),
            (w * 0.71, waist * 0.74))  # fmt: skip
    pencil.both(core, (255, 252, 238))
    for side in (-1, 1):
        pencil.box(side * w * 0.78, 0.3, 0.07, 0.09, (214, 208, 188))
    _plate(pencil, vehicle.plate, 0.39)


def _rear(pencil: _Pencil, shape: Shape, vehicle: Vehicle) -> None:
    w, waist = shape.half, shape.waist
    tall = shape.top > 1.9
    high = shape.top - (0.12 if not tall else 0.36 * (shape.top - 1.2))
    if tall:
        for side in (-1, 1):
            pencil.box(side * w * 0.42, waist + 0.04, w * 0.34, high - waist, _GLASS[1])
        pencil.box(0, 0.4, 0.012, shape.top - 0.55, canvas.shade(vehicle.colour, 0.5))
    else:
        _window(pencil, shape, waist + 0.05, high)
        pencil.box(0, shape.top - 0.09, 0.16, 0.03, (150, 22, 26))
    lamp = ((w * 0.72, waist * 0.62), (w * 0.98, waist * 0.64), (w * 0.95, waist * 0.93),
            (w * 0.8, waist * 0.9))  # fmt: skip
    pencil.both(lamp, (170, 24, 30))
    inner = ((w * 0.8, waist * 0.7), (w * 0.92, waist * 0.71), (w * 0.91, waist * 0.79),
             (w * 0.82, waist * 0.78))  # fmt: skip
    pencil.both(inner, (236, 92, 74))
    pencil.box(0, 0.26, w * 0.86, 0.16, canvas.shade(vehicle.colour, 0.6))
    pencil.box(0, 0.22, w * 0.6, 0.07, (30, 30, 33))
    _plate(pencil, vehicle.plate, waist * 0.56)


def _plate(pencil: _Pencil, mark: str, low: float) -> None:
    pencil.box(0, low, 0.28, 0.125, (20, 20, 22))
    pencil.box(0, low + 0.008, 0.27, 0.109, (244, 244, 238))
    middle = pencil.at(0, low + 0.062)
    face = canvas.font(0.112 * PX_PER_M)
    pencil.draw.text(
        middle, mark, (16, 16, 20, 255), face, anchor="mm", stroke_width=1,
        stroke_fill=(16, 16, 20, 255),
    )  # fmt: skip


def _blue_lamps(pencil: _Pencil, shape: Shape) -> None:
    for side in (-1, 1):
        pencil.box(side * 0.6, shape.top - 0.02, 0.2, 0.13, (36, 84, 222))
        pencil.box(side * 0.6, shape.top + 0.02, 0.1, 0.06, (150, 190, 255))
    pencil.box(0, shape.waist * 0.86, shape.half * 0.94, 0.1, (36, 130, 66))


def scaled(vehicle: Vehicle, *, rear: bool, px_per_m: float) -> Image.Image:
    """The portrait at so many pixels a metre."""
    whole = portrait(vehicle, rear=rear)
    factor = px_per_m / PX_PER_M
    size = (max(1, round(whole.width * factor)), max(1, round(whole.height * factor)))
    return whole.resize(size, Image.Resampling.LANCZOS, reducing_gap=2.0)


def foot_px(px_per_m: float) -> float:
    """How far above the lower edge of a scaled portrait the road is."""
    return _GROUND_M * px_per_m
