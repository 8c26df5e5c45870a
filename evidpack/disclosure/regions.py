"""Regions of a still that are to be redacted, and which tiles they close.

A region is grown by at least `GROWN_PX` pixels before it is rounded out to whole tiles.  A JPEG
decoder takes the colour of a pixel from a block of up to 32 × 32 pixels and smooths it over the
edge of the block: without the growth, pixels just outside a tile would still tell what stood
inside (docs/format.md, Redacted copies).  All coordinates are whole pixels from the upper left.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final, Self

from evidpack.errors import UsageError
from evidpack.limits import TILE_EDGE_PX
from evidpack.proof.tiles import tile_grid

GROWN_PX: Final = 16
MAX_COORDINATE: Final = 1_000_000
MAX_POLYGON_POINTS: Final = 1_000

Point = tuple[int, int]
Area = tuple[int, int, int, int]  # left, top, right, bottom; all inclusive


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A closed polygon through the pixels `points` (x, y).

    `margin_px` is how far it grows.  A polygon also touches pixels that its edges cross between
    two corners, so it grows by one pixel more than a rectangle.
    """

    points: tuple[Point, ...]
    margin_px: int

    @classmethod
    def rectangle(cls, x: int, y: int, width_px: int, height_px: int) -> Self:
        """The pixels x … x + width − 1, y … y + height − 1. Raises UsageError where it has none."""
        if width_px < 1 or height_px < 1:
            raise UsageError(
                "a box without pixels redacts nothing",
                expected="x, y, width, height, the last two at least 1",
                observed=f"[{x}, {y}, {width_px}, {height_px}]",
            )
        right, bottom = x + width_px - 1, y + height_px - 1
        corners = ((x, y), (right, y), (right, bottom), (x, bottom))
        return cls(points=_within_bounds(corners), margin_px=GROWN_PX)

    @classmethod
    def polygon(cls, points: Sequence[Sequence[int]]) -> Self:
        """The polygon with these corners, its edges included, however they cross.

        Raises UsageError where there are fewer than three or more than `MAX_POLYGON_POINTS`.
        """
        if not 3 <= len(points) <= MAX_POLYGON_POINTS or any(len(point) != 2 for point in points):
            raise UsageError(
                "a polygon has corners x, y, and at least three of them",
                expected=f"3 to {MAX_POLYGON_POINTS} corners",
                observed=f"{len(points)} corners",
            )
        corners = tuple((point[0], point[1]) for point in points)
        return cls(points=_within_bounds(corners), margin_px=GROWN_PX + 1)

    @property
    def bounds(self) -> Area:
        """The smallest rectangle around it."""
        columns = [x for x, _ in self.points]
        rows = [y for _, y in self.points]
        return min(columns), min(rows), max(columns), max(rows)

    def meets(self, area: Area) -> bool:
        """Whether any of it, its inside included, lies in the area."""
        left, top, right, bottom = self.bounds
        if left > area[2] or right < area[0] or top > area[3] or bottom < area[1]:
            return False
        following = (*self.points[1:], self.points[0])
        edges = list(zip(self.points, following, strict=True))
        if any(_edge_meets(start, end, area) for start, end in edges):
            return True
        # No edge comes near: the area lies wholly inside or wholly outside.
        return _winding(edges, (area[0], area[1])) != 0


def _within_bounds(points: tuple[Point, ...]) -> tuple[Point, ...]:
    for point in points:
        if any(abs(coordinate) > MAX_COORDINATE for coordinate in point):
            raise UsageError(
                "a region has a corner that no picture has",
                expected=f"coordinates up to {MAX_COORDINATE}",
                observed=str(list(point)),
            )
    return points


def _side(start: Point, end: Point, point: Point) -> int:
    """Positive where the point lies left of the line, 0 on it (in whole numbers, so exactly)."""
    return (end[0] - start[0]) * (point[1] - start[1]) - (point[0] - start[0]) * (end[1] - start[1])


def _edge_meets(start: Point, end: Point, area: Area) -> bool:
    """Whether an edge touches the area: their bounds overlap and its corners are not on one side."""
    left, top, right, bottom = area
    if max(start[0], end[0]) < left or min(start[0], end[0]) > right:
        return False
    if max(start[1], end[1]) < top or min(start[1], end[1]) > bottom:
        return False
    corners = ((left, top), (right, top), (right, bottom), (left, bottom))
    sides = [_side(start, end, corner) for corner in corners]
    return not (all(side > 0 for side in sides) or all(side < 0 for side in sides))


def _winding(edges: Iterable[tuple[Point, Point]], point: Point) -> int:
    """How often the edges go round the point; a polygon that crosses itself leaves no hole."""
    turns = 0
    for start, end in edges:
        if start[1] <= point[1] < end[1] and _side(start, end, point) > 0:
            turns += 1
        elif end[1] <= point[1] < start[1] and _side(start, end, point) < 0:
            turns -= 1
    return turns


def redacted_tiles(shapes: Sequence[Shape], width_px: int, height_px: int) -> frozenset[int]:
    """Numbers of the tiles that the shapes close, each grown and rounded out to whole tiles.

    Raises UsageError where there is no shape, or one lies wholly outside the picture: a region
    meant for another picture would redact nothing here.  ProofError for a picture without tiles.
    """
    columns, rows = tile_grid(width_px, height_px)
    if not shapes:
        raise UsageError("there is no region to redact", hint="boxes = [[10, 20, 90, 30]]")
    tiles: set[int] = set()
    for shape in shapes:
        if not shape.meets((0, 0, width_px - 1, height_px - 1)):
            raise UsageError(
                "a region lies outside the picture",
                expected=f"pixels from 0, 0 to {width_px - 1}, {height_px - 1}",
                observed=f"a region from {shape.bounds[:2]} to {shape.bounds[2:]}",
                hint="Give regions in pixels of the picture as it is stored, before any rotation.",
            )
        tiles.update(
            row * columns + column
            for row, column in _near(shape, columns, rows)
            if shape.meets(_grown_tile(row, column, width_px, height_px, shape.margin_px))
        )
    return frozenset(tiles)


def _near(shape: Shape, columns: int, rows: int) -> Iterable[tuple[int, int]]:
    """Rows and columns of the tiles around a shape's bounds."""
    left, top, right, bottom = shape.bounds
    margin = shape.margin_px
    for row in range(
        max(0, (top - margin) // TILE_EDGE_PX), min(rows, (bottom + margin) // TILE_EDGE_PX + 1)
    ):
        for column in range(
            max(0, (left - margin) // TILE_EDGE_PX),
            min(columns, (right + margin) // TILE_EDGE_PX + 1),
        ):
            yield row, column


def _grown_tile(row: int, column: int, width_px: int, height_px: int, margin_px: int) -> Area:
    """A tile grown on all sides: a shape that meets it, grown by as much, meets the tile."""
    left, top = column * TILE_EDGE_PX, row * TILE_EDGE_PX
    right = min(left + TILE_EDGE_PX, width_px) - 1
    bottom = min(top + TILE_EDGE_PX, height_px) - 1
    return left - margin_px, top - margin_px, right + margin_px, bottom + margin_px


def shapes_from(
    boxes: Iterable[Sequence[int]], polygons: Iterable[Sequence[Sequence[int]]]
) -> tuple[Shape, ...]:
    """Shapes from boxes (x, y, width, height) and polygons (lists of x, y). Raises UsageError."""
    found: list[Shape] = []
    for box in boxes:
        if len(box) != 4:
            raise UsageError(
                "a box is x, y, width, height in pixels",
                expected="four whole numbers",
                observed=f"{len(box)} numbers",
            )
        found.append(Shape.rectangle(*box))
    found.extend(Shape.polygon(polygon) for polygon in polygons)
    return tuple(found)
