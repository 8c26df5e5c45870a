"""The chapters of a pack's index on findings and on what is not shown."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from evidpack.index.flow import CELL_QUIET, CELL_STRONG, Flow
from evidpack.index.pack_content import PackContent, PackExhibit, PackFinding, WithheldClass
from evidpack.index.pack_exhibits import exhibit_anchor
from evidpack.index.pack_wording import (
    FINDINGS_INTRO,
    INSPECT_INTRO,
    WITHDRAWN_INTRO,
    WITHHELD_DESCRIBED,
    WITHHELD_INTRO,
)
from evidpack.index.phrases import count_text, outcome_text, value_text
from evidpack.index.table import Cell, Column, Paragraph, Row, Table


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
    exhibits = {one.number: one for one in content.exhibits}
    labels = content.finding_labels
    Table(flow, columns).draw(
        _finding_row(one, exhibits.get(one.exhibit), labels.get(one.finding.check, ""))
        for one in ordered
    )


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


def _finding_row(one: PackFinding, exhibit: PackExhibit | None, label: str) -> Row:
    """One finding. It is the only place that shows its exhibit, so that is said here too."""
    finding = one.finding
    limit = ((f"limit {value_text(finding.limit, finding.unit)}", CELL_QUIET),)
    state: list[Paragraph] = []
    if exhibit is not None:
        state = [(exhibit.use, CELL_QUIET), (f"finding {exhibit.entry}", CELL_QUIET)]
        state += [("new", CELL_QUIET)] if exhibit.new else []
    return Row(
        cells=(
            Cell(text=str(one.exhibit), style=CELL_STRONG),
            Cell(text=f"{finding.check} {label}".strip(), more=tuple(state)),
            Cell(text=finding.subject),
            Cell(text=outcome_text(finding), style=CELL_STRONG),
            Cell(
                text=value_text(finding.measured, finding.unit),
                more=() if finding.limit is None else limit,
            ),
            Cell(text=finding.sentence, more=tuple(_beside(one, exhibit))),
        ),
        anchor=exhibit_anchor(one.exhibit),
        bar=finding.adverse,
    )


def _beside(one: PackFinding, exhibit: PackExhibit | None) -> Iterator[Paragraph]:
    """What stands below a finding's sentence."""
    if exhibit is not None and exhibit.closed:
        yield exhibit.description, CELL_STRONG
        yield f"kept closed: {', '.join(exhibit.closed)}", CELL_QUIET
    if one.finding.advice:
        yield f"What helps: {one.finding.advice}", CELL_QUIET
    if one.finding.source:
        yield f"Limit from: {one.finding.source}", CELL_QUIET
    if exhibit is not None:
        yield f"Why shown: {exhibit.reason}", CELL_QUIET


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
