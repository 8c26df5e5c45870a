"""The clip, read by a reader of its own (ISO/IEC 14496-12 §8, field layouts from memory)."""

from __future__ import annotations

import io
import itertools
import struct
from datetime import UTC, datetime
from pathlib import Path

import pytest
from PIL import Image

from evidpack.demo.boxes import Film, film_file
from tests.demo.reading_back import box, boxes, rows


@pytest.fixture(scope="module")
def clip(export: Path) -> bytes:
    (path,) = (export / "clips").iterdir()
    return path.read_bytes()


def _table(clip: bytes, name: str) -> bytes:
    return box(clip, "moov", "trak", "mdia", "minf", "stbl", name)


def test_boxes_tile_the_file(clip: bytes) -> None:
    assert [kind for kind, _, _ in boxes(clip)] == ["ftyp", "mdat", "moov"]
    for path in (("moov",), ("moov", "trak"), ("moov", "trak", "mdia", "minf", "stbl")):
        assert list(boxes(box(clip, *path)))
    assert box(clip, "ftyp")[:4] == b"isom"


def test_frames_are_twenty_five_a_second(clip: bytes) -> None:
    scale, duration = struct.unpack_from(">LL", box(clip, "moov", "trak", "mdia", "mdhd"), 12)
    runs, count, ticks = struct.unpack_from(">LLL", _table(clip, "stts"), 4)
    assert (runs, count) == (1, 125)
    assert scale / ticks == 25
    assert duration == count * ticks


def test_each_sample_is_a_picture_of_the_stated_size(clip: bytes) -> None:
    fixed, count = struct.unpack_from(">LL", _table(clip, "stsz"), 4)
    sizes = struct.unpack_from(f">{count}L", _table(clip, "stsz"), 12)
    chunks, at = struct.unpack_from(">LL", _table(clip, "stco"), 4)
    assert (fixed, chunks) == (0, 1)
    assert sum(sizes) == len(box(clip, "mdat"))
    assert struct.unpack_from(">LLLL", _table(clip, "stsc"), 4) == (1, 1, count, 1)
    width, height = struct.unpack_from(">HH", _table(clip, "stsd"), 8 + 8 + 24)
    for size in sizes:
        picture = Image.open(io.BytesIO(clip[at : at + size]))
        picture.load()
        assert (picture.format, picture.size) == ("JPEG", (width, height))
        at += size


def test_frame_log_and_clip_have_the_same_frames(export: Path, clip: bytes) -> None:
    log = rows(export / "logs" / "frame_times.csv")
    assert len(log) == struct.unpack_from(">L", _table(clip, "stsz"), 8)[0]
    times = [datetime.fromisoformat(row["Time"]) for row in log]
    steps = {(after - before).total_seconds() for before, after in itertools.pairwise(times)}
    assert steps == {0.04}
    created = struct.unpack_from(">L", box(clip, "moov", "mvhd"), 4)[0]
    since_1904 = (times[0] - datetime(1904, 1, 1, tzinfo=UTC)).total_seconds()
    assert created == int(since_1904)


def test_the_vehicle_moves(clip: bytes) -> None:
    at = struct.unpack_from(">LL", _table(clip, "stco"), 4)[1]
    count = struct.unpack_from(">L", _table(clip, "stsz"), 8)[0]
    sizes = struct.unpack_from(f">{count}L", _table(clip, "stsz"), 12)
    frames = {clip[at + sum(sizes[:n]) : at + sum(sizes[: n + 1])] for n in range(count)}
    assert len(frames) == count


def test_a_film_without_frames_is_refused() -> None:
    empty = Film(
        frames=(), size=(8, 8), scale=600, ticks=24, created=datetime(2026, 5, 14, tzinfo=UTC)
    )
    with pytest.raises(ValueError, match="needs a frame"):
        film_file(empty)
