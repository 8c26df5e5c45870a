from __future__ import annotations

import struct
import tracemalloc
import zlib
from io import BytesIO
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from evidpack.errors import IntakeError
from evidpack.intake.folder_listing import disk_errors
from evidpack.intake.stills import StillError, read_header, still_values
from evidpack.model.fields import RecordKind
from tests.intake.untidy import CLOCKS, HEAD, STILLS, picture, taken, write

# Tag numbers as in Exif 2.32 (from memory; Pillow's ExifTags table has the same).
TIME, OFFSET, SUBSECONDS, SERIAL, UNIQUE = 0x9003, 0x9011, 0x9291, 0xA431, 0xA420


def _header(data: bytes) -> object:
    return read_header(BytesIO(data), size=len(data))


def test_tag_numbers_are_those_of_pillows_table() -> None:
    from PIL import ExifTags

    names = {tag: ExifTags.TAGS[tag] for tag in (TIME, OFFSET, SUBSECONDS, SERIAL, UNIQUE)}
    from evidpack.intake.stills import TAGS

    assert {**names, SUBSECONDS: "SubSecTimeOriginal"} == {
        tag: {"SubsecTimeOriginal": "SubSecTimeOriginal"}.get(name, name)
        for tag, name in TAGS.items()
    }


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_exif_and_size_are_read_from_the_header(form: str) -> None:
    data = picture(
        form=form,
        exif={TIME: "2026:05:14 09:12:33", OFFSET: "+01:00", SUBSECONDS: "25", SERIAL: "CB-7",
              UNIQUE: "ab12"},
    )  # fmt: skip
    header = read_header(BytesIO(data), size=len(data))
    assert (header.width_px, header.height_px, header.format) == (64, 48, form)
    assert header.tags == {
        "DateTimeOriginal": "2026:05:14 09:12:33",
        "OffsetTimeOriginal": "+01:00",
        "SubSecTimeOriginal": "25",
        "BodySerialNumber": "CB-7",
        "ImageUniqueID": "ab12",
    }


def test_the_offset_of_the_picture_wins_over_the_zone_of_the_clock() -> None:
    tags = {"DateTimeOriginal": "2026:05:14 09:12:33", "SubSecTimeOriginal": "25"}
    with_offset = still_values({**tags, "OffsetTimeOriginal": "+02:00"}, zone="Europe/London")
    assert with_offset["time"] == "2026-05-14T09:12:33.250000+02:00"
    by_clock = still_values(tags, zone="Europe/London")
    assert by_clock["time"] == "2026-05-14T09:12:33.250000+01:00"


def test_without_an_offset_or_a_zone_the_time_is_not_determined() -> None:
    values = still_values({"DateTimeOriginal": "2026:05:14 09:12:33"}, zone=None)
    assert values["time"] == {"local": "2026-05-14T09:12:33", "status": "no zone", "instants": []}


def test_a_picture_from_the_doubled_hour_is_ambiguous() -> None:
    values = still_values({"DateTimeOriginal": "2026:10:25 01:30:00"}, zone="Europe/London")
    assert isinstance(values["time"], dict)
    assert values["time"]["status"] == "ambiguous"


@pytest.mark.parametrize("text", ["", "    :  :     :  :  ", "0000:00:00 00:00:00", "   "])
def test_a_camera_that_did_not_know_the_time_gives_none(text: str) -> None:
    assert still_values({"DateTimeOriginal": text}, zone="UTC") == {}


@pytest.mark.parametrize(
    ("tags", "fault"),
    [
        ({"DateTimeOriginal": "2026-05-14 09:12:33"}, "not a time in the format"),
        ({"DateTimeOriginal": "2026:02:30 09:12:33"}, "no day or time that exists"),
        (
            {"DateTimeOriginal": "2026:05:14 09:12:33", "OffsetTimeOriginal": "BST"},
            "'BST' is not an offset",
        ),
    ],
)
def test_a_time_that_cannot_be_read_says_why(tags: dict[str, str], fault: str) -> None:
    values = still_values(tags, zone="UTC")
    assert "time" not in values
    assert fault in str(values["time_fault"])


def _png(width: int, height: int) -> bytes:
    """A PNG whose header promises a size and whose data is nothing (RFC 2083 section 4.1.1)."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        )

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")


def test_an_image_bomb_is_refused_in_little_memory() -> None:
    tracemalloc.start()
    try:
        with pytest.raises(StillError, match="pixels"):
            _header(_png(60_000, 60_000))
        assert tracemalloc.get_traced_memory()[1] < 8 * 1024 * 1024
    finally:
        tracemalloc.stop()


def test_a_large_picture_below_the_limit_raises_no_warning() -> None:
    header = read_header(BytesIO(_png(12_000, 9_000)), size=100)
    assert header.width_px * header.height_px == 108_000_000


@pytest.mark.parametrize(
    "data",
    [b"", b"no picture", b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", picture()[:20], b"GIF89a" + bytes(20),
     b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n"],
)  # fmt: skip
def test_what_is_no_picture_is_a_still_error_without_a_path(data: bytes) -> None:
    with pytest.raises(StillError) as caught:
        _header(data)
    assert "0x" not in str(caught.value)
    assert "<" not in str(caught.value)


def test_a_broken_exif_block_does_not_spoil_the_picture() -> None:
    data = picture(exif={TIME: "2026:05:14 09:12:33"})
    at = data.index(b"Exif\0\0") + 6
    broken = data[:at] + b"\xff" * 40 + data[at + 40 :]
    header = read_header(BytesIO(broken), size=len(broken))
    assert (header.width_px, dict(header.tags)) == (64, {})


def test_a_failing_disk_is_not_taken_for_a_broken_picture() -> None:
    class Failing(BytesIO):
        def read(self, *_: object) -> bytes:
            raise OSError(5, "Input/output error")

    with pytest.raises(IntakeError, match="Input/output error"), disk_errors("export/a.jpg"):
        read_header(Failing(b"x"), size=1)


_GOOD = picture(exif={TIME: "2026:05:14 09:12:33", SERIAL: "CB-7"})


@given(st.integers(0, len(_GOOD) - 1), st.binary(min_size=1, max_size=8), st.booleans())
def test_any_damage_gives_a_header_or_a_still_error(at: int, data: bytes, cut: bool) -> None:
    damaged = _GOOD[:at] + data + (b"" if cut else _GOOD[at + len(data) :])
    try:
        header = read_header(BytesIO(damaged), size=len(damaged))
    except StillError:
        return
    still_values(header.tags, zone="UTC")


def test_a_still_that_cannot_be_read_keeps_its_name_and_says_why(tmp_path: Path) -> None:
    write(tmp_path / "export/stills/C1_0007.jpg", b"broken")
    records = taken(tmp_path, HEAD + CLOCKS + STILLS).records
    still, fault = (one for one in records if one.source.path == "export/stills/C1_0007.jpg")
    assert still.kind is RecordKind.STILL
    assert still.values["readable"] is False
    assert (still.values["capture"], still.values["image_number"]) == ("C1", 7)
    assert fault.kind is RecordKind.UNREADABLE
    assert (fault.values["record"], fault.values["line"]) == ("still", None)


def test_the_raw_texts_are_kept_beside_the_values(tmp_path: Path) -> None:
    write(tmp_path / "export/stills/C1_0007.jpg", picture(exif={TIME: "2026:05:14 09:12:33"}))
    (still,) = (
        one for one in taken(tmp_path, HEAD + CLOCKS + STILLS).records
        if one.kind is RecordKind.STILL
    )  # fmt: skip
    assert still.raw == {"DateTimeOriginal": "2026:05:14 09:12:33"}
    assert still.values["joined"] == "not declared"
    assert Image.open(BytesIO(_GOOD)).size == (still.values["width_px"], still.values["height_px"])
