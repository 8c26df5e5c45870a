"""Redacted copies: pixels and nothing else, flat where closed, and openings that fit."""

from __future__ import annotations

import io
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, PngImagePlugin

from evidpack.disclosure.redaction import preview, redacted_copy, tile_openings
from evidpack.disclosure.regions import Shape, redacted_tiles
from evidpack.errors import ProofError
from evidpack.intake.pixels import decode_rgb
from evidpack.proof.tiles import pixel_root, tile_leaves, tile_salts
from evidpack.proof.tree import tree_root
from evidpack.verifying.redacted_copy import FLAT_RGB, require_redacted_copy
from tests.disclosure.pictures import decoded, open_pixels, street

KEY = bytes(range(32))
sizes = st.tuples(st.integers(1, 100), st.integers(1, 100))


def noise(width_px: int, height_px: int) -> bytes:
    return random.Random(width_px * 1000 + height_px).randbytes(width_px * height_px * 3)


def chunk_names(png: bytes) -> list[bytes]:
    names, at = [], 8
    while at < len(png):
        names.append(png[at + 4 : at + 8])
        at += 12 + int.from_bytes(png[at : at + 4])
    return names


@settings(max_examples=40, deadline=None)
@given(size=sizes, data=st.data())
def test_a_copy_is_flat_in_closed_tiles_the_original_elsewhere_and_verifies(
    size: tuple[int, int], data: st.DataObject
) -> None:
    width, height = size
    rgb = noise(width, height)
    x, y = data.draw(st.integers(0, width - 1)), data.draw(st.integers(0, height - 1))
    tiles = redacted_tiles([Shape.rectangle(x, y, 3, 3)], width, height)
    png = redacted_copy(rgb, width, height, tiles)
    pixels, *found = decoded(png)
    assert tuple(found) == size
    assert open_pixels(pixels, width, height, tiles) == open_pixels(rgb, width, height, tiles)
    at = (y * width + x) * 3
    assert pixels[at : at + 3] == FLAT_RGB
    require_redacted_copy(
        png,
        path="copy.png",
        width_px=width,
        height_px=height,
        pixel_root=pixel_root(rgb, width, height, KEY),
        openings=tile_openings(rgb, width, height, KEY, tiles),
    )


def test_a_copy_has_no_chunk_but_header_pixels_and_end() -> None:
    names = chunk_names(redacted_copy(noise(90, 70), 90, 70, {4}))
    assert set(names) == {b"IHDR", b"IDAT", b"IEND"}
    assert names[0] == b"IHDR"
    assert names[-1] == b"IEND"


def test_nothing_of_the_metadata_of_a_still_is_in_its_copy() -> None:
    secrets = {
        "comment": b"QX51 LMN in a comment",
        "exif": b"Exif\x00\x00MM\x00*\x00\x00\x00\x08\x00\x00QX51 LMN in EXIF",
        "icc_profile": b"QX51 LMN in a profile",
    }
    jpeg = io.BytesIO()
    street(96, 64).save(jpeg, "JPEG", quality=95, **secrets)
    text = PngImagePlugin.PngInfo()
    text.add_text("Comment", "QX51 LMN in a text")
    png = io.BytesIO()
    street(96, 64).save(png, "PNG", pnginfo=text, dpi=(72, 72), exif=secrets["exif"])
    for original in (jpeg.getvalue(), png.getvalue()):
        assert b"QX51 LMN" in original
        rgb, width, height, _ = decode_rgb(original, path="still")
        copy = redacted_copy(rgb, width, height, {0})
        assert b"QX51" not in copy
        assert b"Exif" not in copy
        with Image.open(io.BytesIO(copy)) as image:
            image.load()
            assert image.info == {}
            assert not image.getexif()
            assert image.mode == "RGB"


def test_copies_differ_in_nothing_where_only_closed_pixels_differ() -> None:
    copies = {
        redacted_copy(street(96, 96, plate=plate).tobytes(), 96, 96, {0, 1, 3, 4})
        for plate in ("Q111", "Q222", "Q333")
    }
    assert len(copies) == 1


def test_openings_hold_the_salts_of_open_tiles_and_the_leaves_of_closed_ones() -> None:
    rgb = noise(70, 70)
    openings = tile_openings(rgb, 70, 70, KEY, {1, 8})
    leaves = tile_leaves(rgb, 70, 70, KEY)
    salts = tile_salts(KEY, 9)
    assert dict(openings.closed) == {1: leaves[1], 8: leaves[8]}
    assert dict(openings.salts) == {tile: salts[tile] for tile in (0, 2, 3, 4, 5, 6, 7)}
    assert tree_root(leaves) == pixel_root(rgb, 70, 70, KEY)


def test_a_preview_shows_cover_and_region_and_nothing_under_it() -> None:
    shape = Shape.rectangle(40, 40, 20, 12)
    tiles = redacted_tiles([shape], 128, 128)
    shown = {
        preview(street(128, 128, plate=plate, at=(38, 38)).tobytes(), 128, 128, tiles, [shape])
        for plate in ("Q111", "Q222", "Q333")
    }
    assert len(shown) == 1
    pixels = Image.open(io.BytesIO(shown.pop()))
    assert pixels.getpixel((40, 40)) == (0, 0, 0)
    assert pixels.getpixel((45, 46)) == tuple(FLAT_RGB)
    original = street(128, 128, at=(38, 38))
    assert pixels.getpixel((100, 100)) == original.getpixel((100, 100))


@pytest.mark.parametrize("tile", [-1, 4, 100])
def test_a_tile_outside_the_picture_is_refused(tile: int) -> None:
    with pytest.raises(ProofError, match="there is no such tile") as caught:
        redacted_copy(noise(64, 64), 64, 64, {tile})
    assert caught.value.expected == "0 to 3"
    assert caught.value.observed == str(tile)
    with pytest.raises(ProofError, match="there is no such tile"):
        tile_openings(noise(64, 64), 64, 64, KEY, {tile})


@pytest.mark.parametrize("size", [64 * 64 * 3 - 1, 64 * 64 * 3 + 1, 0])
def test_pixels_of_another_size_are_refused(size: int) -> None:
    with pytest.raises(ProofError, match="not those of a picture of 64 × 64"):
        redacted_copy(bytes(size), 64, 64, {0})
    with pytest.raises(ProofError, match="not those of a picture of 64 × 64"):
        tile_openings(bytes(size), 64, 64, KEY, {0})


def test_a_key_of_another_length_is_refused() -> None:
    with pytest.raises(ProofError):
        tile_openings(noise(64, 64), 64, 64, KEY[:31], {0})
