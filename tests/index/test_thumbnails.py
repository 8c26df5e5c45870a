"""Small pictures from original bytes, read back with Pillow."""

from __future__ import annotations

from io import BytesIO

import pytest
from PIL import Image

from evidpack.errors import EvidpackError
from evidpack.index import thumbnails
from evidpack.index.thumbnails import ThumbnailError, jpeg_size, make_thumbnail
from tests.index.invented import still


def encoded(mode: str, form: str, size: tuple[int, int] = (640, 480), **options: object) -> bytes:
    target = BytesIO()
    Image.new(mode, size, 128 if mode in {"L", "I;16"} else None).save(target, form, **options)
    return target.getvalue()


def test_a_still_is_reduced_in_proportion() -> None:
    small = Image.open(BytesIO(make_thumbnail(BytesIO(still(size=(1920, 1080))))))
    assert (small.format, small.mode) == ("JPEG", "RGB")
    assert small.width == 360
    assert small.height == pytest.approx(360 * 1080 / 1920, abs=1)


@pytest.mark.parametrize(
    ("mode", "form"), [("L", "JPEG"), ("CMYK", "JPEG"), ("RGBA", "PNG"), ("P", "PNG"), ("1", "BMP")]
)
def test_any_colour_mode_becomes_one_that_a_pdf_can_hold(mode: str, form: str) -> None:
    assert jpeg_size(make_thumbnail(BytesIO(encoded(mode, form)))) == (320, 240)


def test_metadata_is_left_behind() -> None:
    exif = Image.Exif()
    exif[0x010E] = "a secret description"
    small = make_thumbnail(BytesIO(encoded("RGB", "JPEG", exif=exif, comment=b"a secret comment")))
    assert b"secret" not in small
    assert dict(Image.open(BytesIO(small)).getexif()) == {}


@pytest.mark.parametrize("data", [b"", b"no picture", still()[:400], encoded("RGB", "PNG")[:60]])
def test_damaged_bytes_are_refused_by_an_error_of_our_own(data: bytes) -> None:
    with pytest.raises(ThumbnailError, match="the still can't be shown"):
        make_thumbnail(BytesIO(data))


def test_too_many_pixels_are_refused_before_decoding(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(thumbnails, "MAX_STILL_PIXELS", 640 * 480 - 1)
    with pytest.raises(EvidpackError, match="too many pixels") as caught:
        make_thumbnail(BytesIO(encoded("RGB", "JPEG")))
    assert caught.value.observed == str(640 * 480)


@pytest.mark.parametrize("data", [b"", b"\xff\xd8", b"text", encoded("RGB", "PNG")])
def test_what_is_no_jpeg_has_no_size(data: bytes) -> None:
    assert jpeg_size(data) is None


@pytest.mark.parametrize("form", ["EPS", "GIF", "PPM", "ICO"])
def test_a_format_outside_the_list_is_never_decoded(
    form: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pillow hands EPS to another program, which runs what is in it."""
    monkeypatch.setattr("subprocess.Popen", _no_program)
    mode = "RGB" if form != "GIF" else "P"
    with pytest.raises(ThumbnailError, match="the still can't be shown"):
        make_thumbnail(BytesIO(encoded(mode, form, size=(64, 64))))


def _no_program(*args: object, **_more: object) -> None:
    raise AssertionError(f"a program was started: {args}")
