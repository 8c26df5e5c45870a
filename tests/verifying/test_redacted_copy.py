"""A redacted copy is proved tile by tile against the pixel root of the sealed still."""

from __future__ import annotations

import io
import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from evidpack.disclosure.redaction import redacted_copy, tile_openings
from evidpack.errors import ProofError
from evidpack.proof.tiles import pixel_root
from evidpack.verifying.redacted_copy import (
    FLAT_RGB,
    TileOpenings,
    require_redacted_copy,
    tile_area,
)

WIDTH_PX, HEIGHT_PX = 100, 70
TILES = 12
CLOSED = frozenset({5, 6, 11})
KEY = bytes(range(32))
RGB = random.Random(5).randbytes(WIDTH_PX * HEIGHT_PX * 3)
ROOT = pixel_root(RGB, WIDTH_PX, HEIGHT_PX, KEY)
COPY = redacted_copy(RGB, WIDTH_PX, HEIGHT_PX, CLOSED)
OPENINGS = tile_openings(RGB, WIDTH_PX, HEIGHT_PX, KEY, CLOSED)


def check(
    copy: bytes = COPY, openings: TileOpenings = OPENINGS, root: bytes = ROOT, width: int = WIDTH_PX
) -> None:
    require_redacted_copy(
        copy,
        path="data/redacted/exhibit-2.png",
        width_px=width,
        height_px=HEIGHT_PX,
        pixel_root=root,
        openings=openings,
    )


def painted(*changes: tuple[tuple[int, int], tuple[int, ...]]) -> bytes:
    """The copy with single pixels changed."""
    with Image.open(io.BytesIO(COPY)) as opened:
        image = opened.copy()
    for place, colour in changes:
        image.putpixel(place, colour)
    target = io.BytesIO()
    image.save(target, "PNG")
    return target.getvalue()


def test_a_true_copy_holds() -> None:
    check()


def test_a_copy_with_everything_closed_or_open_holds() -> None:
    every = range(TILES)
    check(
        redacted_copy(RGB, WIDTH_PX, HEIGHT_PX, every),
        tile_openings(RGB, WIDTH_PX, HEIGHT_PX, KEY, every),
    )
    check(
        redacted_copy(RGB, WIDTH_PX, HEIGHT_PX, ()),
        tile_openings(RGB, WIDTH_PX, HEIGHT_PX, KEY, ()),
    )


@settings(max_examples=60, deadline=None)
@given(
    x=st.integers(0, WIDTH_PX - 1), y=st.integers(0, HEIGHT_PX - 1), channel=st.integers(0, 2),
    by=st.integers(1, 255),
)  # fmt: skip
def test_one_changed_pixel_anywhere_is_refused(x: int, y: int, channel: int, by: int) -> None:
    with Image.open(io.BytesIO(COPY)) as image:
        colour = list(image.getpixel((x, y)))
    colour[channel] = (colour[channel] + by) % 256
    tile = y // 32 * 4 + x // 32
    expected = (
        rf"tile {tile} \(column {x // 32}, row {y // 32}\) is closed and shows something"
        if tile in CLOSED
        else "outside the redaction the copy is not the still that was sealed"
    )
    with pytest.raises(ProofError, match=expected) as caught:
        check(painted(((x, y), tuple(colour))))
    assert caught.value.path == "data/redacted/exhibit-2.png"


def test_the_original_pixels_under_a_cover_are_refused() -> None:
    with pytest.raises(ProofError, match=r"tile 5 .* shows something"):
        check(redacted_copy(RGB, WIDTH_PX, HEIGHT_PX, CLOSED - {5}))


def test_a_tile_covered_but_said_to_be_open_is_refused() -> None:
    with pytest.raises(ProofError, match="not the still that was sealed"):
        check(redacted_copy(RGB, WIDTH_PX, HEIGHT_PX, CLOSED | {0}))


def test_the_copy_of_another_still_is_refused() -> None:
    other = random.Random(6).randbytes(WIDTH_PX * HEIGHT_PX * 3)
    with pytest.raises(ProofError, match="not the still that was sealed") as caught:
        check(redacted_copy(other, WIDTH_PX, HEIGHT_PX, CLOSED))
    assert caught.value.expected == f"pixel root {ROOT.hex()}"


@pytest.mark.parametrize("tile", sorted(set(range(TILES)) - CLOSED))
def test_a_wrong_salt_is_refused(tile: int) -> None:
    wrong = replace(OPENINGS, salts={**OPENINGS.salts, tile: bytes(16)})
    with pytest.raises(ProofError, match="not the still that was sealed"):
        check(openings=wrong)


@pytest.mark.parametrize("tile", sorted(CLOSED))
def test_a_wrong_leaf_digest_is_refused(tile: int) -> None:
    wrong = replace(OPENINGS, closed={**OPENINGS.closed, tile: bytes(32)})
    with pytest.raises(ProofError, match="not the still that was sealed"):
        check(openings=wrong)


def test_leaf_digests_of_the_wrong_length_are_refused() -> None:
    wrong = replace(OPENINGS, closed={**OPENINGS.closed, 5: bytes(31)})
    with pytest.raises(ProofError, match="the leaf of tile 5 is not a SHA-256 digest"):
        check(openings=wrong)


def test_salts_of_the_wrong_length_are_refused() -> None:
    wrong = replace(OPENINGS, salts={**OPENINGS.salts, 0: bytes(15)})
    with pytest.raises(ProofError, match="salt"):
        check(openings=wrong)


@pytest.mark.parametrize("tile", range(TILES))
def test_a_tile_without_opening_is_refused_by_number(tile: int) -> None:
    lacking = TileOpenings(
        salts={n: salt for n, salt in OPENINGS.salts.items() if n != tile},
        closed={n: leaf for n, leaf in OPENINGS.closed.items() if n != tile},
    )
    with pytest.raises(ProofError, match=f"tile {tile} is neither open nor closed"):
        check(openings=lacking)


def test_a_tile_with_two_openings_is_refused_by_number() -> None:
    both = replace(OPENINGS, salts={**OPENINGS.salts, 6: bytes(16)})
    with pytest.raises(ProofError, match="tile 6 is said to be open and closed"):
        check(openings=both)


@pytest.mark.parametrize("tile", [-1, TILES, 5000])
def test_an_opening_of_a_tile_that_is_not_there_is_refused(tile: int) -> None:
    more = replace(OPENINGS, salts={**OPENINGS.salts, tile: bytes(16)})
    with pytest.raises(ProofError, match=f"an opening for tile {tile}") as caught:
        check(openings=more)
    assert caught.value.expected == "tiles 0 to 11"


def test_a_picture_of_another_size_is_refused() -> None:
    with pytest.raises(ProofError, match="of another size or form"):
        check(width=WIDTH_PX - 1)


def test_another_root_is_refused() -> None:
    with pytest.raises(ProofError, match="not the still that was sealed"):
        check(root=bytes(32))


def test_the_flat_colour_is_grey() -> None:
    assert len(set(FLAT_RGB)) == 1
    assert 64 < FLAT_RGB[0] < 192


def test_the_area_of_a_tile_ends_with_the_picture() -> None:
    assert tile_area(WIDTH_PX, HEIGHT_PX, 0) == (0, 0, 32, 32)
    assert tile_area(WIDTH_PX, HEIGHT_PX, 11) == (96, 64, 100, 70)


def test_a_picture_that_the_decoder_refuses_is_a_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", 100)
    with pytest.raises(ProofError, match="the redacted copy cannot be decoded") as caught:
        check()
    assert "DecompressionBombError" in str(caught.value.observed)
