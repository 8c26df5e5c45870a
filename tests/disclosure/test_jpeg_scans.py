"""Stills whose decoder smooths over blocks are refused; the leak that they have is shown."""

from __future__ import annotations

import io

import pytest
from PIL import Image

from evidpack.disclosure.jpeg_scans import require_redactable
from evidpack.disclosure.regions import Shape, redacted_tiles
from evidpack.errors import UsageError
from tests.disclosure.pictures import decoded, open_pixels, street

EDGE_PX = 128


def encoded(text: str, *, form: str = "JPEG", **options: object) -> bytes:
    image = street(EDGE_PX, EDGE_PX, plate=text, at=(4, 34))
    target = io.BytesIO()
    image.save(target, form, **options)
    return target.getvalue()


def with_scans(jpeg: bytes, kept: int) -> bytes:
    """Only the first scans of a progressive JPEG, cut out by the lengths of its segments."""
    out, at, scans = bytearray(jpeg[:2]), 2, 0
    while jpeg[at + 1] != 0xD9:
        end = at + 2 + int.from_bytes(jpeg[at + 2 : at + 4])
        if jpeg[at + 1] == 0xDA:
            scans += 1
            while jpeg[end] != 0xFF or jpeg[end + 1] == 0 or 0xD0 <= jpeg[end + 1] <= 0xD7:
                end += 1
            if scans > kept:
                at = end
                continue
        out += jpeg[at:end]
        at = end
    return bytes(out) + b"\xff\xd9"


@pytest.mark.parametrize("subsampling", [0, 1, 2])
@pytest.mark.parametrize("progressive", [False, True])
def test_whole_jpegs_pass(subsampling: int, progressive: bool) -> None:
    data = encoded("QX01", quality=90, subsampling=subsampling, progressive=progressive)
    require_redactable(data, path="a.jpg")
    assert Image.open(io.BytesIO(data)).info.get("progressive", 0) == int(progressive)


def test_a_jpeg_with_restart_markers_and_metadata_passes() -> None:
    data = encoded(
        "QX01",
        quality=90,
        restart_marker_rows=1,
        exif=b"Exif\x00\x00\xff\xc2\xff\xda",
        comment=b"\xff\xc3",
    )
    assert b"\xff\xd0" in data
    require_redactable(data, path="a.jpg")


def test_grey_jpegs_and_pngs_pass() -> None:
    grey = io.BytesIO()
    street(64, 64).convert("L").save(grey, "JPEG", progressive=True)
    require_redactable(grey.getvalue(), path="a.jpg")
    require_redactable(encoded("QX01", form="PNG"), path="a.png")


@pytest.mark.parametrize("kept", [1, 2, 3, 5, 9])
def test_a_progressive_jpeg_with_missing_scans_is_refused(kept: int) -> None:
    cut = with_scans(encoded("QX01", quality=90, progressive=True), kept)
    assert decoded(cut)[1:] == (EDGE_PX, EDGE_PX)  # decoders accept it without a word
    with pytest.raises(UsageError, match="no safe redacted copy") as caught:
        require_redactable(cut, path="a.jpg")
    assert caught.value.path == "a.jpg"
    assert caught.value.observed == "scans are missing"
    assert "appointment" in (caught.value.hint or "")


def test_the_whole_of_a_progressive_jpeg_has_ten_scans() -> None:
    whole = encoded("QX01", quality=90, progressive=True)
    assert with_scans(whole, 10) == whole
    require_redactable(with_scans(whole, 10), path="a.jpg")


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (lambda data: data.replace(b"\xff\xc0\x00\x11", b"\xff\xc3\x00\x11"), "a frame of a kind"),
        (lambda data: data.replace(b"\xff\xc0\x00\x11", b"\xff\xfe\x00\x11"), "no frame"),
        (lambda data: data[:2] + b"\xff\xc0\x00\x02" + data[2:], "a frame of a kind"),
    ],
)
def test_frames_that_are_not_known_are_refused(change: object, why: str) -> None:
    data = change(encoded("QX01", quality=90))  # type: ignore[operator]
    with pytest.raises(UsageError, match="no safe redacted copy") as caught:
        require_redactable(data, path="a.jpg")
    assert why in str(caught.value.observed)


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (lambda data: data.replace(b"\xff\xc2\x00\x11", b"\xff\xc2\x00\x10"), "a frame header"),
        (lambda data: data.replace(b"\xff\xda\x00\x08", b"\xff\xda\x00\x07"), "a scan header"),
        (
            lambda data: data.replace(b"\xff\xda\x00\x08\x01\x02", b"\xff\xda\x00\x08\x01\x09"),
            "a scan of",
        ),
    ],
)
def test_damaged_progressive_headers_are_refused(change: object, why: str) -> None:
    whole = encoded("QX01", quality=90, progressive=True)
    damaged = change(whole)  # type: ignore[operator]
    assert damaged != whole
    with pytest.raises(UsageError) as caught:
        require_redactable(damaged, path="a.jpg")
    assert why in str(caught.value.observed)


def test_with_missing_scans_pixels_beyond_the_growth_tell_candidates_apart() -> None:
    """Why they are refused: measured with Pillow's own decoder, not argued."""
    tiles = redacted_tiles([Shape.rectangle(4, 34, 44, 14)], EDGE_PX, EDGE_PX)
    cut, whole = set(), set()
    for number in range(40):
        data = encoded(f"Q{number:03d}", quality=90, subsampling=2, progressive=True)
        whole.add(open_pixels(*decoded(data), tiles))
        cut.add(open_pixels(*decoded(with_scans(data, 2)), tiles))
    assert len(whole) == 1
    assert len(cut) > 10
