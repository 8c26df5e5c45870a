"""The last chapters: findings, files, how to verify by hand, cautions."""

from __future__ import annotations

from collections.abc import Iterator

from evidpack.checks.notes import note_line
from evidpack.index.assembly import Assembly, file_anchor, finding_anchor
from evidpack.index.content import IndexedFile, IndexedFinding
from evidpack.index.flow import (
    BODY,
    CELL_QUIET,
    CELL_STRONG,
    DIGEST,
    Flow,
)
from evidpack.index.phrases import outcome_text, size_text, value_text
from evidpack.index.table import Cell, Column, Row, Table
from evidpack.index.wording import BY_HAND, BY_HAND_NOTE, CAUTIONS


def draw_findings(flow: Flow, day: Assembly, chapter: int) -> None:
    """Every finding, the adverse first."""
    flow.chapter(f"{chapter}  Findings", "findings")
    adverse = [indexed for indexed in day.findings if indexed.finding.adverse]
    others = [indexed for indexed in day.findings if not indexed.finding.adverse]
    flow.section("Adverse", "findings-adverse", keep=140)
    if adverse:
        flow.paragraph(
            "A black bar marks each. Adverse means fail, query, or not determinable where the "
            "rule set requires the input."
        )
        _draw_findings(flow, day, adverse)
    else:
        flow.paragraph("None.")
    flow.section("Not adverse", "findings-other", keep=110)
    if others:
        _draw_findings(flow, day, others)
    else:
        flow.paragraph("None.")


def _draw_findings(flow: Flow, day: Assembly, findings: list[IndexedFinding]) -> None:
    columns = (
        Column(title="Entry", share=0.42, right=True),
        Column(title="Check", share=0.85),
        Column(title="Subject", share=1.2),
        Column(title="Outcome", share=1.0),
        Column(title="Measured / limit", share=1.3),
        Column(title="What it says", share=3.2),
    )
    Table(flow, columns).draw(_finding_row(day, indexed) for indexed in findings)


def _finding_row(day: Assembly, indexed: IndexedFinding) -> Row:
    finding = indexed.finding
    label = day.content.labels.get(finding.check, "")
    more = [(note_line(note), CELL_STRONG) for note in day.notes.beside(finding)]
    if finding.advice:
        more.append((f"What helps: {finding.advice}", CELL_QUIET))
    if finding.source:
        more.append((f"Limit from: {finding.source}", CELL_QUIET))
    if finding.undermines:
        more.append(("To be considered for disclosure: may undermine or assist.", CELL_STRONG))
    measured = value_text(finding.measured, finding.unit)
    same = finding.limit == finding.measured and isinstance(finding.limit, list)
    allowed = "the same" if same else value_text(finding.limit, finding.unit)
    limit = ((f"limit {allowed}", CELL_QUIET),)
    return Row(
        cells=(
            Cell(text=str(indexed.number)),
            Cell(text=f"{finding.check} {label}".strip()),
            Cell(text=finding.subject, linker=day.links),
            Cell(text=outcome_text(finding), style=CELL_STRONG),
            Cell(text=measured, more=() if finding.limit is None else limit),
            Cell(text=finding.sentence, more=tuple(more), linker=day.links),
        ),
        anchor=finding_anchor(indexed.number),
        bar=finding.adverse,
    )


def draw_files(flow: Flow, day: Assembly, chapter: int) -> None:
    """Every file with its full digest, in ledger order."""
    flow.chapter(f"{chapter}  Files", "files")
    flow.paragraph(
        "Every file of the bundle's data folder, in the order of the ledger, with its SHA-256 in "
        "full. Origin export: as it came from the device or its software. Origin office: added by "
        "the office that sealed. Times of last change are in UTC, as the file system gave them."
    )
    columns = (
        Column(title="Entry", share=0.45, right=True),
        Column(title="File, and its SHA-256", share=4.0),
        Column(title="Kind and origin", share=0.95),
        Column(title="Size and last change", share=1.3),
    )
    Table(flow, columns).draw(_file_rows(day))


def _file_rows(day: Assembly) -> Iterator[Row]:
    for file in day.content.files:
        more = [(file.sha256, DIGEST)]
        if file.original_name is not None:
            more.insert(0, (f"original name: {file.original_name}", CELL_QUIET))
        yield Row(
            cells=(
                Cell(text=str(file.number)),
                Cell(text=file.path, more=tuple(more)),
                Cell(text=file.kind, more=((file.origin, CELL_QUIET),)),
                Cell(text=size_text(file.size), more=((_when(file), CELL_QUIET),)),
            ),
            anchor=file_anchor(file.number),
        )


def _when(file: IndexedFile) -> str:
    return file.modified.replace("T", " ")


def draw_by_hand(flow: Flow, chapter: int, *, files_chapter: int) -> None:
    """How to verify with common programs."""
    flow.chapter(f"{chapter}  How to verify by hand", "by-hand", keep=160)
    for number, (text, command) in enumerate(BY_HAND, start=1):
        flow.need(3 * BODY.leading + 2 * DIGEST.leading)
        flow.paragraph(f"{number}.  {text.replace('{files}', str(files_chapter))}", after=1)
        flow.paragraph(command, DIGEST, indent=14, after=6)
    flow.paragraph(BY_HAND_NOTE)


def draw_cautions(flow: Flow, chapter: int) -> None:
    """What a reader must bear in mind."""
    flow.chapter(f"{chapter}  Cautions", "cautions", keep=160)
    flow.points(CAUTIONS)
