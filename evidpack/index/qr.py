"""A QR code (ISO/IEC 18004, as encoded by reportlab) drawn as one filled path a run of modules."""

from __future__ import annotations

from typing import Final

from reportlab.graphics.barcode import qrencoder

from evidpack.index.sheet import Box, Page

_QUIET_MODULES: Final = 4


def draw_code(page: Page, text: str, *, x: float, top: float, edge: float) -> None:
    """Draw `text` (ASCII) as a square of `edge` points, its quiet zone included."""
    code = qrencoder.QRCode(None, qrencoder.QRErrorCorrectLevel.M)
    code.addData(text)
    code.make()
    count = code.getModuleCount()
    module = edge / (count + 2 * _QUIET_MODULES)
    for row in range(count):
        y = top - (row + 1 + _QUIET_MODULES) * module
        for start, length in _runs([bool(code.isDark(row, column)) for column in range(count)]):
            left = x + (start + _QUIET_MODULES) * module
            page.box(Box(x=left, y=y, wide=length * module, high=module), fill=0.0)


def _runs(dark: list[bool]) -> list[tuple[int, int]]:
    runs: list[tuple[int, int]] = []
    for column, is_dark in enumerate(dark):
        if is_dark and column and dark[column - 1]:
            start, length = runs[-1]
            runs[-1] = (start, length + 1)
        elif is_dark:
            runs.append((column, 1))
    return runs
