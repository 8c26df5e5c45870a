from __future__ import annotations

import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evidpack.errors import ProofError
from evidpack.limits import MAX_STILL_PIXELS
from evidpack.proof.tiles import (
    pixel_root,
    tile_bytes,
    tile_grid,
    tile_leaf,
    tile_leaves,
    tile_salts,
)
from tests.proof import reference

KEY = bytes(range(32))
SIDES = st.one_of(st.integers(1, 100), st.sampled_from([31, 32, 33, 63, 64, 65, 96]))


def picture(width: int, height: int) -> bytes:
    """Pixels that tell their place: no two within 251 × 241 are alike."""
    return b"".join(
        bytes([x % 251, y % 241, (x * 7 + y * 13) % 256])
        for y in range(height)
        for x in range(width)
    )


@pytest.mark.parametrize(
    ("size", "grid"),
    [
        ((1, 1), (1, 1)),
        ((32, 32), (1, 1)),
        ((33, 32), (2, 1)),
        ((32, 33), (1, 2)),
        ((64, 64), (2, 2)),
        ((1920, 1080), (60, 34)),
        ((MAX_STILL_PIXELS, 1), (MAX_STILL_PIXELS // 32, 1)),
    ],
)
def test_tiles_cover_the_picture(size: tuple[int, int], grid: tuple[int, int]) -> None:
    assert tile_grid(*size) == grid


@pytest.mark.parametrize(
    ("width", "height"), [(0, 5), (5, 0), (-1, 5), (-5, -5), (MAX_STILL_PIXELS + 1, 1)]
)
def test_a_picture_without_pixels_or_with_too_many_is_refused(width: int, height: int) -> None:
    with pytest.raises(ProofError, match="a picture of this size has no tiles") as caught:
        tile_grid(width, height)
    assert caught.value.observed == f"{width} × {height}"


@settings(max_examples=40, deadline=None)
@given(SIDES, SIDES)
def test_tiles_are_cut_as_pixel_by_pixel(width: int, height: int) -> None:
    rgb = picture(width, height)
    columns, rows = tile_grid(width, height)
    cut = [
        tile_bytes(rgb, width, height, column, row)
        for row in range(rows)
        for column in range(columns)
    ]
    assert cut == reference.tiles(rgb, width, height)
    assert sum(map(len, cut)) == len(rgb)


@settings(max_examples=40, deadline=None)
@given(SIDES, SIDES, st.binary(min_size=32, max_size=32))
def test_leaves_and_root_are_those_of_the_definition(width: int, height: int, key: bytes) -> None:
    rgb = picture(width, height)
    expected = reference.tile_leaves(rgb, width, height, key)
    assert tile_leaves(rgb, width, height, key) == expected
    assert tile_leaves(memoryview(rgb), width, height, key) == expected
    assert pixel_root(rgb, width, height, key) == reference.root(expected)


def test_a_leaf_can_be_made_again_from_its_salt_and_its_tile_alone() -> None:
    rgb = picture(70, 40)
    leaves = tile_leaves(rgb, 70, 40, KEY)
    salts = tile_salts(KEY, 6)
    for number, leaf in enumerate(leaves):
        row, column = divmod(number, 3)
        assert tile_leaf(salts[number], tile_bytes(rgb, 70, 40, column, row)) == leaf


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_one_changed_pixel_changes_its_own_leaf_and_no_other(data: st.DataObject) -> None:
    width, height = 75, 50
    rgb = bytearray(picture(width, height))
    before = tile_leaves(bytes(rgb), width, height, KEY)
    x, y = data.draw(st.integers(0, width - 1)), data.draw(st.integers(0, height - 1))
    rgb[(y * width + x) * 3 + data.draw(st.integers(0, 2))] ^= 1 << data.draw(st.integers(0, 7))
    after = tile_leaves(bytes(rgb), width, height, KEY)
    changed = [number for number in range(len(before)) if before[number] != after[number]]
    assert changed == [(y // 32) * 3 + x // 32]
    assert pixel_root(bytes(rgb), width, height, KEY) != reference.root(before)


def test_tiles_alike_have_leaves_unlike_since_each_has_its_salt() -> None:
    leaves = tile_leaves(bytes(64 * 64 * 3), 64, 64, KEY)
    assert len(set(leaves)) == 4
    assert not set(leaves) & set(tile_leaves(bytes(64 * 64 * 3), 64, 64, bytes(32)))


def test_salts_are_numbered_in_four_bytes() -> None:
    salts = tile_salts(KEY, 300)
    assert len(set(salts)) == 300
    assert salts[299] == reference.hmac_sha256(KEY, b"tile\x00\x00\x01\x2b")[:16]
    assert tile_salts(KEY, 0) == []


@pytest.mark.parametrize("length", [0, 33 * 40 * 3 - 1, 33 * 40 * 3 + 1, 40 * 40 * 3])
def test_pixels_of_another_size_are_refused(length: int) -> None:
    for call in (
        lambda: tile_leaves(bytes(length), 33, 40, KEY),
        lambda: tile_bytes(bytes(length), 33, 40, 0, 0),
        lambda: pixel_root(memoryview(bytes(length)), 33, 40, KEY),
    ):
        with pytest.raises(ProofError, match="not those of a picture of 33 × 40") as caught:
            call()
        assert (caught.value.expected, caught.value.observed) == ("3960 bytes", f"{length} bytes")


@pytest.mark.parametrize(("column", "row"), [(-1, 0), (0, -1), (2, 0), (0, 2)])
def test_a_tile_outside_the_grid_is_refused(column: int, row: int) -> None:
    with pytest.raises(ProofError, match="there is no such tile") as caught:
        tile_bytes(bytes(33 * 40 * 3), 33, 40, column, row)
    assert caught.value.expected == "a column below 2 and a row below 2"
    assert caught.value.observed == f"column {column}, row {row}"


def test_a_salt_or_key_of_another_length_is_refused() -> None:
    with pytest.raises(ProofError, match="the salt of a tile is of the wrong length"):
        tile_leaf(bytes(15), b"")
    with pytest.raises(ProofError, match="the key for salts is of the wrong length"):
        tile_leaves(bytes(3), 1, 1, bytes(16))


@pytest.mark.bench
def test_the_pixel_root_of_a_full_hd_still_is_quick() -> None:
    rgb = bytes(range(256)) * (1920 * 1080 * 3 // 256)
    seconds = []
    for _ in range(10):
        began = time.perf_counter()
        pixel_root(rgb, 1920, 1080, KEY)
        seconds.append(time.perf_counter() - began)
    print(f"pixel root of 1920 × 1080: {min(seconds) * 1000:.1f} ms at best of 10")
    # Generous: measured 10 ms on a quiet core, several times that on a busy one.
    assert min(seconds) < 0.1
