"""The first pages: what day this is, who sealed it, and what that does and does not prove."""

from __future__ import annotations

from collections import Counter
from typing import Final

from evidpack.index.assembly import Assembly
from evidpack.index.content import IndexContent
from evidpack.index.flow import BODY, CELL, GROUPS, REFERENCE, STRONG, TITLE, Flow
from evidpack.index.phrases import (
    ABSENT,
    count_text,
    day_text,
    moment_text,
    span_text,
    stamp_text,
)
from evidpack.index.qr import draw_code
from evidpack.index.table import Cell, Column, Row, Table, facts
from evidpack.index.typeface import wrap
from evidpack.index.wording import NOT_PROVED, PLAIN_WORDS, PROVED
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Outcome
from evidpack.model.values import JsonValue
from evidpack.proof.digests import groups_of_four

_CODE_PT: Final = 104.0
_PIXELS: Final = {
    True: "committed tile by tile, so that a redacted copy of a still can be proved",
    False: "not committed: a redacted copy of a still can't be proved",
}


def draw_cover(flow: Flow, day: Assembly) -> None:
    """Cover page, and the pages on what was proved."""
    flow.anchor("cover")
    flow.page.outline.append(("Cover", "cover", 0))
    for line in wrap("Disclosure index", TITLE, flow.wide):
        flow.line(line, TITLE)
    for line in wrap(day.content.day_reference, REFERENCE, flow.wide):
        flow.line(line, REFERENCE)
    flow.y -= 8
    _draw_identity(flow, day)
    _draw_root(flow, day)
    _draw_counts(flow, day)
    _draw_people(flow, day)
    _draw_meaning(flow)


def _draw_identity(flow: Flow, day: Assembly) -> None:
    content = day.content
    text = "\n".join(
        (
            content.day_reference,
            f"root {content.tree_root.hex()}",
            f"head {content.chain_head.hex()}",
        )
    )
    top = flow.y
    draw_code(flow.page, text, x=flow.right - _CODE_PT, top=top, edge=_CODE_PT)
    facts(flow, _identity(day), wide=flow.wide - _CODE_PT - 18, share=2.2)
    if len(flow.pages) == 1:
        flow.y = min(flow.y, top - _CODE_PT - 6)


def _identity(day: Assembly) -> list[tuple[str, str | Cell]]:
    content = day.content
    sealed = moment_text(content.claimed_sealing_time)
    pairs: list[tuple[str, str | Cell]] = [
        ("Unit", content.unit or ABSENT),
        ("Day", day_text(content.date)),
        ("Zone of the day", content.zone or ABSENT),
        ("Sealed by", content.signer_name),
        ("Signing certificate", groups_of_four(content.signer_fingerprint)),
        (
            "Sealing time",
            (
                f"{sealed}, as claimed by the sealer; run verify for whether a time stamp "
                "establishes it"
            ),
        ),
        ("Time stamp", _time_stamp(expected=content.time_stamp_expected)),
        ("Last capture to sealing", _delay(day)),
        ("Rule set", _rule_set(content)),
        ("Pixels", _PIXELS[content.pixel_proof]),
        ("Document number", content.document_number),
    ]
    if content.previous is not None:
        previous = content.previous
        pairs.append(
            (
                "Earlier seal",
                (
                    f"This is a {previous.relation} of the seal statement with SHA-256 "
                    f"{previous.statement_sha256}. Reason: {previous.reason}"
                ),
            )
        )
    if content.undescribed:
        pairs.append(("Description", "None yet: the files were secured before being described."))
    return pairs


def _time_stamp(*, expected: bool) -> str:
    if expected:
        return "requested: a bundle without its time stamp does not verify"
    return "none requested: the time rests on the sealer's word alone"


def _rule_set(content: IndexContent) -> str:
    if not content.rule_set_title:
        return "none: no check was run"
    return f"{content.rule_set_title}, edition {content.rule_set_edition}"


def _delay(day: Assembly) -> str:
    last, sealed = day.last_capture, day.content.claimed_sealing_time
    if last is None:
        return "not determinable: no capture has a time that names one instant"
    if sealed < last:
        return f"the claimed sealing time lies {span_text(last - sealed)} before the last capture"
    return f"{span_text(sealed - last)} (last capture {moment_text(last)})"


def _draw_root(flow: Flow, day: Assembly) -> None:
    for name, digest in (
        ("Chain head", day.content.chain_head),
        ("Tree root", day.content.tree_root),
    ):
        flow.space(3)
        flow.need(STRONG.leading + 2 * GROUPS.leading)
        flow.line(wrap(name, STRONG, flow.wide)[0], STRONG)
        for line in wrap(groups_of_four(digest), GROUPS, flow.wide):
            flow.line(line, GROUPS)
    flow.y -= 4


def _draw_counts(flow: Flow, day: Assembly) -> None:
    content = day.content
    counts = Counter(indexed.finding.outcome for indexed in content.findings)
    adverse = sum(indexed.finding.adverse for indexed in content.findings)
    missing = sum(
        indexed.finding.adverse and indexed.finding.outcome is Outcome.NOT_DETERMINABLE
        for indexed in content.findings
    )
    flow.section("What was sealed and what was found", keep=90)
    columns = (
        *(Column(title=title, share=1.0) for title in ("Files", "Records", "Captures")),
        *(Column(title=outcome.value.capitalize(), share=1.0) for outcome in _SHOWN_ORDER),
    )
    number = [
        str(content.entries.get("file", len(content.files))),
        str(content.entries.get("record", len(content.records))),
        str(len(day.captures)),
        *(str(counts[outcome]) for outcome in _SHOWN_ORDER),
    ]
    Table(flow, columns).draw([Row(cells=[Cell(text=text) for text in number])])
    text = f"{count_text(adverse, 'finding')} {'is' if adverse == 1 else 'are'} adverse"
    if missing:
        text += f", {missing} of them because something required was not supplied"
    flow.paragraph(f"{text}. Chapter 5 gives the adverse first.")


_SHOWN_ORDER: Final = (
    Outcome.FAIL,
    Outcome.QUERY,
    Outcome.NOT_DETERMINABLE,
    Outcome.PASS,
    Outcome.NOT_APPLICABLE,
)


def _draw_people(flow: Flow, day: Assembly) -> None:
    sessions = day.of(RecordKind.SESSION)
    flow.section("Sessions, meters and operators", keep=100)
    if not sessions:
        flow.paragraph("No session was described.")
        return
    names = {
        indexed.record.text("id"): indexed.record.text("name")
        for indexed in day.of(RecordKind.OPERATOR)
    }
    sites = {
        indexed.record.text("id"): indexed.record.text("name")
        for indexed in day.of(RecordKind.SITE)
    }
    columns = (
        Column(title="Session", share=0.6),
        Column(title="From and until", share=1.7),
        Column(title="Site", share=1.8),
        Column(title="Meter", share=1.0),
        Column(title="Operators", share=1.6),
    )
    rows = []
    for indexed in sessions:
        record = indexed.record
        site = record.text("site") or ABSENT
        cells = (
            Cell(text=record.text("id") or ABSENT, target=f"session-{indexed.number}"),
            Cell(
                text=f"{stamp_text(record, 'start')}",
                more=((f"{stamp_text(record, 'end')}", CELL),),
            ),
            Cell(text=f"{site} {sites.get(site) or ''}".strip()),
            Cell(text=record.text("meter") or ABSENT),
            Cell(text=operators_text(record.values.get("operators"), names)),
        )
        rows.append(Row(cells=cells))
    Table(flow, columns).draw(rows)


def operators_text(value: JsonValue, names: dict[str | None, str | None]) -> str:
    """The operators of a session with role, and name where the unit's records give one."""
    if not isinstance(value, list) or not value:
        return ABSENT
    texts = []
    for operator in value:
        if not isinstance(operator, dict):
            continue
        identifier = str(operator.get("id", ABSENT))
        name = names.get(identifier)
        text = f"{name} ({identifier})" if name else identifier
        texts.append(f"{text}, {operator['role']}" if operator.get("role") else text)
    return "; ".join(texts)


def _draw_meaning(flow: Flow) -> None:
    flow.chapter("What this proves, and what it does not", "meaning", keep=200)
    flow.section("In plain words")
    flow.paragraph(PLAIN_WORDS, BODY)
    flow.section("Proved, once verify says that the seal holds")
    flow.points(PROVED)
    flow.section("Not proved by any seal")
    flow.points(NOT_PROVED)
