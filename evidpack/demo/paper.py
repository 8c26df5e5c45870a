"""The day's papers as PDF: certificates, the day report, the deletion note."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

import reportlab
from reportlab.lib.pagesizes import A4
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

_REGULAR: Final = "InventedDayRegular"
_BOLD: Final = "InventedDayBold"
_LEFT: Final = 62.0  # points
_VALUE: Final = 226.0
NOTICE: Final = (
    "Invented for a demonstration. No such person, unit, meter, place or laboratory exists."
)

Rows = Sequence[tuple[str, str]]


def write_paper(
    path: Path, *, title: str, issuer: str, blocks: Sequence[tuple[str, Rows]], signature: str
) -> None:
    """One A4 page: a title, blocks of label and value, and a signature. The same input gives the
    same bytes.
    """
    _fonts()
    sheet = Canvas(
        str(path), pagesize=A4, invariant=1, pageCompression=1, initialFontName=_REGULAR,
        initialFontSize=10,
    )  # fmt: skip
    sheet.setTitle(title)
    sheet.setAuthor(issuer)
    y = _head(sheet, title, issuer)
    for heading, rows in blocks:
        y = _block(sheet, y, heading, rows)
    _foot(sheet, signature)
    sheet.showPage()
    sheet.save()


def _fonts() -> None:
    folder = Path(reportlab.__file__).parent / "fonts"
    for name, file in ((_REGULAR, "Vera.ttf"), (_BOLD, "VeraBd.ttf")):
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(folder / file)))


def _head(sheet: Canvas, title: str, issuer: str) -> float:
    width: float = A4[0]
    height: float = A4[1]
    sheet.setFillGray(0.25)
    sheet.setFont(_REGULAR, 9)
    sheet.drawString(_LEFT, height - 62, issuer)
    sheet.setFillGray(0)
    sheet.setFont(_BOLD, 17)
    sheet.drawString(_LEFT, height - 92, title)
    sheet.setLineWidth(1.2)
    sheet.line(_LEFT, height - 104, width - _LEFT, height - 104)
    return height - 136


def _block(sheet: Canvas, y: float, heading: str, rows: Rows) -> float:
    sheet.setFont(_BOLD, 11)
    sheet.drawString(_LEFT, y, heading)
    y -= 19
    for label, value in rows:
        sheet.setFont(_REGULAR, 9.5)
        sheet.setFillGray(0.3)
        sheet.drawString(_LEFT, y, label)
        sheet.setFillGray(0)
        sheet.drawString(_VALUE, y, value)
        y -= 15.5
    return y - 15


def _foot(sheet: Canvas, signature: str) -> None:
    width, _ = A4
    sheet.setLineWidth(0.5)
    sheet.line(_VALUE, 132, width - _LEFT, 132)
    sheet.setFont(_REGULAR, 9.5)
    sheet.drawString(_LEFT, 136, "Signed")
    sheet.drawString(_VALUE, 118, signature)
    sheet.setFont(_REGULAR, 7.5)
    sheet.setFillGray(0.35)
    sheet.drawString(_LEFT, 60, NOTICE)
