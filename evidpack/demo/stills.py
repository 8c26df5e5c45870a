"""The stills: scene, vehicle, cross-hair and data strip, written as JPEG with EXIF."""

from __future__ import annotations

import io
import random
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

from PIL import Image, ImageChops, ImageDraw

from evidpack.demo import canvas, places, scene
from evidpack.demo.clocks import CAMERA, LOCAL, METER
from evidpack.demo.exif import Exif, exif_block
from evidpack.demo.plan import SECOND_STILL_AFTER_S, STILL_AFTER_S, Capture, Vehicle
from evidpack.demo.pulses import along_road_m, position_m
from evidpack.demo.scene import View
from evidpack.demo.vehicles import foot_px, scaled

SIZE: Final = (1280, 720)
STRIP_PX: Final = 58
THUMBNAIL: Final = (160, 90)
_AIM_M: Final = 1.0  # height of the cross-hair over the road
_GREEN: Final = (112, 240, 128)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Target:
    """Where the meter aims, pixels, and the scale there."""

    x: float
    y: float
    px_per_m: float


class StillPainter:
    """Paints the stills of one site. `rng` decides grain and framing."""

    def __init__(self, site: places.Site, rng: random.Random) -> None:
        self.site = site
        self.view: View = scene.view_of(site)
        self._rng = rng
        self._empty = scene.paint_scene(site, rng)
        self._grain = canvas.grain(SIZE, (1.4, 1.4), rng).point(lambda level: 123 + level // 26)

    def still(self, capture: Capture, place: int, seed: str) -> bytes:
        """The JPEG of a capture's first (0) or second (1) still."""
        rng = random.Random(seed)  # noqa: S311 - an invented day, not a secret
        picture, target = self._road(capture, place, rng)
        picture = self._weather(picture, rng)
        _cross_hair(picture, target)
        _data_strip(picture, capture, place, self.site)
        return _jpeg(picture, capture, place, rng)

    def empty_road(self) -> Image.Image:
        """The whole scene without vehicles."""
        return self._empty.copy()

    def place_vehicle(
        self,
        picture: Image.Image,
        vehicle: Vehicle,
        x_m: float,
        z_m: float,
        *,
        corner: tuple[int, int] = (0, 0),
        zoom: float = 1.0,
    ) -> _Target:
        """Draws a vehicle on the scene, or on a part of it whose upper left corner is `corner`
        and which is shown at `zoom`; returns where the cross-hair belongs on it.
        """
        scale = self.view.focal_px / z_m * zoom
        sprite = scaled(vehicle, rear=self._sees_back(x_m), px_per_m=scale)
        u, v = self.view.point(x_m, 0.0, z_m)
        u, v = (u - corner[0]) * zoom, (v - corner[1]) * zoom
        left = round(u - sprite.width / 2)
        top = round(v - sprite.height + foot_px(scale))
        picture.paste(sprite, (left, top), sprite)
        return _Target(x=u, y=v - _AIM_M * scale, px_per_m=scale)

    def _sees_back(self, x_m: float) -> bool:
        return self.site.receding or x_m == self.view.other_lane_m

    def _road(
        self, capture: Capture, place: int, rng: random.Random
    ) -> tuple[Image.Image, _Target]:
        after_s = STILL_AFTER_S + SECOND_STILL_AFTER_S * place
        range_m = position_m(capture.range_m, capture.true_mps, after_s, self.site)
        z_m = along_road_m(range_m, self.site)
        whole = self._empty.copy()
        if capture.companion is not None:
            away = z_m + (24.0 if self.site.receding else 17.0)
            self.place_vehicle(whole, capture.companion, self.view.other_lane_m, away)
        x_m = self.view.lane_m + rng.uniform(-0.25, 0.25)
        target = self.place_vehicle(whole, capture.vehicle, x_m, z_m)
        left, top = self._frame(target, rng, with_other=capture.companion is not None)
        framed = whole.crop((left, top, left + SIZE[0], top + SIZE[1]))
        return framed, replace(target, x=target.x - left, y=target.y - top)

    def _frame(self, target: _Target, rng: random.Random, *, with_other: bool) -> tuple[int, int]:
        """The corner of the picture that the operator framed: the target near its middle."""
        aside = (70 if self.site.receding else -70) if with_other else 0
        left = round(target.x - SIZE[0] / 2) + aside + rng.randrange(-28, 29)
        share = 0.6 if self.site.receding else 0.5
        top = round(target.y - SIZE[1] * share) + rng.randrange(-18, 19)
        width, height = self.view.size
        return max(0, min(left, width - SIZE[0])), max(0, min(top, height - SIZE[1]))

    def _weather(self, picture: Image.Image, rng: random.Random) -> Image.Image:
        light = rng.uniform(0.9, 1.06)
        picture = picture.point(lambda level: min(255, round(level * light)))
        shifted = ImageChops.offset(self._grain, rng.randrange(SIZE[0]), rng.randrange(SIZE[1]))
        return ImageChops.add(picture, Image.merge("RGB", (shifted,) * 3), 1, -128)


def _cross_hair(picture: Image.Image, target: _Target) -> None:
    draw = ImageDraw.Draw(picture)
    x, y = round(target.x), round(target.y)
    ring = max(14, min(26, round(0.22 * target.px_per_m)))
    inner, outer = ring // 2, ring + ring // 2
    for way in (-1, 1):
        draw.line((x + way * inner, y, x + way * 2 * ring, y), fill=_GREEN, width=2)
        draw.line((x, y + way * inner, x, y + way * outer), fill=_GREEN, width=2)
    draw.ellipse((x - ring, y - ring, x + ring, y + ring), outline=_GREEN, width=2)
    draw.rectangle((x - 1, y - 1, x + 1, y + 1), fill=_GREEN)


def strip_time(capture: Capture) -> datetime:
    """The time in the strip: the reading's, as the meter's clock showed it, local."""
    return METER.shows(capture.at).astimezone(LOCAL)


def _data_strip(picture: Image.Image, capture: Capture, place: int, site: places.Site) -> None:
    width, height = picture.size
    draw = ImageDraw.Draw(picture)
    top = height - STRIP_PX
    draw.rectangle((0, top, width, height), fill=(14, 16, 20))
    draw.line((0, top, width, top), fill=(206, 208, 206), width=2)
    stamp = strip_time(capture)
    arrow = "receding" if site.receding else "approaching"
    cells = (
        ("SPEED", f"{capture.shown_mph} mph", 24),
        ("RANGE", f"{capture.range_m:.1f} m", 186),
        ("DIRECTION", arrow, 344),
        ("DATE AND TIME", f"{stamp:%d/%m/%Y  %H:%M:%S}.{stamp.microsecond // 10_000:02d}", 520),
        ("LIMIT", f"{site.limit_mph} mph", 800),
        ("SITE", site.id, 912),
        ("METER", places.METER_SERIAL, 1010),
        ("IMAGE", f"{capture.images[place]:04d}", 1186),
    )
    for label, text, left in cells:
        draw.text((left, top + 8), label, (150, 156, 160), canvas.font(12))
        draw.text((left, top + 24), text, (240, 242, 238), canvas.font(23))


def _jpeg(picture: Image.Image, capture: Capture, place: int, rng: random.Random) -> bytes:
    small = io.BytesIO()
    picture.resize(THUMBNAIL, Image.Resampling.LANCZOS).save(small, "JPEG", quality=72)
    stamp = CAMERA.shows(capture.still_at(place)).astimezone(LOCAL)
    block = exif_block(
        Exif(
            make="Lumarrow",
            model=places.METER_TYPE,
            serial=places.METER_SERIAL,
            taken=stamp,
            unique_id=rng.randbytes(16).hex(),
            size=SIZE,
            thumbnail=small.getvalue(),
        )
    )
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=84, subsampling=2, optimize=False, exif=block)
    return out.getvalue()
