"""Pages as lists of things to draw, and their painting to a PDF file.

Laying out comes first and painting last, since only then is the number of pages known.  All
lengths are points (1/72 inch) from the lower left corner of the page.

The same pages and the same `Imprint` give the same bytes in any process: every setting of the PDF
library that could come from the environment is fixed here, and the file's dates are the imprint's.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from io import BytesIO
from typing import Any, Final, Literal

from reportlab import rl_config
from reportlab.pdfbase import pdfdoc
from reportlab.pdfgen.canvas import Canvas

from evidpack.index.typeface import Shown, Style, Typeface, load, width

PaperName = Literal["A4", "Letter"]
PAPER_SIZES: Final[dict[PaperName, tuple[float, float]]] = {
    "A4": (595.276, 841.890),
    "Letter": (612.0, 792.0),
}
Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A path through `points`; `fill` and `stroke` are greys (0 black, 1 white) or None."""

    points: tuple[Point, ...]
    closed: bool = True
    fill: float | None = None
    stroke: float | None = None
    thickness: float = 0.5
    dash: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A rectangle by its lower left corner."""

    x: float
    y: float
    wide: float
    high: float


@dataclass(slots=True)
class Page:
    """One page, in the order in which things were laid out."""

    texts: list[tuple[float, float, Shown, Style]] = field(default_factory=list)
    shapes: list[Shape] = field(default_factory=list)
    pictures: list[tuple[Box, bytes]] = field(default_factory=list)
    links: list[tuple[Box, str]] = field(default_factory=list)
    anchors: list[tuple[str, float]] = field(default_factory=list)
    outline: list[tuple[str, str, int]] = field(default_factory=list)

    def text(self, x: float, y: float, text: Shown, style: Style) -> None:
        """A text whose base line begins at (x, y)."""
        if text:
            self.texts.append((x, y, text, style))

    def text_right(self, x: float, y: float, text: Shown, style: Style) -> None:
        """A text whose base line ends at (x, y)."""
        self.text(x - width(text, style), y, text, style)

    def line(
        self,
        start: Point,
        end: Point,
        *,
        thickness: float = 0.5,
        grey: float = 0.0,
        dash: tuple[float, ...] = (),
    ) -> None:
        """A straight line."""
        self.shapes.append(
            Shape(points=(start, end), closed=False, stroke=grey, thickness=thickness, dash=dash)
        )

    def box(
        self,
        box: Box,
        *,
        fill: float | None = None,
        stroke: float | None = None,
        thickness: float = 0.5,
    ) -> None:
        """A rectangle, filled, outlined or both."""
        x, y, right, top = box.x, box.y, box.x + box.wide, box.y + box.high
        self.shapes.append(
            Shape(
                points=((x, y), (right, y), (right, top), (x, top)),
                fill=fill,
                stroke=stroke,
                thickness=thickness,
            )
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Imprint:
    """What the file says of itself. `moment` (aware) becomes its dates of making and change."""

    title: str
    subject: str
    author: str
    creator: str
    moment: datetime


def paint(pages: Sequence[Page], *, paper: PaperName, imprint: Imprint) -> bytes:
    """The PDF file of these pages. The same input gives the same bytes."""
    target = BytesIO()
    with _fixed_settings():
        canvas = _new_canvas(target, paper, imprint)
        known = {name for page in pages for name, _ in page.anchors}
        pictures: dict[bytes, str] = {}
        for page in pages:
            _paint_page(canvas, page, known, pictures)
            canvas.showPage()
        canvas.save()
    return target.getvalue()


@contextmanager
def _fixed_settings() -> Iterator[None]:
    """Settings of the PDF library that its users may change by files or variables."""
    fixed = {"useA85": 0, "invariant": 1, "pdfComments": 0}
    before = {name: getattr(rl_config, name) for name in fixed}
    for name, value in fixed.items():
        setattr(rl_config, name, value)
    try:
        yield
    finally:
        for name, value in before.items():
            setattr(rl_config, name, value)


def _new_canvas(target: BytesIO, paper: PaperName, imprint: Imprint) -> Any:
    load(Typeface.SANS)  # registers the font that the canvas begins with
    canvas = Canvas(
        target,
        pagesize=PAPER_SIZES[paper],
        pageCompression=1,
        invariant=1,
        initialFontName=Typeface.SANS.value,
        initialFontSize=8,
        initialLeading=10,
        lang="en-GB",
    )
    for face in Typeface:
        load(face).font.splitString("", canvas._doc)  # noqa: SLF001  opens the first subset
    moment = imprint.moment.astimezone(UTC)
    canvas.setTitle(imprint.title)
    canvas.setAuthor(imprint.author)
    canvas.setSubject(imprint.subject)
    canvas.setCreator(imprint.creator)
    canvas.setProducer("reportlab")
    # The library would take its dates from SOURCE_DATE_EPOCH where that is set, and would begin
    # the file's identifier with them.
    canvas.setDateFormatter(lambda *_: moment.strftime("D:%Y%m%d%H%M%SZ"))
    canvas._doc.signature = hashlib.sha256(moment.isoformat().encode())  # noqa: SLF001
    return canvas


def _paint_page(canvas: Any, page: Page, known: set[str], pictures: dict[bytes, str]) -> None:
    _paint_shapes(canvas, page)
    for box, jpeg in page.pictures:
        _paint_picture(canvas, box, jpeg, pictures)
    _paint_texts(canvas, page)
    for name, y in page.anchors:
        canvas.bookmarkHorizontal(name, 0, y)
    for title, name, level in page.outline:
        canvas.addOutlineEntry(title, name, level, closed=level > 0)
    for box, name in page.links:
        if name in known:
            canvas._addAnnotation(_Link(box, canvas._bookmarkReference(name)))  # noqa: SLF001


class _Link(pdfdoc.PDFObject):  # type: ignore[misc]
    """A link annotation (ISO 32000-1, 12.5.6.5) without border, written in one go: a large day
    has tens of thousands."""

    def __init__(self, box: Box, destination: Any) -> None:
        self._box = box
        self._destination = destination

    def format(self, document: Any) -> bytes:
        box, place = self._box, self._destination.format(document).decode("ascii")
        area = f"{box.x:.2f} {box.y:.2f} {box.x + box.wide:.2f} {box.y + box.high:.2f}"
        return (
            f"<< /Type /Annot /Subtype /Link /F 4 /Border [ 0 0 0 ] /Rect [ {area} ] "
            f"/Dest {place} >>"
        ).encode("ascii")


def _paint_shapes(canvas: Any, page: Page) -> None:
    """Path operators (ISO 32000-1, 8.5), written directly: the library's own way of formatting
    numbers costs more than all the rest of the painting."""
    code = canvas._code  # noqa: SLF001
    for shape in page.shapes:
        parts = []
        if shape.fill is not None:
            parts.append(f"{shape.fill:g} g")
        if shape.stroke is not None:
            dash = " ".join(f"{length:g}" for length in shape.dash)
            parts.append(f"{shape.stroke:g} G {shape.thickness:g} w [{dash}] 0 d")
        operator = "m"
        for x, y in shape.points:
            parts.append(f"{x:.2f} {y:.2f} {operator}")
            operator = "l"
        parts.append("h" if shape.closed else "")
        parts.append("n" if shape.fill is None and shape.stroke is None else _finish(shape))
        code.append(" ".join(parts))


def _finish(shape: Shape) -> str:
    if shape.fill is None:
        return "S"
    return "f" if shape.stroke is None else "B"


def _paint_texts(canvas: Any, page: Page) -> None:
    """Text operators (ISO 32000-1, 9.4), one text object a page, in the order of laying out."""
    document = canvas._doc  # noqa: SLF001
    parts = ["BT"]
    current: Style | None = None
    selected = first = ""
    font: Any = None
    for x, y, text, style in page.texts:
        if style is not current:
            current, selected = style, ""
            parts.append(f"{style.grey:g} g")
            font = load(style.face).font
            first = font.getSubsetInternalName(0, document)
        parts.append(f"1 0 0 1 {x:.2f} {y:.2f} Tm")
        # ASCII stands at its own codes in the first subset (see `typeface.load`), so that the
        # library need not look at every character.
        if text.isascii():
            pieces = [(first, text)]
        else:
            pieces = [
                (font.getSubsetInternalName(subset, document), codes.decode("latin-1"))
                for subset, codes in font.splitString(text, document)
            ]
        for name, codes in pieces:
            if name != selected:
                parts.append(f"{name} {style.size:g} Tf")
                selected = name
            plain = codes.isascii() and _TO_ESCAPE.search(codes) is None
            parts.append(f"({codes if plain else codes.translate(_ESCAPES)}) Tj")
    parts.append("ET")
    canvas._code.append("\n".join(parts))  # noqa: SLF001


# Within a string of a content stream: brackets and backslash escaped, what is no ASCII in octal
# (ISO 32000-1, 7.3.4.2).
_ESCAPES: Final = {
    code: f"\\{code:03o}" for code in (*range(32), *range(127, 256), *map(ord, "\\()"))
}
_TO_ESCAPE: Final = re.compile(r"[\\()\x00-\x1f\x7f]")


def _paint_picture(canvas: Any, box: Box, jpeg: bytes, pictures: dict[bytes, str]) -> None:
    """Draw a JPEG as it is, without decoding it; the same bytes are stored once.

    `Canvas.drawImage` would decode every picture only to name it.
    """
    digest = hashlib.sha256(jpeg).digest()
    document = canvas._doc  # noqa: SLF001
    name = pictures.get(digest)
    if name is None:
        name = pictures[digest] = f"picture{len(pictures)}"
        image = pdfdoc.PDFImageXObject(name)
        image.loadImageFromJPEG(BytesIO(jpeg))
        canvas._setXObjects(image)  # noqa: SLF001
        document.Reference(image, document.getXObjectName(name))
        document.addForm(name, image)
    # The unit square of the image, scaled and moved (ISO 32000-1, 8.9.5).
    place = f"{box.wide:.2f} 0 0 {box.high:.2f} {box.x:.2f} {box.y:.2f} cm"
    canvas._code.append(f"q {place} /{document.getXObjectName(name)} Do Q")  # noqa: SLF001
    canvas._formsinuse.append(name)  # noqa: SLF001
