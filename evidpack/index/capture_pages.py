"""The chapter on captures: one row each, with its picture."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Final

from evidpack.errors import EvidpackError
from evidpack.index.assembly import Assembly, Capture, file_anchor, finding_anchor
from evidpack.index.flow import CELL, CELL_QUIET, CELL_STRONG, Flow
from evidpack.index.paperwork import draw_records, text_of, time_of
from evidpack.index.phrases import (
    ABSENT,
    length_text,
    outcome_text,
    speed_text,
    stamp_text,
)
from evidpack.index.table import Cell, Column, Paragraph, Picture, Row, Table
from evidpack.index.thumbnails import jpeg_size
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Outcome

Thumbnail = Callable[[str], bytes | None]

_PICTURE_WIDE_PT: Final = 92.0
_PICTURE_HIGH_PT: Final = 54.0
_AHEAD: Final = 64  # pictures made before they are drawn
_COLUMNS: Final = (
    Column(title="Exhibit", share=1.0),
    Column(title="First still, reduced", points=_PICTURE_WIDE_PT + 2),
    Column(title="Time as recorded, speed, range", share=1.85),
    Column(title="Stills and clips", share=2.2),
    Column(title="Findings about it", share=1.35),
)
_APART: Final = ("unmatched", "doubly matched", "not declared")
_APART_SPECS: Final = (
    ("Joined", 1.0, text_of("joined")),
    ("Captures", 1.0, text_of("captures")),
    ("Identifier", 1.0, text_of("capture")),
    ("Image number", 0.8, text_of("image_number")),
    ("Time", 1.6, time_of("time")),
)


def draw_captures(
    flow: Flow, day: Assembly, chapter: int, *, thumbnail: Thumbnail, workers: int
) -> None:
    """Every capture in the order of its number, which is its exhibit number."""
    flow.chapter(f"{chapter}  Captures", "captures")
    if day.captures:
        _draw_table(flow, day, thumbnail, workers)
    else:
        flow.paragraph("There is no capture among the records.")
    for kind, title in ((RecordKind.STILL, "Stills"), (RecordKind.CLIP, "Clips")):
        apart = [i for i in day.of(kind) if i.record.text("joined") in _APART]
        draw_records(flow, day, f"{title} not joined to exactly one capture", apart, _APART_SPECS)


def _draw_table(flow: Flow, day: Assembly, thumbnail: Thumbnail, workers: int) -> None:
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
        if file is None:
            lines.append((f"{path}  (no file entry)", CELL))
        else:
            lines.append((f"{path}  (entry {file.number})", CELL, file_anchor(file.number)))
    if not lines:
        lines.append(("none joined", CELL_QUIET))
    how = capture.record.text("how")
    if how is not None:
        lines.append((f"joined by {how}", CELL_QUIET))
    if capture.reading is not None:
        source = capture.reading.record.source
        lines.append((f"reading: entry {capture.reading.number}, {source}", CELL_QUIET))
    reviews = day.reviews_of.get(capture.record.text("capture") or "", ())
    lines.extend((f"reviewed by {r.text('reviewer') or ABSENT}", CELL_QUIET) for r in reviews)
    return _cell(lines)


def _findings_cell(day: Assembly, capture: Capture) -> Cell:
    named: list[Paragraph] = []
    passed = 0
    for indexed in day.findings_of.get(capture.number, ()):
        finding = indexed.finding
        if finding.outcome in {Outcome.PASS, Outcome.NOT_APPLICABLE} and not finding.adverse:
            passed += 1
            continue
        text = f"entry {indexed.number}: {finding.check} {outcome_text(finding)}"
        style = CELL_STRONG if finding.adverse else CELL
        named.append((text, style, finding_anchor(indexed.number)))
    if passed:
        named.append((f"{passed} passed or not applicable", CELL_QUIET))
    return _cell(named or [("none that names this capture", CELL_QUIET)])


def _cell(paragraphs: list[Paragraph]) -> Cell:
    text, style, *target = paragraphs[0]
    return Cell(
        text=text, style=style, target=target[0] if target else None, more=tuple(paragraphs[1:])
    )
