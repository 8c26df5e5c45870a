"""A strip drawn to scale: marks and spans along an axis, in lanes, with labels that never overlap.

Nothing here knows what a reading or a test is: a strip takes lanes of marks at positions on one
axis (seconds from any origin) and the ticks to draw under it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from evidpack.index.flow import Flow
from evidpack.index.sheet import Box, Page, Shape
from evidpack.index.typeface import Style, Typeface, shown, width, wrap

Symbol = Literal["tick", "circle", "diamond", "cross"]

LANE_NAME: Final = Style(face=Typeface.BOLD, size=6.8, leading=8.4)
LABEL: Final = Style(size=6.2, leading=7.6)
TICK_LABEL: Final = Style(size=6.4, leading=8.0)
_NAME_WIDE_PT: Final = 78.0
_MARK_PT: Final = 2.3
_ROW_PT: Final = 9.0  # between rows of labels within a lane
_MERGE_PT: Final = 0.25  # ticks closer than this print as one line anyway


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """Something at one position, or, with `until`, something that lasts."""

    at: float
    symbol: Symbol = "tick"
    label: str = ""
    filled: bool = True
    until: float | None = None
    open_ended: bool = False  # the span has no known end: an arrow says so


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """Marks of one sort, with the name that stands at the left."""

    name: str
    marks: Sequence[Mark]
    hatched: bool = False  # spans are hatched rather than grey


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """The stretch shown, and its ticks as (position, label)."""

    first: float
    last: float
    ticks: Sequence[tuple[float, str]]
    caption: str


class Strip:
    """One strip; it is drawn whole on one page."""

    def __init__(self, flow: Flow, axis: Axis, lanes: Sequence[Lane]) -> None:
        self._flow = flow
        self._axis = axis
        self._lanes = lanes
        self._left = flow.left + _NAME_WIDE_PT
        self._right = flow.right - 6
        self._rows = [self._label_rows(lane) for lane in lanes]
        self._heights = [
            max(
                max((row for row in rows if row is not None), default=-1) * _ROW_PT + 23.0,
                len(wrap(lane.name, LANE_NAME, _NAME_WIDE_PT - 6)) * LANE_NAME.leading + 6,
                18.0,
            )
            for lane, rows in zip(lanes, self._rows, strict=True)
        ]

    def draw(self) -> None:
        """Draw lanes, axis and caption at the cursor."""
        flow = self._flow
        caption = wrap(self._axis.caption, TICK_LABEL, flow.wide)
        height = sum(self._heights) + 14 + len(caption) * TICK_LABEL.leading
        flow.need(height + 6)
        top = flow.y
        bottom = top - sum(self._heights)
        self._draw_axis(top, bottom)
        y = top
        for lane, rows, high in zip(self._lanes, self._rows, self._heights, strict=True):
            self._draw_lane(lane, rows, y)
            y -= high
        flow.y = bottom - 12
        for line in caption:
            flow.line(line, TICK_LABEL)
        flow.y -= 6

    def _x(self, position: float) -> float:
        axis = self._axis
        part = (position - axis.first) / (axis.last - axis.first)
        return self._left + min(max(part, 0.0), 1.0) * (self._right - self._left)

    def _draw_axis(self, top: float, bottom: float) -> None:
        page = self._flow.page
        page.line((self._left, bottom), (self._right, bottom), thickness=0.7)
        occupied = self._left - 100.0
        for position, label in self._axis.ticks:
            x = self._x(position)
            page.line((x, top), (x, bottom - 3), thickness=0.25, grey=0.72)
            text = shown(label, TICK_LABEL.face)
            half = width(text, TICK_LABEL) / 2
            start = min(max(x - half, self._left - 8), self._flow.right - 2 * half)
            if start > occupied:
                page.text(start, bottom - 10, text, TICK_LABEL)
                occupied = start + 2 * half + 3

    def _label_rows(self, lane: Lane) -> list[int | None]:
        """The row in which each mark's label stands free of those before it; None: no label."""
        ends: list[float] = []
        rows: list[int | None] = []
        for mark in lane.marks:
            if not mark.label:
                rows.append(None)
                continue
            start, end = self._label_span(mark)
            row = next((i for i, taken in enumerate(ends) if taken < start), len(ends))
            if row == len(ends):
                ends.append(end)
            else:
                ends[row] = end
            rows.append(row)
        return rows

    def _label_span(self, mark: Mark) -> tuple[float, float]:
        wide = width(shown(mark.label, LABEL.face), LABEL)
        middle = self._x(mark.at if mark.until is None else (mark.at + mark.until) / 2)
        start = min(max(middle - wide / 2, self._left), self._flow.right - wide)
        return start, start + wide + 3

    def _draw_lane(self, lane: Lane, rows: Sequence[int | None], top: float) -> None:
        page, flow = self._flow.page, self._flow
        page.line((flow.left, top), (self._right, top), thickness=0.25, grey=0.72)
        y = top - 4
        for line in wrap(lane.name, LANE_NAME, _NAME_WIDE_PT - 6):
            y -= LANE_NAME.leading
            page.text(flow.left, y + 2, line, LANE_NAME)
        middle = top - 7.5
        drawn = -1e9
        for mark, row in zip(lane.marks, rows, strict=True):
            x = self._x(mark.at)
            if mark.until is not None:
                self._draw_span(mark, middle, hatched=lane.hatched)
            elif mark.symbol != "tick" or x - drawn >= _MERGE_PT:
                _draw_symbol(page, mark, x, middle)
                drawn = x
            if row is not None:
                start, _ = self._label_span(mark)
                base = top - 18.5 - row * _ROW_PT
                text = shown(mark.label, LABEL.face)
                clear = Box(x=start, y=base - 1.5, wide=width(text, LABEL), high=LABEL.size + 0.5)
                page.box(clear, fill=1.0)  # so that no tick runs through a label
                page.text(start, base, text, LABEL)

    def _draw_span(self, mark: Mark, middle: float, *, hatched: bool) -> None:
        page = self._flow.page
        left = self._x(mark.at)
        right = max(self._x(mark.until or mark.at), left + 1.0)
        box = Box(x=left, y=middle - 3, wide=right - left, high=6)
        page.box(box, fill=1.0 if hatched else 0.78, stroke=0.0, thickness=0.4)
        if hatched:
            _hatch(page, box)
        if mark.open_ended:
            tip = ((right, middle + 4.5), (right + 5, middle), (right, middle - 4.5))
            page.shapes.append(Shape(points=tip, fill=0.0))


def _draw_symbol(page: Page, mark: Mark, x: float, y: float) -> None:
    size = _MARK_PT
    fill = 0.0 if mark.filled else 1.0
    if mark.symbol == "tick":
        page.line((x, y - 5), (x, y + 5), thickness=0.5)
    elif mark.symbol == "diamond":
        points = ((x - size, y), (x, y + size * 1.4), (x + size, y), (x, y - size * 1.4))
        page.shapes.append(Shape(points=points, fill=fill, stroke=0.0, thickness=0.5))
    elif mark.symbol == "circle":
        ring = tuple((x + size * cos, y + size * sin) for cos, sin in _CIRCLE)
        page.shapes.append(Shape(points=ring, fill=fill, stroke=0.0, thickness=0.5))
    else:
        page.line((x - size, y - size), (x + size, y + size), thickness=0.9)
        page.line((x - size, y + size), (x + size, y - size), thickness=0.9)


# Corners of a regular twelve-sided figure of radius 1, which prints as a circle at this size.
_CIRCLE: Final = (
    (1.0, 0.0), (0.866, 0.5), (0.5, 0.866), (0.0, 1.0), (-0.5, 0.866), (-0.866, 0.5),
    (-1.0, 0.0), (-0.866, -0.5), (-0.5, -0.866), (0.0, -1.0), (0.5, -0.866), (0.866, -0.5),
)  # fmt: skip


def _hatch(page: Page, box: Box) -> None:
    x = box.x
    while x < box.x + box.wide:
        reach = min(box.high, box.x + box.wide - x)
        page.line((x, box.y), (x + reach, box.y + reach), thickness=0.3)
        x += 2.5


def even_ticks(first: float, last: float, steps: Iterable[float], *, at_most: int) -> list[float]:
    """Whole multiples of the first step (ascending) that gives no more than `at_most` ticks."""
    step = 0.0
    for step in steps:
        if (last - first) / step <= at_most:
            break
    start = -(-first // step) * step
    ticks = []
    while start <= last + 1e-9:
        ticks.append(start)
        start += step
    return ticks[: at_most * 4]
