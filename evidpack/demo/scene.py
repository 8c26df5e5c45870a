"""The two places as a long lens sees them, painted once and cropped for each still.

A point X metres to the right, Y metres above the road and Z metres away comes to lie at
u + f·X/Z, v + f·(h − Y)/Z, with f the focal length in pixels, h the height of the lens and (u, v)
the vanishing point of the road.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from PIL import Image, ImageDraw

from evidpack.demo import canvas, places
from evidpack.demo.canvas import Colour, Point

NEAR_M: Final = 28.0
FAR_M: Final = 2_500.0


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """A camera's place and lens. Pixels, but `height_m` and the lateral metres of the lanes."""

    size: tuple[int, int]
    focal_px: float
    vanishing: Point
    height_m: float
    lane_m: float  # lateral middle of the lane that is measured
    other_lane_m: float

    def point(self, x_m: float, y_m: float, z_m: float) -> Point:
        """Where a point lies in the whole picture."""
        u, v = self.vanishing
        return u + self.focal_px * x_m / z_m, v + self.focal_px * (self.height_m - y_m) / z_m

    def strip(self, left_m: float, right_m: float, y_m: float = 0.0) -> list[Point]:
        """A band along the road from the foreground to far away."""
        return [
            self.point(left_m, y_m, NEAR_M), self.point(left_m, y_m, FAR_M),
            self.point(right_m, y_m, FAR_M), self.point(right_m, y_m, NEAR_M),
        ]  # fmt: skip

    def patch(self, left_m: float, right_m: float, near_m: float, far_m: float) -> list[Point]:
        """A piece of the road's surface."""
        return [
            self.point(left_m, 0, near_m), self.point(left_m, 0, far_m),
            self.point(right_m, 0, far_m), self.point(right_m, 0, near_m),
        ]  # fmt: skip


ROADSIDE: Final = View(
    size=(2100, 1000), focal_px=15_000, vanishing=(1640, 330), height_m=1.6, lane_m=-4.4,
    other_lane_m=-8.0,
)  # fmt: skip
BRIDGE: Final = View(
    size=(2200, 1260), focal_px=11_500, vanishing=(1200, 260), height_m=5.6, lane_m=-2.2,
    other_lane_m=1.5,
)  # fmt: skip


def view_of(site: places.Site) -> View:
    """The view at a site."""
    return BRIDGE if site.receding else ROADSIDE


def paint_scene(site: places.Site, rng: random.Random) -> Image.Image:
    """The empty road of a site, RGB."""
    view = view_of(site)
    picture = _sky_and_hills(view, rng)
    return _bypass(picture, view, rng) if site.receding else _lane(picture, view, site, rng)


def _sky_and_hills(view: View, rng: random.Random) -> Image.Image:
    size = view.size
    horizon = view.vanishing[1]
    picture = canvas.gradient(size, (132, 168, 208), (212, 222, 226))
    sky = canvas.gradient((size[0], int(horizon) + 8), (128, 166, 208), (222, 230, 232))
    picture.paste(sky, (0, 0))
    clouds = canvas.grain((size[0], int(horizon) + 8), (260, 60), rng)
    cover = clouds.point(lambda level: max(0, min(200, (level - 128) * 3)))
    picture.paste(Image.new("RGB", sky.size, (240, 242, 243)), (0, 0), cover)
    for rise, colour in ((70, (146, 166, 176)), (40, (118, 144, 134)), (18, (96, 124, 92))):
        dark = canvas.shade(colour, 0.86)
        paint = canvas.texture(size, dark, colour, ((90, 26), (14, 8)), rng)
        ridge: list[Point] = [(0.0, size[1])]
        left = 0.0
        while left < size[0] + 200:
            ridge.append((left, horizon - rise * view.focal_px / 15_000 * rng.uniform(0.45, 1.0)))
            left += rng.uniform(60, 240)
        canvas.fill(picture, paint, [*ridge, (size[0], size[1])], soften_px=1.6)
    return picture


def _grass(view: View, rng: random.Random) -> Image.Image:
    return canvas.texture(
        view.size, (70, 92, 42), (142, 158, 84), ((160, 22), (24, 7), (5, 3)), rng
    )


def _asphalt(view: View, rng: random.Random) -> Image.Image:
    return canvas.texture(
        view.size, (88, 90, 94), (122, 123, 126), ((500, 26), (60, 5), (4, 2)), rng
    )


def _lane(picture: Image.Image, view: View, site: places.Site, rng: random.Random) -> Image.Image:
    grass = _grass(view, rng)
    canvas.fill(picture, grass, view.strip(-60, 60))
    _hedge(picture, view, rng, -12.4, 2.3)
    canvas.fill(picture, grass, view.strip(-12.0, 1.6), soften_px=1.5)
    canvas.fill(picture, _asphalt(view, rng), view.strip(-9.8, -2.6), soften_px=0.8)
    white = (226, 226, 220)
    for left, right in ((-9.6, -9.48), (-2.92, -2.8)):
        canvas.fill(picture, white, view.strip(left, right), soften_px=0.6)
    for near in range(40, 400, 9):
        canvas.fill(picture, white, view.patch(-6.27, -6.13, near, near + 4), soften_px=0.6)
    _hedge(picture, view, rng, 1.5, 2.0)
    _posts(picture, view, (-10.4,), range(50, 320, 25))
    _posts(picture, view, (-2.0,), range(195, 320, 25))  # behind the vehicles
    _limit_sign(picture, view, site.limit_mph, (-10.9, 205.0))
    return picture


def _bypass(picture: Image.Image, view: View, rng: random.Random) -> Image.Image:
    canvas.fill(picture, _grass(view, rng), view.strip(-80, 80))
    _hedge(picture, view, rng, -13.5, 3.4)
    _hedge(picture, view, rng, 21.5, 3.0)
    asphalt = _asphalt(view, rng)
    for left, right in ((-7.6, 3.6), (6.4, 17.0)):
        canvas.fill(picture, asphalt, view.strip(left, right), soften_px=0.8)
    white = (230, 230, 224)
    for left, right in ((-4.25, -4.05), (3.2, 3.4), (6.6, 6.8), (13.9, 14.1)):
        canvas.fill(picture, white, view.strip(left, right), soften_px=0.6)
    for near in range(36, 500, 9):
        for middle in (-0.35, 10.3):
            canvas.fill(
                picture, white, view.patch(middle - 0.08, middle + 0.08, near, near + 3),
                soften_px=0.6,
            )  # fmt: skip
    for near in range(60, 260, 10):  # painted marks, 10 m apart, at the edge of the hard shoulder
        canvas.fill(picture, white, view.patch(-5.6, -4.7, near, near + 0.6), soften_px=0.5)
    _barrier(picture, view, 5.0)
    _posts(picture, view, (-8.2,), range(45, 320, 25))
    return picture


def _hedge(
    picture: Image.Image, view: View, rng: random.Random, x_m: float, height_m: float
) -> None:
    """A hedge along the road: uneven top, darker foot, lit from above."""
    steps = 60
    depths = [NEAR_M * (FAR_M / NEAR_M) ** (step / steps) for step in range(steps + 1)]
    top = [view.point(x_m, height_m * rng.uniform(0.82, 1.1), depth) for depth in depths]
    foot = [view.point(x_m, 0.0, depth) for depth in reversed(depths)]
    cells = ((60, 40), (16, 12), (6, 5))
    dark = canvas.texture(view.size, (24, 40, 20), (72, 96, 46), cells, rng)
    light = canvas.texture(view.size, (44, 66, 30), (110, 136, 66), cells, rng)
    canvas.fill(picture, dark, [*top, *foot], soften_px=2.4)
    middle = [view.point(x_m, height_m * rng.uniform(0.4, 0.6), depth) for depth in depths]
    canvas.fill(picture, light, [*top, *reversed(middle)], soften_px=6)


def _posts(
    picture: Image.Image, view: View, lateral_m: Sequence[float], depths_m: Sequence[float]
) -> None:
    """White marker posts with a dark band."""
    draw = ImageDraw.Draw(picture)
    for depth in sorted(depths_m, reverse=True):
        for x in lateral_m:
            left, top = view.point(x - 0.05, 1.0, depth)
            right, foot = view.point(x + 0.05, 0.0, depth)
            draw.rectangle((left, top, right, foot), fill=(214, 214, 208))
            band = top + (foot - top) * 0.22
            draw.rectangle((left, band, right, band + (foot - top) * 0.16), fill=(52, 46, 44))


def _limit_sign(
    picture: Image.Image, view: View, limit_mph: int, place_m: tuple[float, float]
) -> None:
    x, depth = place_m
    scale = view.focal_px / depth
    big = 4
    side = int(0.75 * scale * big)
    disc = Image.new("RGBA", (side, side), (0, 0, 0, 0))
    draw = ImageDraw.Draw(disc)
    draw.ellipse((0, 0, side - 1, side - 1), fill=(196, 28, 34, 255))
    rim = side * 0.13
    draw.ellipse((rim, rim, side - rim, side - rim), fill=(244, 244, 240, 255))
    text = str(limit_mph)
    draw.text((side / 2, side / 2), text, (18, 18, 18, 255), canvas.font(side * 0.5), anchor="mm")
    disc = disc.resize((side // big, side // big), Image.Resampling.LANCZOS)
    u, v = view.point(x, 2.6, depth)
    _, foot = view.point(x, 0.0, depth)
    ImageDraw.Draw(picture).rectangle((u - 4, v, u + 4, foot), fill=(120, 122, 122))
    picture.paste(disc, (round(u - disc.width / 2), round(v - disc.height / 2)), disc)


def _barrier(picture: Image.Image, view: View, x_m: float) -> None:
    """The safety barrier between the carriageways."""
    canvas.fill(picture, (84, 92, 66), view.strip(x_m - 0.5, x_m + 0.7), soften_px=1.5)
    draw = ImageDraw.Draw(picture)
    for depth in range(400, 30, -4):
        left, top = view.point(x_m - 0.06, 0.62, depth)
        right, foot = view.point(x_m + 0.06, 0.0, depth)
        draw.rectangle((left, top, right, foot), fill=(118, 120, 118))
    for low, high, colour in _RAILS:
        near_low, near_high = view.point(x_m, low, NEAR_M), view.point(x_m, high, NEAR_M)
        far_low, far_high = view.point(x_m, low, FAR_M), view.point(x_m, high, FAR_M)
        rail = [near_low, far_low, far_high, near_high]
        canvas.fill(picture, colour, rail, soften_px=0.7)


_RAILS: Final[tuple[tuple[float, float, Colour], ...]] = (
    (0.42, 0.56, (140, 144, 144)),
    (0.56, 0.74, (184, 188, 186)),
)
