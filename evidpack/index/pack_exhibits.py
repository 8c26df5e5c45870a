"""The chapters of a pack's index that show something: exhibits, and what is redacted in them."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from typing import Final

from evidpack.checks.saying import spans
from evidpack.errors import EvidpackError
from evidpack.index.flow import CELL, CELL_QUIET, CELL_STRONG, Flow
from evidpack.index.pack_content import (
    PackContent,
    PackExhibit,
    PackRedaction,
)
from evidpack.index.pack_wording import (
    CLOSED_INTRO,
    NO_REDACTIONS,
    NOT_RELEVANT_INTRO,
    REDACTIONS_INTRO,
    RELIED_ON_INTRO,
    UNUSED_INTRO,
)
from evidpack.index.phrases import moment_text
from evidpack.index.table import Cell, Column, Paragraph, Picture, Row, Table
from evidpack.index.thumbnails import jpeg_size
from evidpack.index.typeface import Style, Typeface

_DIGEST_STYLE: Final = Style(face=Typeface.MONO, size=6.2, leading=9.0)
_DIGEST: Final = re.compile(r"[0-9a-f]{64}")

Thumbnail = Callable[[str], bytes | None]

SHOWN: Final = ("released", "redacted")
_BECAME: Final = {
    "released": "whole",
    "redacted": "redacted",
    "inspect": "to be viewed by appointment",
    "withheld": "withheld",
    "withdrawn": "withdrawn",
}
_PARTS: Final = (
    ("relied on", "Relied on", "relied-on", RELIED_ON_INTRO),
    ("unused", "Unused", "unused", UNUSED_INTRO),
    ("not relevant", "Other", "other", NOT_RELEVANT_INTRO),
)
_PICTURE: Final = (104.0, 68.0)
_LARGE_PICTURE: Final = (176.0, 120.0)


def exhibit_anchor(number: int) -> str:
    """Where an exhibit is shown."""
    return f"exhibit-{number}"


def redaction_anchor(number: int) -> str:
    """Where it is said what is redacted in an exhibit."""
    return f"redaction-{number}"


def draw_exhibits(flow: Flow, content: PackContent, chapter: int, *, thumbnail: Thumbnail) -> None:
    """What is disclosed and what is described, by use: relied on and unused apart."""
    flow.chapter(f"{chapter}  What is disclosed", "exhibits")
    flow.paragraph(
        "An exhibit keeps its number in later issues. “new” marks what an earlier issue did not show."
        if content.issue > 1
        else "An exhibit keeps its number in later issues, which number on from here."
    )
    elsewhere = {one.exhibit for one in content.findings}
    for use, title, anchor, intro in _PARTS:
        of_use = [one for one in content.exhibits if one.use == use and one.became != "withdrawn"]
        if not of_use and use == "not relevant":
            continue
        chosen = [one for one in of_use if one.became in SHOWN]
        described = [one.number for one in of_use if one.became not in SHOWN]
        flow.section(title, anchor, keep=110)
        flow.paragraph(intro if of_use else f"{intro} There is nothing of this kind in this issue.")
        if described:
            flow.paragraph(
                f"Described and not shown, in chapter {chapter + 3}: {_exhibits_text(described)}."
            )
        if not chosen:
            continue
        findings = [one.number for one in chosen if one.number in elsewhere]
        pictures = [one for one in chosen if one.picture and one.became in SHOWN]
        apart = {*findings, *(one.number for one in pictures)}
        _draw_pictures(flow, content, pictures, thumbnail)
        _draw_plain(flow, [one for one in chosen if one.number not in apart])
        if findings:
            flow.paragraph(
                f"And findings, shown in chapter {chapter + 2}: {_exhibits_text(findings)}."
            )


def _exhibits_text(numbers: Sequence[int]) -> str:
    which = "exhibit" if len(numbers) == 1 else "exhibits"
    return f"{which} {spans(numbers, listed=len(numbers))}"


def _draw_pictures(
    flow: Flow, content: PackContent, exhibits: Sequence[PackExhibit], thumbnail: Thumbnail
) -> None:
    if not exhibits:
        return
    columns = (
        Column(title="Exhibit", share=0.5, right=True),
        Column(title="Reduced", points=_PICTURE[0] + 2),
        Column(title="What it is", share=2.6),
        Column(title="Shown", share=1.0),
        Column(title="Why", share=1.8),
    )
    redacted = {one.exhibit for one in content.redactions}
    Table(flow, columns).draw(
        _exhibit_row(one, redacted, picture=_picture(one.name or "", thumbnail, _PICTURE, column=1))
        for one in exhibits
    )
    flow.space(4)


def _draw_plain(flow: Flow, exhibits: Sequence[PackExhibit]) -> None:
    if not exhibits:
        return
    columns = (
        Column(title="Exhibit", share=0.5, right=True),
        Column(title="What it is", share=4.0),
        Column(title="Shown", share=1.0),
        Column(title="Why", share=2.0),
    )
    Table(flow, columns).draw(_exhibit_row(one, frozenset()) for one in exhibits)


def _exhibit_row(
    one: PackExhibit, redacted: Iterable[int], *, picture: Picture | None = None
) -> Row:
    """One exhibit. A link leads from a redacted picture to what is redacted in it."""
    more: list[Paragraph] = []
    if one.name is not None:
        more.append((one.name, CELL_QUIET))
    more += _details(one)
    if one.closed:
        more.append((f"kept closed: {', '.join(one.closed)}", CELL_QUIET))
    target = redaction_anchor(one.number) if one.number in redacted else None
    state = [(text, CELL_QUIET) for text in (f"{one.kind} {one.entry}", "new" if one.new else "")]
    cells = [
        Cell(text=str(one.number), style=CELL_STRONG),
        Cell(text=one.description, style=CELL_STRONG, more=tuple(more)),
        Cell(text=_BECAME[one.became], more=tuple(one for one in state if one[0]), target=target),
        Cell(text=one.reason),
    ]
    if picture is not None:
        cells.insert(1, Cell(text=""))
    return Row(cells=cells, anchor=exhibit_anchor(one.number), picture=picture)


def _details(one: PackExhibit) -> list[Paragraph]:
    """Opened values in one run of text, digests on lines of their own."""
    digests = [(name, value) for name, value in one.details if _DIGEST.fullmatch(value)]
    others = [f"{name}: {value}" for name, value in one.details if not _DIGEST.fullmatch(value)]
    found: list[Paragraph] = [("; ".join(others), CELL)] if others else []
    for name, value in digests:
        found += [(f"{name}:", CELL_QUIET), (value, _DIGEST_STYLE)]
    return found


def _picture(name: str, thumbnail: Thumbnail, box: tuple[float, float], *, column: int) -> Picture:
    wide, high = box
    try:
        jpeg, why = thumbnail(name), "This picture can't be shown here."
    except EvidpackError as error:
        jpeg, why = None, error.message
    size = None if jpeg is None else jpeg_size(jpeg)
    if jpeg is None or size is None:
        return Picture(column=column, jpeg=None, box_wide=wide, box_high=high, caption=why)
    aspect = size[0] / size[1]
    drawn = min(wide / aspect, high)
    return Picture(column=column, jpeg=jpeg, box_wide=wide, box_high=drawn, aspect=aspect)


def draw_redactions(
    flow: Flow, content: PackContent, chapter: int, *, thumbnail: Thumbnail
) -> None:
    """What is covered in pictures and closed in records, and why."""
    flow.chapter(f"{chapter}  What is redacted, and why", "redactions", keep=150)
    flow.paragraph(REDACTIONS_INTRO if content.redactions else NO_REDACTIONS)
    if content.redactions:
        columns = (
            Column(title="Exhibit", share=0.5, right=True),
            Column(title="The copy, reduced", points=_LARGE_PICTURE[0] + 2),
            Column(title="What is covered", share=2.2),
            Column(title="Why, by whom, when", share=1.9),
        )
        Table(flow, columns).draw(_redaction_row(one, thumbnail) for one in content.redactions)
    closed = [one for one in content.exhibits if one.closed and one.kind != "file"]
    if closed:
        flow.section("Fields kept closed", "closed-fields", keep=90)
        flow.paragraph(CLOSED_INTRO)
        columns = (
            Column(title="Exhibit", share=0.5, right=True),
            Column(title="What it is", share=2.4),
            Column(title="Kept closed", share=2.2),
            Column(title="Why", share=2.0),
        )
        Table(flow, columns).draw(
            Row(
                cells=(
                    Cell(
                        text=str(one.number), style=CELL_STRONG, target=exhibit_anchor(one.number)
                    ),
                    Cell(text=one.description),
                    Cell(text=", ".join(one.closed)),
                    Cell(text=one.reason),
                )
            )
            for one in closed
        )


def _redaction_row(one: PackRedaction, thumbnail: Thumbnail) -> Row:
    share = 100 * one.tiles_closed / one.tiles
    cover = (
        f"{one.tiles_closed} of {one.tiles} squares, {share:.1f} % of {one.width_px} × "
        f"{one.height_px} pixels"
    )
    return Row(
        cells=(
            Cell(text=str(one.exhibit), style=CELL_STRONG, target=exhibit_anchor(one.exhibit)),
            Cell(text=""),
            Cell(
                text=cover,
                more=(
                    *((f"asked for: {region}", CELL) for region in one.regions),
                    (one.name, CELL_QUIET),
                ),
            ),
            Cell(text=one.reason, more=((one.by, CELL_QUIET), (moment_text(one.at), CELL_QUIET))),
        ),
        anchor=redaction_anchor(one.exhibit),
        picture=_picture(one.name, thumbnail, _LARGE_PICTURE, column=1),
    )
