"""The chapters of a pack's index: exhibits, redactions, findings, and what is withheld."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from typing import Final

from evidpack.errors import EvidpackError
from evidpack.index.flow import CELL, CELL_QUIET, CELL_STRONG, DIGEST, Flow
from evidpack.index.pack_content import (
    PackContent,
    PackExhibit,
    PackFinding,
    PackRedaction,
    WithheldClass,
)
from evidpack.index.pack_wording import (
    CLOSED_INTRO,
    FINDINGS_INTRO,
    INSPECT_INTRO,
    NO_REDACTIONS,
    NOT_RELEVANT_INTRO,
    REDACTIONS_INTRO,
    RELIED_ON_INTRO,
    UNUSED_INTRO,
    WITHDRAWN_INTRO,
    WITHHELD_DESCRIBED,
    WITHHELD_INTRO,
)
from evidpack.index.phrases import count_text, moment_text, outcome_text, value_text
from evidpack.index.table import Cell, Column, Paragraph, Picture, Row, Table
from evidpack.index.thumbnails import jpeg_size

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
    for use, title, anchor, intro in _PARTS:
        chosen = [one for one in content.exhibits if one.use == use and one.became != "withdrawn"]
        if not chosen and use == "not relevant":
            continue
        flow.section(title, anchor, keep=110)
        flow.paragraph(intro if chosen else f"{intro} There is nothing of this kind in this issue.")
        if not chosen:
            continue
        pictures = [one for one in chosen if one.picture and one.became in SHOWN]
        _draw_pictures(flow, content, pictures, thumbnail)
        drawn = {one.number for one in pictures}
        _draw_plain(flow, [one for one in chosen if one.number not in drawn])


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
        found += [(f"{name}:", CELL_QUIET), (value, DIGEST)]
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


def draw_pack_findings(flow: Flow, content: PackContent, chapter: int) -> None:
    """The findings that are disclosed, the adverse first."""
    flow.chapter(f"{chapter}  Findings", "findings", keep=130)
    flow.paragraph(FINDINGS_INTRO)
    _draw_outcomes(flow, content)
    if content.undisclosed_adverse:
        count = count_text(content.undisclosed_adverse, "query or failure", "queries and failures")
        flow.paragraph(f"Counted by the seal and not shown in this pack: {count}.")
    ordered = sorted(content.findings, key=lambda one: (not one.finding.adverse, one.exhibit))
    if not ordered:
        flow.paragraph("No finding is disclosed in this issue.")
        return
    columns = (
        Column(title="Exhibit", share=0.5, right=True),
        Column(title="Check", share=0.9),
        Column(title="Subject", share=1.0),
        Column(title="Outcome", share=1.0),
        Column(title="Measured / limit", share=1.3),
        Column(title="What it says", share=3.2),
    )
    Table(flow, columns).draw(_finding_row(one, content) for one in ordered)


def _draw_outcomes(flow: Flow, content: PackContent) -> None:
    """How many findings of each outcome were sealed, and how many of them are shown here."""
    if not content.sealed_outcomes:
        return
    shown = Counter(one.finding.outcome.value for one in content.findings)
    columns = (
        Column(title="Outcome", share=1.4),
        *(Column(title=name.capitalize()) for name in content.sealed_outcomes),
    )
    sealed = [Cell(text=str(count)) for count in content.sealed_outcomes.values()]
    here = [Cell(text=str(shown[name])) for name in content.sealed_outcomes]
    rows = (("In the seal, about the whole day", sealed), ("Shown in this pack", here))
    Table(flow, columns).draw(
        Row(cells=[Cell(text=name, style=CELL_STRONG), *cells]) for name, cells in rows
    )
    flow.space(4)


def _finding_row(one: PackFinding, content: PackContent) -> Row:
    finding = one.finding
    more: list[Paragraph] = []
    if finding.advice:
        more.append((f"What helps: {finding.advice}", CELL_QUIET))
    if finding.source:
        more.append((f"Limit from: {finding.source}", CELL_QUIET))
    limit = ((f"limit {value_text(finding.limit, finding.unit)}", CELL_QUIET),)
    label = content.finding_labels.get(finding.check, "")
    return Row(
        cells=(
            Cell(text=str(one.exhibit), style=CELL_STRONG, target=exhibit_anchor(one.exhibit)),
            Cell(text=f"{finding.check} {label}".strip()),
            Cell(text=finding.subject),
            Cell(text=outcome_text(finding), style=CELL_STRONG),
            Cell(
                text=value_text(finding.measured, finding.unit),
                more=() if finding.limit is None else limit,
            ),
            Cell(text=finding.sentence, more=tuple(more)),
        ),
        bar=finding.adverse,
    )


def draw_withheld(flow: Flow, content: PackContent, chapter: int) -> None:
    """What is not shown: by appointment, withheld by class and count, withdrawn."""
    flow.chapter(f"{chapter}  What is not shown", "withheld", keep=130)
    for became, title, anchor, intro in (
        ("inspect", "To be viewed by appointment", "inspect", INSPECT_INTRO),
        ("withheld", "Withheld, and described", "withheld-described", WITHHELD_DESCRIBED),
        ("withdrawn", "Withdrawn", "withdrawn", WITHDRAWN_INTRO),
    ):
        chosen = [one for one in content.exhibits if one.became == became]
        if chosen:
            flow.section(title, anchor, keep=90)
            flow.paragraph(intro)
            _draw_named(flow, chosen)
    flow.section("Withheld, by class and count", "withheld-counts", keep=110)
    flow.paragraph(WITHHELD_INTRO)
    if not content.withheld:
        flow.paragraph("Nothing is withheld without a description.")
        return
    columns = (
        Column(title="Kind", share=0.7),
        Column(title="How many", share=0.7, right=True),
        Column(title="What they are", share=2.6),
        Column(title="Why", share=1.6),
        Column(title="Places on the list", share=2.2),
    )
    Table(flow, columns).draw(_class_row(one) for one in content.withheld)


def _class_row(one: WithheldClass) -> Row:
    return Row(
        cells=(
            Cell(text=one.kind),
            Cell(text=str(one.count), style=CELL_STRONG),
            Cell(text=one.wording),
            Cell(text=one.reason),
            Cell(text=one.entries, style=CELL_QUIET),
        )
    )


def _draw_named(flow: Flow, exhibits: Sequence[PackExhibit]) -> None:
    columns = (
        Column(title="Exhibit", share=0.5, right=True),
        Column(title="What it is, in the discloser's words", share=3.6),
        Column(title="Use", share=0.8),
        Column(title="Why", share=2.0),
    )
    Table(flow, columns).draw(
        Row(
            cells=(
                Cell(text=str(one.number), style=CELL_STRONG),
                Cell(text=one.description),
                Cell(text=one.use),
                Cell(text=one.reason),
            )
        )
        for one in exhibits
    )
