from __future__ import annotations

import io
from datetime import datetime, timedelta, timezone

import pytest
from PIL import ExifTags, Image

from evidpack.demo.exif import Exif, exif_block

_TAKEN = datetime(2026, 5, 14, 9, 8, 7, 650_000, tzinfo=timezone(timedelta(hours=1)))


def _jpeg(size: tuple[int, int]) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, (200, 30, 40)).save(out, "JPEG")
    return out.getvalue()


def _read_back(*, serial: str = "SER-1", thumbnail: bytes | None = None) -> Image.Exif:
    block = exif_block(
        Exif(
            make="Make",
            model="Model 1",
            serial=serial,
            taken=_TAKEN,
            unique_id="0123456789abcdef" * 2,
            size=(64, 48),
            thumbnail=_jpeg((16, 12)) if thumbnail is None else thumbnail,
        )
    )
    out = io.BytesIO()
    Image.new("RGB", (64, 48)).save(out, "JPEG", exif=block)
    return Image.open(out).getexif()


def test_pillow_reads_every_tag() -> None:
    exif = _read_back()
    assert (exif[0x010F], exif[0x0110], exif[0x0112]) == ("Make", "Model 1", 1)
    inner = exif.get_ifd(0x8769)
    assert inner[0x9003] == "2026:05:14 09:08:07"
    assert inner[0x9011] == "+01:00"
    assert inner[0x9291] == "65"
    assert inner[0xA420] == "0123456789abcdef" * 2
    assert inner[0xA431] == "SER-1"
    assert (inner[0xA002], inner[0xA003]) == (64, 48)


@pytest.mark.parametrize("serial", ["A", "ABC", "ABCD", "ABCDE"])
def test_values_of_any_length_are_read_back(serial: str) -> None:
    assert _read_back(serial=serial).get_ifd(0x8769)[0xA431] == serial


def test_the_thumbnail_lies_where_the_directory_says() -> None:
    thumbnail = _jpeg((16, 12))
    exif = _read_back(thumbnail=thumbnail)
    small = exif.get_ifd(ExifTags.IFD.IFD1)
    assert small[0x0202] == len(thumbnail)
    block = exif_block(
        Exif(make="Make", model="Model 1", serial="SER-1", taken=_TAKEN,
             unique_id="0123456789abcdef" * 2, size=(64, 48), thumbnail=thumbnail)
    )  # fmt: skip
    tiff = block[6:]
    assert tiff[small[0x0201] : small[0x0201] + small[0x0202]] == thumbnail


def test_text_that_is_not_ascii_is_refused() -> None:
    with pytest.raises(UnicodeEncodeError, match="ascii"):
        _read_back(serial="Ø-1")
