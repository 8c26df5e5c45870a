"""Filling pages from top to bottom: headings, prose, lists, and the furniture of every page."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from evidpack.index.sheet import PAPER_SIZES, Box, Page, PaperName
from evidpack.index.typeface import Shown, Style, Typeface, fit, shown, width, wrap

BODY: Final = Style(size=8.5, leading=12.0)
STRONG: Final = Style(face=Typeface.BOLD, size=8.5, leading=12.0)
CELL: Final = Style(size=7.5, leading=9.8)
CELL_STRONG: Final = Style(face=Typeface.BOLD, size=7.5, leading=9.8)
CELL_QUIET: Final = Style(size=7.0, leading=9.8, grey=0.32)
COLUMN_TITLE: Final = Style(face=Typeface.BOLD, size=6.8, leading=8.8)
DIGEST: Final = Style(face=Typeface.MONO, size=7.0, leading=9.8)
GROUPS: Final = Style(face=Typeface.MONO, size=9.0, leading=13.0)
TITLE: Final = Style(face=Typeface.BOLD, size=20.0, leading=25.0)
REFERENCE: Final = Style(face=Typeface.BOLD, size=13.0, leading=17.0)
CHAPTER: Final = Style(face=Typeface.BOLD, size=14.0, leading=18.0)
SECTION: Final = Style(face=Typeface.BOLD, size=10.0, leading=14.0)
HEAD: Final = Style(size=7.2, leading=9.6)
HEAD_STRONG: Final = Style(face=Typeface.BOLD, size=7.2, leading=9.6)
HEAD_DIGEST: Final = Style(face=Typeface.MONO, size=6.2, leading=9.0, grey=0.2)
FOOT: Final = Style(size=6.6, leading=8.6)

SIDE_PT: Final = 54.0
EDGE_PT: Final = 34.0  # from the edge of the paper to head and foot


@dataclass(frozen=True, slots=True, kw_only=True)
class Furniture:
    """What stands at the head and foot of every page."""

    kind: str  # of document
    reference: str
    digest_name: str
    digest: str
    warning: str
    mark: str  # at the foot, right: document number, version

    def head_lines(self, available: float) -> tuple[Shown, ...]:
        """The reference, wrapped beside the room that the page number takes."""
        return wrap(f"{self.kind}  ·  {self.reference}", HEAD_STRONG, available - 90)


class Flow:
    """A cursor that moves down the page and opens the next one."""

    def __init__(self, *, paper: PaperName, furniture: Furniture) -> None:
        self.paper: PaperName = paper
        self.furniture = furniture
        self.page_width, self.page_height = PAPER_SIZES[paper]
        self.left = SIDE_PT
        self.right = self.page_width - SIDE_PT
        self.wide = self.right - self.left
        self._head = furniture.head_lines(self.wide)
        self._foot = wrap(furniture.warning, FOOT, self.wide)
        head_height = len(self._head) * HEAD.leading + HEAD_DIGEST.leading
        self.top = self.page_height - EDGE_PT - head_height - 20
        self.bottom = EDGE_PT + (len(self._foot) + 1) * FOOT.leading + 12
        self.pages: list[Page] = []
        self.y = self.top
        self.on_new_page: Callable[[], None] | None = None
        self.new_page()

    @property
    def page(self) -> Page:
        """The page being filled."""
        return self.pages[-1]

    @property
    def room(self) -> float:
        """Points left above the foot."""
        return self.y - self.bottom

    @property
    def fresh(self) -> bool:
        """Nothing stands on this page yet."""
        return self.y >= self.top

    def new_page(self) -> None:
        """Open a page; a running table repeats its column titles there."""
        self.pages.append(Page())
        self.y = self.top
        if self.on_new_page is not None:
            self.on_new_page()

    def need(self, height: float) -> None:
        """Go to the next page unless `height` points are left on this one."""
        if self.room < height and not self.fresh:
            self.new_page()

    def space(self, height: float) -> None:
        """Leave room, but not at the head of a page."""
        if not self.fresh:
            self.y -= height

    def anchor(self, name: str, *, above: float = 14.0) -> None:
        """A place to link to, at the cursor."""
        self.page.anchors.append((name, min(self.y + above, self.page_height)))

    def chapter(self, title: str, anchor: str, *, keep: float = 190.0) -> None:
        """A numbered part of the document, on a new page where little room is left."""
        if not self.fresh:
            self.space(20)
            self.need(keep + CHAPTER.leading)
        self.anchor(anchor)
        self.page.outline.append((title, anchor, 0))
        for line in wrap(title, CHAPTER, self.wide):
            self.y -= CHAPTER.leading
            self.page.text(self.left, self.y + 4, line, CHAPTER)
        self.page.line((self.left, self.y - 2), (self.right, self.y - 2), thickness=1.0)
        self.y -= 12

    def section(self, title: str, anchor: str | None = None, *, keep: float = 60.0) -> None:
        """A heading within a chapter, kept with what follows."""
        self.space(10)
        self.need(keep)
        if anchor is not None:
            self.anchor(anchor)
            self.page.outline.append((title, anchor, 1))
        for line in wrap(title, SECTION, self.wide):
            self.line(line, SECTION)
        self.y -= 3

    def line(self, text: Shown, style: Style, *, indent: float = 0.0) -> None:
        """One line of printable text at the cursor."""
        self.need(style.leading)
        self.y -= style.leading
        self.page.text(self.left + indent, self.y + style.leading * 0.28, text, style)

    def paragraph(
        self,
        text: str,
        style: Style = BODY,
        *,
        after: float = 5.0,
        indent: float = 0.0,
        wide: float | None = None,
    ) -> None:
        """Prose, ragged right; a line feed begins a new line."""
        available = (self.wide if wide is None else wide) - indent
        lines = [line for part in text.split("\n") for line in wrap(part, style, available)]
        self.need(min(len(lines), 2) * style.leading)
        for line in lines:
            self.line(line, style, indent=indent)
        self.y -= after

    def points(self, texts: Sequence[str], style: Style = BODY, *, gap: float = 2.0) -> None:
        """A list, each text behind a dash and `gap` points from the next."""
        for text in texts:
            lines = wrap(text, style, self.wide - 12)
            self.need(min(len(lines), 3) * style.leading)
            self.page.text(self.left, self.y - style.leading * 0.72, shown("–", style.face), style)
            for line in lines:
                self.line(line, style, indent=12)
            self.y -= gap
        self.y -= 3

    def finish(self) -> list[Page]:
        """Put head and foot on every page now that their number is known."""
        for number, page in enumerate(self.pages, start=1):
            self._furnish(page, number)
        return self.pages

    def _furnish(self, page: Page, number: int) -> None:
        furniture = self.furniture
        y = self.page_height - EDGE_PT
        count = shown(f"page {number} of {len(self.pages)}", HEAD.face)
        page.text_right(self.right, y - HEAD.size, count, HEAD)
        for line in self._head:
            page.text(self.left, y - HEAD.size, line, HEAD_STRONG)
            y -= HEAD.leading
        name = shown(f"{furniture.digest_name} ", HEAD.face)
        page.text(self.left, y - HEAD.size, name, HEAD)
        digest = shown(furniture.digest, HEAD_DIGEST.face)
        page.text(self.left + width(name, HEAD), y - HEAD.size, digest, HEAD_DIGEST)
        y -= HEAD_DIGEST.leading + 3
        page.line((self.left, y), (self.right, y), thickness=0.6)
        y = EDGE_PT + (len(self._foot) + 1) * FOOT.leading
        page.line((self.left, y + 3), (self.right, y + 3), thickness=0.6)
        for line in [*self._foot, fit(furniture.mark, FOOT, self.wide)]:
            y -= FOOT.leading
            page.text(self.left, y + 1, line, FOOT)


def underline(page: Page, box: Box) -> None:
    """The mark of a link: a thin dotted rule, which shows in print without shouting."""
    y = box.y + 1
    page.line((box.x, y), (box.x + box.wide, y), thickness=0.4, grey=0.25, dash=(1.0, 1.2))
