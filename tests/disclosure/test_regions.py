"""Which tiles a region closes: compared with painting it, growing it pixel by pixel, and looking."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageChops, ImageDraw

from evidpack.disclosure.regions import (
    GROWN_PX,
    MAX_COORDINATE,
    MAX_POLYGON_POINTS,
    Shape,
    redacted_tiles,
    shapes_from,
)
from evidpack.errors import ProofError, UsageError
from evidpack.limits import TILE_EDGE_PX

WIDTH_PX, HEIGHT_PX = 200, 140
COLUMNS = 7

inside = st.tuples(st.integers(0, WIDTH_PX - 1), st.integers(0, HEIGHT_PX - 1))
around = st.tuples(st.integers(-60, WIDTH_PX + 60), st.integers(-60, HEIGHT_PX + 60))


def grow(mask: Image.Image, grown_px: int, right: int, down: int) -> Image.Image:
    """The mask laid over itself, moved by every number of pixels up to `grown_px` both ways."""
    grown = Image.new("L", mask.size)
    for step in range(-grown_px, grown_px + 1):
        moved = Image.new("L", mask.size)
        moved.paste(mask, (step * right, step * down))
        grown = ImageChops.lighter(grown, moved)
    return grown


def painted_tiles(mask: Image.Image, grown_px: int) -> set[int]:
    """The slow way: paint it, grow it by a square, see in which tiles there is paint."""
    grown = grow(grow(mask, grown_px, 1, 0), grown_px, 0, 1)
    found = set()
    for top in range(0, HEIGHT_PX, TILE_EDGE_PX):
        for left in range(0, WIDTH_PX, TILE_EDGE_PX):
            area = (
                left,
                top,
                min(left + TILE_EDGE_PX, WIDTH_PX),
                min(top + TILE_EDGE_PX, HEIGHT_PX),
            )
            if grown.crop(area).getbbox():
                found.add(top // TILE_EDGE_PX * COLUMNS + left // TILE_EDGE_PX)
    return found


def mask_of_polygon(points: list[tuple[int, int]]) -> Image.Image:
    mask = Image.new("L", (WIDTH_PX, HEIGHT_PX))
    ImageDraw.Draw(mask).polygon(points, fill=255, outline=255)
    return mask


@settings(max_examples=60, deadline=None)
@given(x=st.integers(0, WIDTH_PX - 1), y=st.integers(0, HEIGHT_PX - 1), data=st.data())
def test_a_box_closes_the_tiles_of_its_pixels_grown_by_sixteen(
    x: int, y: int, data: st.DataObject
) -> None:
    width = data.draw(st.integers(1, WIDTH_PX - x))
    height = data.draw(st.integers(1, HEIGHT_PX - y))
    mask = Image.new("L", (WIDTH_PX, HEIGHT_PX))
    mask.paste(255, (x, y, x + width, y + height))
    tiles = redacted_tiles([Shape.rectangle(x, y, width, height)], WIDTH_PX, HEIGHT_PX)
    assert tiles == painted_tiles(mask, 16)


@settings(max_examples=100, deadline=None)
@given(points=st.lists(inside, min_size=3, max_size=6))
def test_a_polygon_closes_at_least_its_pixels_grown_by_sixteen_and_little_more(
    points: list[tuple[int, int]],
) -> None:
    tiles = redacted_tiles([Shape.polygon(points)], WIDTH_PX, HEIGHT_PX)
    mask = mask_of_polygon(points)
    assert tiles >= painted_tiles(mask, GROWN_PX)
    # The painter leaves holes where a polygon crosses itself; a hole is closed here.
    hull_free = tiles - painted_tiles(mask, GROWN_PX + 3)
    assert all(Shape.polygon(points).meets(tile_area(tile)) for tile in hull_free)


def tile_area(tile: int) -> tuple[int, int, int, int]:
    left, top = tile % COLUMNS * TILE_EDGE_PX, tile // COLUMNS * TILE_EDGE_PX
    return left, top, left + TILE_EDGE_PX - 1, top + TILE_EDGE_PX - 1


@settings(max_examples=60, deadline=None)
@given(
    first=st.lists(around, min_size=3, max_size=5), second=st.lists(inside, min_size=3, max_size=5)
)
def test_two_shapes_close_what_each_closes(
    first: list[tuple[int, int]], second: list[tuple[int, int]]
) -> None:
    one, other = Shape.polygon(first), Shape.polygon(second)
    apart = redacted_tiles([other], WIDTH_PX, HEIGHT_PX)
    try:
        apart |= redacted_tiles([one], WIDTH_PX, HEIGHT_PX)
    except UsageError:
        with pytest.raises(UsageError, match="outside the picture"):
            redacted_tiles([one, other], WIDTH_PX, HEIGHT_PX)
        return
    assert redacted_tiles([one, other], WIDTH_PX, HEIGHT_PX) == apart


def test_a_polygon_that_crosses_itself_leaves_no_hole() -> None:
    star = [(100, 0), (140, 139), (10, 50), (190, 50), (60, 139)]
    middle = 70 // TILE_EDGE_PX * COLUMNS + 100 // TILE_EDGE_PX
    assert middle in redacted_tiles([Shape.polygon(star)], WIDTH_PX, HEIGHT_PX)


def test_a_box_that_comes_within_sixteen_pixels_of_a_tile_closes_it() -> None:
    # Tile 2 begins at 64 = 48 + 16; the box that ends at 48 reaches it, the one at 47 does not.
    assert redacted_tiles([Shape.rectangle(48, 10, 1, 4)], 128, 32) == {1, 2}
    assert redacted_tiles([Shape.rectangle(47, 10, 1, 4)], 128, 32) == {0, 1}


def test_a_region_over_the_border_is_cut_there() -> None:
    assert redacted_tiles([Shape.rectangle(-500, -500, 510, 510)], 64, 64) == {0}


def test_the_smaller_tiles_at_the_border_are_closed_too() -> None:
    assert redacted_tiles([Shape.rectangle(69, 69, 1, 1)], 70, 70) == {4, 5, 7, 8}


@pytest.mark.parametrize(
    ("x", "y", "width", "height"),
    [(200, 0, 10, 10), (0, 140, 10, 10), (-10, 0, 10, 10), (0, -10, 10, 10), (500, 500, 9, 9)],
)
def test_a_region_outside_the_picture_is_refused(x: int, y: int, width: int, height: int) -> None:
    with pytest.raises(UsageError, match="a region lies outside the picture") as caught:
        redacted_tiles([Shape.rectangle(x, y, width, height)], WIDTH_PX, HEIGHT_PX)
    assert caught.value.expected == "pixels from 0, 0 to 199, 139"
    assert str(x) in str(caught.value.observed)


def test_one_region_outside_is_refused_beside_one_inside() -> None:
    shapes = [Shape.rectangle(5, 5, 5, 5), Shape.rectangle(300, 5, 5, 5)]
    with pytest.raises(UsageError, match="outside the picture"):
        redacted_tiles(shapes, WIDTH_PX, HEIGHT_PX)


def test_no_region_at_all_is_refused() -> None:
    with pytest.raises(UsageError, match="there is no region to redact"):
        redacted_tiles([], WIDTH_PX, HEIGHT_PX)


def test_a_picture_without_pixels_is_refused() -> None:
    with pytest.raises(ProofError, match="has no tiles"):
        redacted_tiles([Shape.rectangle(0, 0, 1, 1)], 0, 10)


@pytest.mark.parametrize(("width", "height"), [(0, 5), (5, 0), (-3, 5), (5, -3)])
def test_a_box_without_pixels_is_refused(width: int, height: int) -> None:
    with pytest.raises(UsageError, match="a box without pixels redacts nothing"):
        Shape.rectangle(1, 1, width, height)


@pytest.mark.parametrize(
    "points",
    [[], [(1, 1), (2, 2)], [(1, 1), (2, 2), (3,)], [(1, 1)] * (MAX_POLYGON_POINTS + 1)],
)
def test_a_polygon_of_another_form_is_refused(points: list[tuple[int, ...]]) -> None:
    with pytest.raises(UsageError, match="a polygon has corners x, y"):
        Shape.polygon(points)


def test_a_polygon_with_as_many_corners_as_allowed_is_taken() -> None:
    assert len(Shape.polygon([(1, 1)] * MAX_POLYGON_POINTS).points) == MAX_POLYGON_POINTS


def test_a_coordinate_at_the_limit_is_taken_and_one_past_it_refused() -> None:
    Shape.polygon([(MAX_COORDINATE, 0), (0, 0), (0, 5)])
    with pytest.raises(UsageError, match="a corner that no picture has"):
        Shape.polygon([(MAX_COORDINATE + 1, 0), (0, 0), (0, 5)])


def test_boxes_and_polygons_become_shapes() -> None:
    shapes = shapes_from([(1, 2, 3, 4)], [[(0, 0), (9, 0), (0, 9)]])
    assert [shape.bounds for shape in shapes] == [(1, 2, 3, 5), (0, 0, 9, 9)]


def test_a_box_of_three_numbers_is_refused() -> None:
    with pytest.raises(UsageError, match="a box is x, y, width, height"):
        shapes_from([(1, 2, 3)], [])
