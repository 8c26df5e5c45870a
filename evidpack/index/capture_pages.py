"""The chapter on captures: one row each, with its picture."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Final

from evidpack.errors import EvidpackError
from evidpack.index.assembly import Assembly, Capture, finding_anchor
from evidpack.index.flow import CELL, CELL_QUIET, CELL_STRONG, Flow
from evidpack.index.phrases import (
    ABSENT,
    length_text,
    outcome_text,
    speed_text,
    stamp_text,
)
from evidpack.index.table import Cell, Column, Picture, Row, Table
from evidpack.index.thumbnails import jpeg_size
from evidpack.index.typeface import Style
from evidpack.model.findings import Outcome

Thumbnail = Callable[[str], bytes | None]
Paragraph = tuple[str, Style]

_PICTURE_WIDE_PT: Final = 92.0
_PICTURE_HIGH_PT: Final = 62.0
_AHEAD: Final = 64  # pictures made before they are drawn
_COLUMNS: Final = (
    Column(title="Exhibit", share=1.0),
    Column(title="First still, reduced", share=1.52),
    Column(title="Time as recorded, speed, range", share=1.85),
    Column(title="Stills and clips", share=2.2),
    Column(title="Findings about it", share=1.35),
)


def draw_captures(
    flow: Flow, day: Assembly, chapter: int, *, thumbnail: Thumbnail, workers: int
) -> None:
    """Every capture in the order of its number, which is its exhibit number."""
    flow.chapter(f"{chapter}  Captures", "captures")
    if not day.captures:
        flow.paragraph("There is no capture among the records.")
        return
    flow.paragraph(
        "A capture's number is its exhibit number. Times carry the offset of the clock's declared "
        "zone. The limit is the speed limit that the reading names; nothing has been deducted "
        "from a speed. Findings that pass are counted, the others named; each is in chapter 5."
    )
    Table(flow, _COLUMNS).draw(_rows(flow, day, _pictures(day, thumbnail, workers)))


def _rows(flow: Flow, day: Assembly, pictures: Iterator[bytes | None]) -> Iterator[Row]:
    page = 0
    for capture, jpeg in zip(day.captures, pictures, strict=True):
        yield _row(day, capture, jpeg)
        if len(flow.pages) != page:  # the row just drawn began a page: an outline entry for it
            page = len(flow.pages)
            flow.page.outline.append((f"From exhibit {capture.number}", capture.anchor, 1))


def _pictures(day: Assembly, thumbnail: Thumbnail, workers: int) -> Iterator[bytes | None]:
    """The picture of each capture in turn, made a little ahead by `workers` threads."""

    def make(capture: Capture) -> bytes | None:
        if not capture.stills:
            return None
        try:
            return thumbnail(capture.stills[0])
        except EvidpackError:  # a picture that can't be made is said to be so where it would stand
            return None

    if workers <= 1:
        yield from map(make, day.captures)
        return
    with ThreadPoolExecutor(max_workers=workers) as pool:
        for start in range(0, len(day.captures), _AHEAD):
            yield from pool.map(make, day.captures[start : start + _AHEAD])


def _row(day: Assembly, capture: Capture, jpeg: bytes | None) -> Row:
    size = None if jpeg is None else jpeg_size(jpeg)
    picture = Picture(
        column=1,
        jpeg=None if size is None else jpeg,
        box_wide=_PICTURE_WIDE_PT,
        box_high=_PICTURE_HIGH_PT if capture.stills else 26.0,
        aspect=1.5 if size is None else size[0] / size[1],
        caption="this still can't be shown" if capture.stills else "no still joined",
    )
    adverse = any(indexed.finding.adverse for indexed in day.findings_of.get(capture.number, ()))
    return Row(
        cells=(
            _name_cell(capture),
            Cell(text=""),
            _measured_cell(capture),
            _items_cell(day, capture),
            _findings_cell(day, capture),
        ),
        anchor=capture.anchor,
        bar=adverse,
        picture=picture,
    )


def _name_cell(capture: Capture) -> Cell:
    more: list[Paragraph] = []
    identifier = capture.record.text("capture")
    if identifier:
        more.append((identifier, CELL))
    session = capture.record.text("session")
    how = " (by time)" if capture.record.text("session_how") == "by time" else ""
    more.append((f"session {session}{how}" if session else "no session", CELL_QUIET))
    more.append((f"entry {capture.entry}", CELL_QUIET))
    return Cell(text=f"Exhibit {capture.number}", style=CELL_STRONG, more=tuple(more))


def _measured_cell(capture: Capture) -> Cell:
    record = capture.shown
    limit = speed_text(record, "limit")
    more: list[Paragraph] = [
        (f"{speed_text(record, 'speed')}  (limit {limit})", CELL_STRONG),
        (f"range {length_text(record, 'range')}", CELL),
    ]
    if record.text("direction"):
        more.append((record.text("direction") or "", CELL))
    if record.flag("discarded"):
        more.append(("discarded by the operator", CELL_STRONG))
    if record.text("remark"):
        more.append((record.text("remark") or "", CELL_QUIET))
    return Cell(text=stamp_text(record, "time"), more=tuple(more))


def _items_cell(day: Assembly, capture: Capture) -> Cell:
    lines: list[Paragraph] = []
    for path in (*capture.stills, *capture.clips):
        file = day.files.get(path)
        entry = "no file entry" if file is None else f"entry {file.number}"
        lines.append((f"{path}  ({entry})", CELL))
    if not lines:
        lines.append(("none joined", CELL_QUIET))
    how = capture.record.text("how")
    if how is not None:
        lines.append((f"joined by {how}", CELL_QUIET))
    if capture.reading is not None:
        source = capture.reading.record.source
        lines.append((f"reading: entry {capture.reading.number}, {source}", CELL_QUIET))
    for review in day.reviews_of.get(capture.record.text("capture") or "", ()):
        lines.append((f"reviewed by {review.text('reviewer') or ABSENT}", CELL_QUIET))
    (first, style), *more = lines
    return Cell(text=first, style=style, more=tuple(more), linker=day.links)


def _findings_cell(day: Assembly, capture: Capture) -> Cell:
    named: list[Paragraph] = []
    targets: dict[str, str] = {}
    passed = 0
    for indexed in day.findings_of.get(capture.number, ()):
        finding = indexed.finding
        if finding.outcome in {Outcome.PASS, Outcome.NOT_APPLICABLE} and not finding.adverse:
            passed += 1
            continue
        text = f"entry {indexed.number}: {finding.check} {outcome_text(finding)}"
        targets[f"entry {indexed.number}:"] = finding_anchor(indexed.number)
        named.append((text, CELL_STRONG if finding.adverse else CELL))
    if passed:
        named.append((f"{passed} passed or not applicable", CELL_QUIET))
    if not named:
        return Cell(text="none about this capture alone", style=CELL_QUIET)

    def link(line: str) -> list[tuple[int, int, str]]:
        return [(0, len(key) - 1, target) for key, target in targets.items() if line.startswith(key)]

    (first, style), *more = named
    return Cell(text=first, style=style, more=tuple(more), linker=link)
