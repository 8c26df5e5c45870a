"""The court's one page: what was verified, how it came out step by step, and what that is worth.

It takes plain texts, so that any verifier can fill it in.  A report without faults stands on one
page; with many faults it goes on to the next, and nothing is cut.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from evidpack.index.flow import Flow, Furniture
from evidpack.index.phrases import moment_text
from evidpack.index.sheet import Box, Imprint, PaperName, paint
from evidpack.index.table import Cell, Column, Row, Table, facts
from evidpack.index.typeface import Style, Typeface, wrap
from evidpack.index.wording import REPORT_CAUTIONS, REPORT_NOT_PROVED, REPORT_WARNING, STEPS

_TITLE: Final = Style(face=Typeface.BOLD, size=15.0, leading=19.0)
_HEADING: Final = Style(face=Typeface.BOLD, size=8.6, leading=11.5)
_TEXT: Final = Style(size=7.3, leading=9.2)
_TEXT_STRONG: Final = Style(face=Typeface.BOLD, size=7.3, leading=9.2)
_QUIET: Final = Style(size=6.9, leading=8.8, grey=0.3)
_CODE: Final = Style(face=Typeface.MONO, size=6.6, leading=8.8)
_FAULTS_BESIDE: Final = 2  # more than these are listed below the table, over its whole width
_VERDICT: Final = Style(face=Typeface.BOLD, size=10.5, leading=14.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportAnchor:
    """A certificate that the verifier trusted, or the signer's own. `fingerprint` in groups of
    four; `use` names it (anchor, time-stamp anchor, signing certificate)."""

    name: str
    fingerprint: str
    use: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportStep:
    """One numbered step (1 to 9). `outcome` is holds, fails, not established or not applicable;
    `faults` name item, expected and observed; `advice` says what to ask for, and from whom."""

    number: int
    outcome: str
    detail: str = ""
    faults: Sequence[str] = ()
    advice: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportAnswer:
    """One of the three answers, kept apart: signature valid, signer known, time established."""

    question: str
    answer: str
    detail: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportContent:
    """What one verification found. `sha256` is 64 hex digits; `verified_at` is aware."""

    file_name: str
    sha256: str
    size: str
    reference: str  # of the day or pack, as the file states it
    verified_at: datetime
    evidpack_version: str
    verdict: str
    verdict_sentence: str
    steps: Sequence[ReportStep]
    answers: Sequence[ReportAnswer]
    anchors: Sequence[ReportAnchor] = ()
    not_proved: Sequence[str] = REPORT_NOT_PROVED
    cautions: Sequence[str] = REPORT_CAUTIONS
    paper: PaperName = "A4"


def build_report(content: ReportContent) -> bytes:
    """The report as a PDF file; the same content gives the same bytes."""
    flow = Flow(paper=content.paper, furniture=_furniture(content))
    flow.anchor("report")
    flow.page.outline.append(("Verification report", "report", 0))
    for line in wrap("Verification report", _TITLE, flow.wide):
        flow.line(line, _TITLE)
    flow.y -= 4
    _draw_verdict(flow, content)
    facts(flow, _identity(content), share=5.2, style=_TEXT, name_style=_TEXT_STRONG)
    _draw_answers(flow, content)
    _draw_steps(flow, content)
    _draw_list(flow, "What this does not prove", content.not_proved)
    _draw_list(flow, "Cautions", content.cautions)
    imprint = Imprint(
        title=f"Verification report {content.reference}".strip(),
        subject=f"{content.file_name}: {content.verdict}",
        author=f"evidpack {content.evidpack_version}",
        creator=f"evidpack {content.evidpack_version}",
        moment=content.verified_at,
    )
    return paint(flow.finish(), paper=content.paper, imprint=imprint)


def _furniture(content: ReportContent) -> Furniture:
    return Furniture(
        kind="Verification report",
        reference=content.reference or content.file_name,
        digest_name="SHA-256 of the file",
        digest=content.sha256,
        warning=REPORT_WARNING,
        mark=f"evidpack {content.evidpack_version}",
    )


def _draw_verdict(flow: Flow, content: ReportContent) -> None:
    inner = flow.wide - 20
    head = wrap(_sentence_case(content.verdict), _VERDICT, inner)
    text = wrap(content.verdict_sentence, _TEXT, inner)
    high = len(head) * _VERDICT.leading + len(text) * _TEXT.leading + 11
    flow.need(high)
    box = Box(x=flow.left, y=flow.y - high, wide=flow.wide, high=high)
    flow.page.box(box, stroke=0.0, thickness=1.2)
    flow.y -= 4
    for line in head:
        flow.line(line, _VERDICT, indent=10)
    for line in text:
        flow.line(line, _TEXT, indent=10)
    flow.y = box.y - 7


def _sentence_case(text: str) -> str:
    return text[:1].upper() + text[1:]


def _identity(content: ReportContent) -> list[tuple[str, str | Cell]]:
    pairs: list[tuple[str, str | Cell]] = [
        ("File", Cell(text=content.file_name, style=_TEXT, more=((content.size, _QUIET),))),
        ("SHA-256", Cell(text=content.sha256, style=_CODE)),
        (
            "Verified",
            (
                f"{moment_text(content.verified_at.replace(microsecond=0))} by the clock of the verifying computer, with "
                f"evidpack {content.evidpack_version}"
            ),
        ),
    ]
    if not content.anchors:
        pairs.append(("Anchors", "None was given, so neither signer nor time can be established."))
    for anchor in content.anchors:
        cell = Cell(text=anchor.name, style=_TEXT, more=((anchor.fingerprint, _CODE),))
        pairs.append((_sentence_case(anchor.use), cell))
    return pairs


def _draw_answers(flow: Flow, content: ReportContent) -> None:
    _heading(flow, "Three answers, which are not one")
    columns = (
        Column(title="Question", share=1.8),
        Column(title="Answer", share=1.2),
        Column(title="Because" if any(a.detail for a in content.answers) else "", share=4.2),
    )
    rows = [
        Row(
            cells=(
                Cell(text=answer.question, style=_TEXT),
                Cell(text=answer.answer, style=_TEXT_STRONG),
                Cell(text=answer.detail, style=_TEXT),
            )
        )
        for answer in content.answers
    ]
    Table(flow, columns, pad=1.6).draw(rows)


def _draw_steps(flow: Flow, content: ReportContent) -> None:
    _heading(flow, "The steps")
    columns = (
        Column(title="Step", share=0.3, right=True),
        Column(title="What was examined", share=3.1),
        Column(title="Outcome", share=1.1),
        Column(title="Detail", share=3.0),
    )
    Table(flow, columns, pad=1.6).draw([_step_row(step) for step in content.steps])
    for step in content.steps:
        if len(step.faults) > _FAULTS_BESIDE:
            count = len(step.faults)
            _draw_list(flow, f"Step {step.number}: its {count} faults, one by one", step.faults)


def _step_row(step: ReportStep) -> Row:
    beside = len(step.faults) <= _FAULTS_BESIDE
    faults = step.faults if beside else (f"{len(step.faults)} faults, listed after this table",)
    detail = [(text, _TEXT) for text in (step.detail, *faults) if text]
    if step.advice:
        detail.append((f"Next: {step.advice}", _QUIET))
    (first, style), *more = detail or [("", _TEXT)]
    return Row(
        cells=(
            Cell(text=str(step.number), style=_TEXT_STRONG),
            Cell(text=STEPS.get(step.number, ""), style=_TEXT),
            Cell(text=step.outcome, style=_TEXT_STRONG),
            Cell(text=first, style=style, more=tuple(more)),
        ),
        bar=step.outcome in {"fails", "not established"},
    )


def _draw_list(flow: Flow, title: str, texts: Sequence[str]) -> None:
    _heading(flow, title)
    flow.points(texts, _TEXT, gap=0.5)


def _heading(flow: Flow, title: str) -> None:
    flow.space(1)
    flow.need(_HEADING.leading + 3 * _TEXT.leading)
    flow.line(wrap(title, _HEADING, flow.wide)[0], _HEADING)
    flow.y -= 2
