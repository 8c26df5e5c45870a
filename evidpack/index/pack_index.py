"""The index of one pack, from front to back: what is disclosed, redacted, withheld, and how to check."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from evidpack.index.flow import BODY, REFERENCE, STRONG, TITLE, Flow, Furniture
from evidpack.index.pack_closing import draw_pack_findings, draw_withheld
from evidpack.index.pack_content import PackContent
from evidpack.index.pack_exhibits import draw_exhibits, draw_redactions
from evidpack.index.pack_wording import (
    ACKNOWLEDGE,
    NOT_VERIFIED_BEFORE,
    PACK_BY_HAND,
    PACK_BY_HAND_NOTE,
    PACK_CAUTIONS,
    PACK_NOT_PROVED,
    PACK_PLAIN_WORDS,
    PACK_PROVED,
    PACK_WARNING,
    VERIFIED_BEFORE,
)
from evidpack.index.phrases import count_text, moment_text
from evidpack.index.sheet import Box, Imprint, paint
from evidpack.index.table import Cell, Column, Row, Table, facts
from evidpack.index.typeface import Style, Typeface, shown, wrap
from evidpack.proof.digests import groups_of_four

TITLE_TEXT: Final = "Index of a disclosure pack"
_CODE: Final = Style(face=Typeface.MONO, size=17.0, leading=24.0)
_CODE_BOX_WIDE_PT: Final = 170.0
_SEAL: Final = Style(face=Typeface.MONO, size=7.8, leading=11.0)
_COMMAND: Final = Style(face=Typeface.MONO, size=7.0, leading=9.8)
_COUNTED: Final = ("released", "redacted", "inspect", "withheld", "withdrawn")
_COUNT_TITLES: Final = {
    "released": "Released whole",
    "redacted": "Redacted",
    "inspect": "To be viewed",
    "withheld": "Withheld",
    "withdrawn": "Withdrawn",
}
EXHIBITS, REDACTIONS, FINDINGS, WITHHELD, BY_HAND, CAUTIONS = range(1, 7)

Thumbnail = Callable[[str], bytes | None]


def build_pack_index(content: PackContent, *, thumbnail: Thumbnail) -> bytes:
    """The index as a PDF file; the same content and pictures give the same bytes.

    `thumbnail` takes the name of a picture in the pack and gives a JPEG made from it, or None (or
    raises an EvidpackError) where it can't be shown.
    """
    flow = Flow(paper=content.paper, furniture=_furniture(content))
    _draw_cover(flow, content)
    _draw_meaning(flow)
    draw_exhibits(flow, content, EXHIBITS, thumbnail=thumbnail)
    draw_redactions(flow, content, REDACTIONS, thumbnail=thumbnail)
    draw_pack_findings(flow, content, FINDINGS)
    draw_withheld(flow, content, WITHHELD)
    _draw_by_hand(flow)
    flow.chapter(f"{CAUTIONS}  Cautions", "cautions", keep=150)
    flow.points(PACK_CAUTIONS)
    imprint = Imprint(
        title=f"{TITLE_TEXT} {content.reference}",
        subject=PACK_WARNING,
        author=content.discloser_name,
        creator=f"evidpack {content.evidpack_version}",
        moment=content.claimed_time,
    )
    return paint(flow.finish(), paper=content.paper, imprint=imprint)


def _furniture(content: PackContent) -> Furniture:
    return Furniture(
        kind=f"{TITLE_TEXT}, issue {content.issue}",
        reference=content.reference,
        digest_name="Digest of the contents",
        digest=content.contents.hex(),
        warning=PACK_WARNING,
        mark=f"Day {content.day}  ·  evidpack {content.evidpack_version}",
    )


def _draw_cover(flow: Flow, content: PackContent) -> None:
    flow.anchor("cover")
    flow.page.outline.append(("Cover", "cover", 0))
    for line in wrap(TITLE_TEXT, TITLE, flow.wide):
        flow.line(line, TITLE)
    for line in wrap(f"Case {content.case}, issue {content.issue}", REFERENCE, flow.wide):
        flow.line(line, REFERENCE)
    flow.y -= 8
    _draw_code_and_facts(flow, content)
    _draw_counts(flow, content)
    _draw_changes(flow, content)
    _draw_origin(flow, content)


def _draw_code_and_facts(flow: Flow, content: PackContent) -> None:
    """The acknowledgement code in a frame at the right, facts about the pack beside it."""
    inner = _CODE_BOX_WIDE_PT - 20
    small = Style(size=7.0, leading=9.2)
    text = wrap(ACKNOWLEDGE, small, inner)
    high = 12 + STRONG.leading + _CODE.leading + len(text) * small.leading + 8
    x, top, first = flow.right - _CODE_BOX_WIDE_PT, flow.y, len(flow.pages)
    page = flow.page
    box = Box(x=x, y=top - high, wide=_CODE_BOX_WIDE_PT, high=high)
    page.box(box, stroke=0.0, thickness=1.2)
    y = top - 6 - STRONG.leading
    page.text(x + 10, y + 3, shown("Acknowledgement code", STRONG.face), STRONG)
    y -= _CODE.leading
    page.text(x + 10, y + 7, shown(content.acknowledgement, _CODE.face), _CODE)
    for line in text:
        y -= small.leading
        page.text(x + 10, y + 2, line, small)
    facts(flow, _about(content), wide=flow.wide - _CODE_BOX_WIDE_PT - 18, share=2.2)
    if len(flow.pages) == first:
        flow.y = min(flow.y, box.y - 6)


def _about(content: PackContent) -> list[tuple[str, str | Cell]]:
    stamp = (
        "requested: a pack without its time stamp does not verify"
        if content.time_stamp_expected
        else "none: the time rests on the discloser's word alone"
    )
    previous = (
        f"issue {content.issue - 1}, whose disclosure statement has the SHA-256 "
        f"{groups_of_four(content.previous_statement)}. This issue holds all that is disclosed so far"
        if content.previous_statement is not None
        else "none: this is the first"
    )
    pairs: list[tuple[str, str | Cell]] = [
        ("Recipient", content.recipient),
        ("Case", content.case),
        ("About", ", ".join(content.captures) or "no single capture"),
        ("Day", content.day),
        ("Decided by", f"{content.decided_by}, {moment_text(content.decided_at)}"),
        ("Disclosed by", content.discloser_name),
        ("Certificate", groups_of_four(content.discloser_fingerprint)),
        ("Made", f"{moment_text(content.claimed_time)}, as claimed by the discloser"),
        ("Time stamp", stamp),
        ("Earlier issue", previous),
    ]
    return pairs


def _draw_counts(flow: Flow, content: PackContent) -> None:
    total = sum(content.entries.values())
    flow.section("What became of the sealed entries", "counts", keep=90)
    columns = (
        Column(title="Sealed in all"),
        *(Column(title=_COUNT_TITLES[name]) for name in _COUNTED),
    )
    numbers = [total, *(content.accounting.get(name, 0) for name in _COUNTED)]
    Table(flow, columns).draw([Row(cells=[Cell(text=str(number)) for number in numbers])])
    kinds = ", ".join(
        count_text(content.entries.get(kind, 0), kind) for kind in ("file", "record", "finding")
    )
    flow.paragraph(
        f"The sealed day has {count_text(total, 'entry', 'entries')}: {kinds}. Each stands in one of "
        "the columns above, and none in two."
    )


def _draw_changes(flow: Flow, content: PackContent) -> None:
    if content.issue == 1:
        return
    flow.section("What is new since the earlier issue", "changes", keep=60)
    if content.changes:
        flow.points(content.changes)
    else:
        flow.paragraph("Nothing: this issue shows what the earlier one showed.")


def _draw_origin(flow: Flow, content: PackContent) -> None:
    """The seal that everything is proved against, and what was verified before."""
    flow.section("The seal that this pack is proved against", "origin", keep=150)
    time = (
        "with a time stamp over the signature" if content.origin_time_stamped else "no time stamp"
    )
    facts(
        flow,
        [
            ("Sealed by", content.origin_sealer_name),
            ("Sealed", f"{moment_text(content.origin_sealed_at)}, as claimed; {time}"),
            ("Seal statement", Cell(text=groups_of_four(content.origin_statement), style=_SEAL)),
            ("Chain head", Cell(text=groups_of_four(content.chain_head), style=_SEAL)),
            ("Tree root", Cell(text=groups_of_four(content.tree_root), style=_SEAL)),
        ],
        share=5.0,
    )
    flow.section("Whether the whole bundle was checked before", "checked-before", keep=60)
    before = content.verification
    if before is None:
        flow.paragraph(NOT_VERIFIED_BEFORE)
        return
    said = VERIFIED_BEFORE.format(
        at=moment_text(before.at.replace(microsecond=0)), verdict=before.verdict
    )
    flow.paragraph(said, after=2)
    for line in wrap(groups_of_four(before.report), _SEAL, flow.wide):
        flow.line(line, _SEAL)
    flow.y -= 4


def _draw_meaning(flow: Flow) -> None:
    flow.chapter("What this proves, and what it does not", "meaning", keep=260)
    flow.section("In plain words")
    flow.paragraph(PACK_PLAIN_WORDS, BODY)
    flow.section("Proved, once verify says that the pack holds")
    flow.points(PACK_PROVED)
    flow.section("Not proved by any pack")
    flow.points(PACK_NOT_PROVED)


def _draw_by_hand(flow: Flow) -> None:
    flow.chapter(f"{BY_HAND}  How to verify", "by-hand", keep=160)
    for number, (text, command) in enumerate(PACK_BY_HAND, start=1):
        flow.need(3 * BODY.leading + 4 * _COMMAND.leading)
        flow.paragraph(f"{number}.  {text}", after=1)
        if command:
            flow.paragraph(command, _COMMAND, indent=14, after=6)
    flow.paragraph(PACK_BY_HAND_NOTE)
