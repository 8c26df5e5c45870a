"""The one clip of the day: a vehicle driving away from the bridge, and the times of its frames."""

from __future__ import annotations

import io
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Final

from PIL import Image, ImageDraw

from evidpack.demo import canvas
from evidpack.demo.boxes import Film, film_file
from evidpack.demo.clocks import LOCAL, VIDEO
from evidpack.demo.plan import Capture
from evidpack.demo.pulses import along_road_m, position_m
from evidpack.demo.stills import StillPainter

SIZE: Final = (400, 224)
FRAMES: Final = 125
RATE: Final = 25  # frames a second
SCALE: Final = 600  # ticks a second
BEFORE_S: Final = 1.0  # the clip begins so long before the reading
_CORNER: Final = (220, 170)
_WINDOW: Final = (1600, 896)


def frame_times(capture: Capture) -> tuple[datetime, ...]:
    """When each frame was taken, as the video clock showed it; aware, local."""
    first = VIDEO.shows(capture.at - timedelta(seconds=BEFORE_S)).astimezone(LOCAL)
    return tuple(first + timedelta(seconds=number / RATE) for number in range(FRAMES))


def clip_file(capture: Capture, painter: StillPainter) -> bytes:
    """The clip of a capture."""
    times = frame_times(capture)
    film = Film(
        frames=tuple(_frames(capture, painter, times)),
        size=SIZE,
        scale=SCALE,
        ticks=SCALE // RATE,
        created=times[0],
    )
    return film_file(film)


def _frames(
    capture: Capture, painter: StillPainter, times: tuple[datetime, ...]
) -> Iterator[bytes]:
    left, top = _CORNER
    twice = (2 * SIZE[0], 2 * SIZE[1])
    box = (left, top, left + _WINDOW[0], top + _WINDOW[1])
    empty = painter.empty_road().crop(box).resize(twice, Image.Resampling.BOX)
    for number, shown in enumerate(times):
        after_s = number / RATE - BEFORE_S
        range_m = position_m(capture.range_m, capture.true_mps, after_s, painter.site)
        picture = empty.copy()
        painter.place_vehicle(
            picture,
            capture.vehicle,
            painter.view.lane_m,
            along_road_m(range_m, painter.site),
            corner=_CORNER,
            zoom=twice[0] / _WINDOW[0],
        )
        small = picture.reduce(2)
        draw = ImageDraw.Draw(small)
        text = f"{shown:%d/%m/%Y %H:%M:%S}.{shown.microsecond // 1000:03d}  frame {number:03d}"
        draw.rectangle((0, SIZE[1] - 20, SIZE[0], SIZE[1]), fill=(14, 16, 20))
        draw.text((8, SIZE[1] - 17), text, (238, 240, 236), canvas.font(12))
        out = io.BytesIO()
        small.save(out, "JPEG", quality=50)
        yield out.getvalue()
