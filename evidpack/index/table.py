"""Tables drawn row by row: wrapped cells, repeated column titles, rows that may cross a page."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Final

from evidpack.index.flow import (
    CELL,
    CELL_STRONG,
    COLUMN_TITLE,
    Flow,
    underline,
)
from evidpack.index.sheet import Box
from evidpack.index.typeface import Shown, Style, width, wrap

Span = tuple[int, int, str]  # first and last+1 character of a line, and where it leads
Paragraph = tuple[str, Style] | tuple[str, Style, str | None]  # the last: where it leads
Linker = Callable[[str], Iterable[Span]]

GAP_PT: Final = 7.0
PAD_PT: Final = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column. `points` fixes its width; the others divide the rest by their shares."""

    title: str
    share: float = 1.0
    points: float | None = None
    right: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One or more paragraphs of text. `target` links `text` as a whole, `linker` parts of any
    line that has no target; `more` holds further paragraphs."""

    text: str
    style: Style = CELL
    more: tuple[Paragraph, ...] = ()
    target: str | None = None
    linker: Linker | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A picture in a cell: JPEG bytes, or None where `caption` says why none is shown."""

    column: int
    jpeg: bytes | None
    box_wide: float
    box_high: float
    aspect: float = 1.5  # width / height of the picture
    caption: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row. `bar` draws the black bar of what is adverse at its left."""

    cells: Sequence[Cell]
    anchor: str | None = None
    bar: bool = False
    picture: Picture | None = None


Line = tuple[Shown, Style, str | None]  # the last: where the whole line leads


class Table:
    """A table under way in a flow, as wide as the text unless `wide` (points) is given."""

    def __init__(
        self,
        flow: Flow,
        columns: Sequence[Column],
        *,
        titled: bool = True,
        wide: float | None = None,
        pad: float = PAD_PT,
    ) -> None:
        self.flow = flow
        self.columns = columns
        self.titled = titled
        self.pad = pad
        self.right = flow.right if wide is None else flow.left + wide
        free = self.right - flow.left - GAP_PT * (len(columns) - 1)
        free -= sum(column.points or 0.0 for column in columns)
        total = sum(column.share for column in columns if column.points is None)
        self.widths = [column.points or free * column.share / total for column in columns]
        self.lefts = []
        x = flow.left
        for column_wide in self.widths:
            self.lefts.append(x)
            x += column_wide + GAP_PT
        self._titles = [
            wrap(column.title, COLUMN_TITLE, wide)
            for column, wide in zip(columns, self.widths, strict=True)
        ]

    def lead(self, row: Row) -> float:
        """Points that the column titles and this first row take: what a heading is kept with."""
        cells = [self._lines(cell, wide) for cell, wide in zip(row.cells, self.widths, strict=True)]
        picture = row.picture.box_high if row.picture else 0.0
        return self._title_height() + max(min(_height(cells), 160.0), picture) + 2 * self.pad

    def draw(self, rows: Iterable[Row]) -> None:
        """Draw the column titles and every row."""
        coming = iter(rows)
        first = next(coming, None)
        self.flow.need(self._title_height() if first is None else self.lead(first))
        if self.titled:
            self._draw_titles()
        self.flow.on_new_page = self._draw_titles if self.titled else None
        try:
            for row in () if first is None else chain((first,), coming):
                self._draw_row(row)
        finally:
            self.flow.on_new_page = None
        self.flow.y -= 4

    def _title_height(self) -> float:
        lines = max(len(title) for title in self._titles)
        return lines * COLUMN_TITLE.leading + 6 if self.titled else 0.0

    def _draw_titles(self) -> None:
        flow, page = self.flow, self.flow.page
        page.line((flow.left, flow.y), (self.right, flow.y), thickness=0.8)
        for title, column, x, wide in zip(
            self._titles, self.columns, self.lefts, self.widths, strict=True
        ):
            y = flow.y - 2
            for line in title:
                y -= COLUMN_TITLE.leading
                if column.right:
                    page.text_right(x + wide, y + 2, line, COLUMN_TITLE)
                else:
                    page.text(x, y + 2, line, COLUMN_TITLE)
        flow.y -= self._title_height()
        page.line((flow.left, flow.y), (self.right, flow.y), thickness=0.5)

    def _lines(self, cell: Cell, wide: float) -> list[Line]:
        lines = [(line, cell.style, cell.target) for line in wrap(cell.text, cell.style, wide)]
        for text, style, *target in cell.more:
            leads = target[0] if target else None
            lines.extend((line, style, leads) for line in wrap(text, style, wide))
        return lines

    def _draw_row(self, row: Row) -> None:
        cells = [self._lines(cell, wide) for cell, wide in zip(row.cells, self.widths, strict=True)]
        picture_high = row.picture.box_high if row.picture else 0.0
        text_high = _height(cells)
        height = max(text_high, picture_high) + 2 * self.pad
        if height > self.flow.room and not self._at_top():
            whole = self.flow.top - self.flow.bottom - self._title_height()
            if height <= whole or self.flow.room < 60 + picture_high:
                self.flow.new_page()
        if text_high <= self.flow.room - 2 * self.pad:
            self._draw_part(row, cells, text_high, first=True, last=True)
            return
        first = True
        while True:
            count = _lines_that_fit(cells, self.flow.room - 2 * self.pad)
            part = [lines[:count] for lines in cells]
            cells = [lines[count:] for lines in cells]
            self._draw_part(row, part, _height(part), first=first, last=not any(cells))
            first = False
            if not any(cells):
                return
            self.flow.new_page()

    def _at_top(self) -> bool:
        return self.flow.y >= self.flow.top - self._title_height() - 0.01

    def _draw_part(
        self, row: Row, part: list[list[Line]], text_high: float, *, first: bool, last: bool
    ) -> None:
        flow = self.flow
        picture = row.picture if first else None
        height = max(text_high, picture.box_high if picture else 0.0) + 2 * self.pad
        top = flow.y
        if first and row.anchor is not None:
            flow.anchor(row.anchor, above=4)
        for index, lines in enumerate(part):
            self._draw_cell(row.cells[index], index, lines, top - self.pad)
        if picture is not None:
            self._draw_picture(picture, top - self.pad)
        if row.bar:
            bar = Box(x=flow.left - 7, y=top - height + 1.5, wide=2.6, high=height - 3)
            flow.page.box(bar, fill=0.0)
        flow.y -= height
        if last:
            flow.page.line((flow.left, flow.y), (self.right, flow.y), thickness=0.3, grey=0.6)

    def _draw_cell(self, cell: Cell, index: int, lines: list[Line], y: float) -> None:
        page, x, wide = self.flow.page, self.lefts[index], self.widths[index]
        for line, style, target in lines:
            y -= style.leading
            base = y + style.leading * 0.28
            start = x + wide - width(line, style) if self.columns[index].right else x
            page.text(start, base, line, style)
            if target is not None or cell.linker is not None:
                self._link_line(cell, (line, style, target), (start, base))

    def _link_line(self, cell: Cell, set_line: Line, origin: tuple[float, float]) -> None:
        line, style, whole = set_line
        spans: list[Span] = []
        if whole is not None:
            spans.extend([(0, len(line), whole)] if line else [])
        elif cell.linker is not None:
            spans.extend(cell.linker(line))
        for begin, end, target in spans:
            box = Box(
                x=origin[0] + width(Shown(line[:begin]), style),
                y=origin[1] - style.size * 0.28,
                wide=width(Shown(line[begin:end]), style),
                high=style.size * 1.1,
            )
            self.flow.page.links.append((box, target))
            underline(self.flow.page, box)

    def _draw_picture(self, picture: Picture, top: float) -> None:
        x = self.lefts[picture.column]
        wide, high = picture.box_wide, picture.box_high
        if picture.jpeg is None:
            box = Box(x=x, y=top - high, wide=wide, high=high)
            self.flow.page.box(box, fill=0.95, stroke=0.5, thickness=0.4)
            small = Style(size=6.4, leading=8.2)
            lines = wrap(picture.caption, small, wide - 10)
            y = top - (high - len(lines) * small.leading) / 2
            for line in lines:
                y -= small.leading
                self.flow.page.text(x + 5, y + 2, line, small)
            return
        scale = min(wide / picture.aspect, high)
        drawn = Box(x=x, y=top - scale, wide=scale * picture.aspect, high=scale)
        self.flow.page.pictures.append((drawn, picture.jpeg))
        self.flow.page.box(drawn, stroke=0.4, thickness=0.3)


def _height(cells: list[list[Line]]) -> float:
    return max((sum(style.leading for _, style, _ in lines) for lines in cells), default=0.0)


def _lines_that_fit(cells: list[list[Line]], room: float) -> int:
    """How many lines of every cell stand within `room` points; at least one."""
    longest = max(len(lines) for lines in cells)
    if _height(cells) <= room:
        return longest
    count = 1
    while count < longest and _height([lines[: count + 1] for lines in cells]) <= room:
        count += 1
    return count


def facts(
    flow: Flow,
    pairs: Iterable[tuple[str, str | Cell]],
    *,
    share: float = 2.6,
    wide: float | None = None,
    style: Style = CELL,
    name_style: Style = CELL_STRONG,
) -> None:
    """A list of names and values, without column titles."""
    columns = (Column(title="", share=1.0), Column(title="", share=share))
    rows = (
        Row(
            cells=(
                Cell(text=name, style=name_style),
                value if isinstance(value, Cell) else Cell(text=value, style=style),
            )
        )
        for name, value in pairs
    )
    Table(flow, columns, titled=False, wide=wide, pad=PAD_PT if style is CELL else 1.6).draw(rows)
