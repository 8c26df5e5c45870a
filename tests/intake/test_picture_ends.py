"""Whether a picture's file ends where the picture does, compared with what Pillow can decode."""

from __future__ import annotations

import io
import random
from pathlib import Path

import pytest
from PIL import Image

from evidpack.intake.picture_ends import ends_whole
from evidpack.model.fields import RecordKind
from tests.intake.test_clip_timing import ITEMS
from tests.intake.untidy import HEAD, taken, write

NOISE = Image.frombytes("RGB", (64, 48), random.Random(4).randbytes(64 * 48 * 3))


def saved(form: str, **options: object) -> bytes:
    target = io.BytesIO()
    NOISE.save(target, form, **options)
    return target.getvalue()


def thumbnailed() -> bytes:
    """A JPEG whose EXIF block holds a whole small JPEG, end marker and all."""
    small = saved("JPEG", quality=20)
    block = b"Exif\0\0" + small
    whole = saved("JPEG", quality=90)
    return whole[:2] + b"\xff\xe1" + (len(block) + 2).to_bytes(2) + block + whole[2:]


WHOLE = {
    "JPEG": saved("JPEG", quality=90),
    "progressive": saved("JPEG", quality=90, progressive=True),
    "thumbnail": thumbnailed(),
    "PNG": saved("PNG"),
    "WEBP": saved("WEBP", lossless=True),
}


def form(name: str) -> str:
    return name if name in {"PNG", "WEBP"} else "JPEG"


def decodes(data: bytes) -> bool:
    try:
        with Image.open(io.BytesIO(data)) as image:
            image.load()
    except OSError:
        return False
    return True


def whole(data: bytes, name: str) -> bool:
    return ends_whole(io.BytesIO(data), form(name), size=len(data))


@pytest.mark.parametrize("name", WHOLE)
def test_a_whole_picture_ends_whole_with_or_without_bytes_behind_it(name: str) -> None:
    data = WHOLE[name]
    for behind in (b"", b"\0", b"\0" * 5000, b"a note of the camera"):
        assert decodes(data + behind)
        assert whole(data + behind, name)


@pytest.mark.parametrize("name", WHOLE)
def test_a_picture_cut_anywhere_in_its_data_does_not(name: str) -> None:
    data = WHOLE[name]
    for length in range(len(data) * 2 // 3, len(data) - 1, 7):
        cut = data[:length]
        assert not whole(cut, name), length
        # A PNG without its last chunk still shows its pixels: the file is not whole all the same.
        assert not decodes(cut) or (name == "PNG" and len(data) - length <= 20)


def test_fill_bytes_before_a_marker_are_passed_over() -> None:
    data = WHOLE["JPEG"]
    assert whole(data[:2] + b"\xff\xff" + data[2:] + b"trailer", "JPEG")


def test_formats_without_an_end_of_their_own_are_let_through() -> None:
    assert ends_whole(io.BytesIO(b"II*\0"), "TIFF", size=4)


def test_a_still_that_is_cut_off_is_an_unreadable_file(tmp_path: Path) -> None:
    write(tmp_path / "export/stills/1.jpg", WHOLE["JPEG"][:-200])
    write(tmp_path / "export/stills/2.jpg", WHOLE["JPEG"])
    records = taken(tmp_path, HEAD + ITEMS).records
    stills = [one for one in records if one.kind is RecordKind.STILL]
    assert [one.flag("readable") for one in stills] == [False, True]
    (fault,) = (one for one in records if one.kind is RecordKind.UNREADABLE)
    assert fault.text("reason") == "the picture is broken or ends too early"
    assert fault.source.path == "export/stills/1.jpg"
