"""The chapter on sessions and paperwork: who was where, by what authority, and what was noted."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from evidpack.checks.earlier_runs import runs_text
from evidpack.index.assembly import Assembly
from evidpack.index.content import IndexedRecord
from evidpack.index.cover import operators_text
from evidpack.index.flow import CELL, CELL_QUIET, Flow
from evidpack.index.phrases import ABSENT, speed_text, stamp_text, value_text
from evidpack.index.table import Cell, Column, Row, Table, facts
from evidpack.model.fields import RecordKind
from evidpack.model.records import Record

Show = Callable[[Record], str | tuple[str, ...]]  # one paragraph or several
SOURCE_PT: Final = 102.0
Spec = tuple[str, float, Show]  # column title, share, text of the cell


def text_of(name: str) -> Show:
    """A field as text."""
    return lambda record: value_text(record.values.get(name)) if name in record.values else ABSENT


def time_of(name: str) -> Show:
    """A recorded time."""
    return lambda record: stamp_text(record, name)


def speed_of(name: str) -> Show:
    """A speed in its own unit."""
    return lambda record: speed_text(record, name)


def span_of(first: str, last: str) -> Show:
    """Two fields as from and until."""

    def show(record: Record) -> str:
        begin, end = record.values.get(first), record.values.get(last)
        if begin is None and end is None:
            return ABSENT
        if end is None:
            return f"from {value_text(begin)}"
        return f"until {value_text(end)}" if begin is None else f"{begin} to {end}"

    return show


_SITES: Final[Sequence[Spec]] = (
    ("Site", 0.8, text_of("id")),
    ("Name", 2.0, text_of("name")),
    ("Limit", 0.8, speed_of("limit")),
    ("Direction", 1.1, text_of("direction")),
    ("Position; offset, height", 1.4, lambda record: (_position(record), _offset(record))),
    ("Authorised", 1.3, span_of("authorised_from", "authorised_until")),
)
_ORDERS: Final[Sequence[Spec]] = (
    ("Site", 0.8, text_of("site")),
    ("Order", 1.5, text_of("number")),
    ("Limit", 0.8, speed_of("limit")),
    ("In force", 1.6, span_of("from", "until")),
    ("Signs seen", 1.0, text_of("signs_seen")),
)
_OPERATORS: Final[Sequence[Spec]] = (
    ("Operator", 1.0, text_of("id")),
    ("Name", 2.5, text_of("name")),
)
_OPERATOR_CERTIFICATES: Final[Sequence[Spec]] = (
    ("Certificate", 1.2, text_of("number")),
    ("Operator", 0.9, text_of("holder")),
    ("Type of meter", 1.2, text_of("type")),
    ("Valid", 1.8, span_of("valid_from", "valid_until")),
    ("Document", 1.8, text_of("document")),
)
_REPORTS: Final[Sequence[Spec]] = (
    ("Session", 0.7, text_of("session")),
    ("Version", 0.7, text_of("version")),
    ("Captures", 0.8, text_of("captures")),
    ("Image numbers", 1.1, span_of("image_first", "image_last")),
    ("Signed", 2.0, lambda r: (value_text(r.values.get("signed_by")), stamp_text(r, "signed"))),
    ("Document", 1.6, text_of("document")),
)
_DELETIONS: Final[Sequence[Spec]] = (
    ("Image numbers", 1.0, span_of("image_first", "image_last")),
    ("Counter", 0.7, text_of("counter")),
    ("Reason", 2.4, text_of("reason")),
    ("By", 0.9, text_of("by")),
    ("When", 1.5, time_of("time")),
)
_NOTES: Final[Sequence[Spec]] = (
    ("When", 1.3, time_of("time")),
    ("By", 0.9, text_of("by")),
    ("About", 1.0, text_of("subject")),
    ("Note", 3.4, text_of("text")),
)
_EVENTS: Final[Sequence[Spec]] = (
    ("Capture", 0.9, text_of("capture")),
    ("Event", 1.5, text_of("event")),
    ("When", 1.4, lambda r: stamp_text(r, "time", absent=value_text(r.values.get("date")))),
    ("Detail", 2.4, text_of("detail")),
)
_UNREADABLE: Final[Sequence[Spec]] = (
    ("File", 2.2, text_of("file")),
    ("Line", 0.5, text_of("line")),
    ("Should be", 0.8, text_of("record")),
    ("Why it can't be read", 2.6, text_of("reason")),
)
_FOLDERS: Final[Sequence[Spec]] = (("Folder", 4.0, text_of("path")),)
_RUNS: Final[Sequence[Spec]] = (
    ("Run", 0.4, text_of("run")),
    ("When", 1.5, time_of("at")),
    ("Rule set", 1.9, lambda r: f"{r.text('rule_set_name')}, {r.text('rule_set_edition')}"),
    ("Adverse", 0.8, text_of("adverse")),
    ("Outcomes", 1.8, text_of("counts")),
    (
        "New / gone",
        0.8,
        lambda r: f"{value_text(r.values.get('new'))} / {value_text(r.values.get('gone'))}",
    ),
    ("Log", 0.7, text_of("chain")),
)
_SAID: Final[Sequence[Spec]] = (
    ("Check", 0.5, text_of("check")),
    ("Subject", 1.0, text_of("subject")),
    ("Outcome", 0.8, text_of("outcome")),
    ("In", 0.7, runs_text),
    ("What it said", 3.4, text_of("sentence")),
)
_OTHERS: Final[Sequence[tuple[RecordKind, str, Sequence[Spec]]]] = (
    (RecordKind.SITE, "Sites", _SITES),
    (RecordKind.LIMIT_ORDER, "Limit orders", _ORDERS),
    (RecordKind.REPORT, "Day reports", _REPORTS),
    (RecordKind.DELETION, "Deletions", _DELETIONS),
    (RecordKind.NOTE, "Notes", _NOTES),
    (RecordKind.EVENT, "Events", _EVENTS),
    (RecordKind.UNREADABLE, "What could not be read", _UNREADABLE),
    (RecordKind.EMPTY_FOLDER, "Empty folders", _FOLDERS),
    (RecordKind.PAST_RUN, "Earlier runs of the checks", _RUNS),
    (RecordKind.PAST_FINDING, "Adverse findings of earlier runs", _SAID),
)


def draw_paperwork(flow: Flow, day: Assembly, chapter: int) -> None:
    """Sessions, operators and every paper record; then all records counted by kind."""
    flow.chapter(f"{chapter}  Sessions and paperwork", "paperwork")
    for indexed in day.of(RecordKind.SESSION):
        _draw_session(flow, day, indexed)
    draw_records(flow, day, "Operators", day.of(RecordKind.OPERATOR), _OPERATORS)
    certificates = certificates_of(day, "operator")
    draw_records(flow, day, "Operator certificates", certificates, _OPERATOR_CERTIFICATES)
    for kind, title, specs in _OTHERS:
        draw_records(flow, day, title, day.of(kind), specs)
    _draw_counts(flow, day)


def certificates_of(day: Assembly, kind: str) -> list[IndexedRecord]:
    """The certificates of one kind: calibration, operator or approval."""
    records = day.of(RecordKind.CERTIFICATE)
    return [indexed for indexed in records if indexed.record.text("certificate") == kind]


def _draw_session(flow: Flow, day: Assembly, indexed: IndexedRecord) -> None:
    record = indexed.record
    name = record.text("id") or ABSENT
    flow.section(f"Session {name}", f"session-{indexed.number}", keep=130)
    names = {
        operator.record.text("id"): operator.record.text("name")
        for operator in day.of(RecordKind.OPERATOR)
    }
    captures = [c for c in day.captures if c.record.text("session") == record.text("id")]
    pairs: list[tuple[str, str | Cell]] = [
        ("Set-up began", stamp_text(record, "start")),
        ("Packed up", stamp_text(record, "end")),
        ("Site", record.text("site") or ABSENT),
        ("Meter", record.text("meter") or ABSENT),
        ("Operators", operators_text(record.values.get("operators"), names)),
        ("Captures", str(len(captures))),
        *_where(record),
        ("Source", source_cell(day, indexed)),
    ]
    facts(flow, pairs)


def _where(record: Record) -> list[tuple[str, str | Cell]]:
    """Where the meter stood and which traffic it measured, where the session says so."""
    pairs: list[tuple[str, str | Cell]] = []
    if (position := _position(record)) != ABSENT:
        pairs.append(("Position", position))
    if (direction := record.text("direction")) is not None:
        pairs.append(("Direction of travel", direction))
    return pairs


def source_cell(day: Assembly, indexed: IndexedRecord) -> Cell:
    """The ledger entry of a record and the line it was read from, linked to the file."""
    source = indexed.record.source
    typed = indexed.record.text("typed_from")
    line = "" if source.line is None else f"line {source.line}, "
    more = [(f"{line}entry {indexed.number}", CELL_QUIET)]
    if typed:
        by = indexed.record.text("typed_by")
        more.append((f"typed {f'by {by} ' if by else ''}from {typed}", CELL_QUIET))
    return Cell(
        text=source.path, style=CELL_QUIET, more=tuple(more), target=day.links.file(source.path)
    )


def draw_records(
    flow: Flow, day: Assembly, title: str, records: Sequence[IndexedRecord], specs: Sequence[Spec]
) -> None:
    """A table of records of one kind; nothing where there are none."""
    if not records:
        return
    columns = [Column(title=name, share=share) for name, share, _ in specs]
    columns.append(Column(title="Source", points=SOURCE_PT))
    table = Table(flow, columns)
    rows = [_record_row(day, indexed, specs) for indexed in records]
    flow.section(title, keep=table.lead(rows[0]) + 20)
    table.draw(rows)


def _record_row(day: Assembly, indexed: IndexedRecord, specs: Sequence[Spec]) -> Row:
    cells = []
    for _, _, show in specs:
        texts = show(indexed.record)
        first, *more = (texts,) if isinstance(texts, str) else texts
        cells.append(Cell(text=first, more=tuple((text, CELL) for text in more)))
    return Row(cells=[*cells, source_cell(day, indexed)])


def _position(record: Record) -> str:
    latitude, longitude = record.number("latitude_deg"), record.number("longitude_deg")
    if latitude is None or longitude is None:
        return ABSENT
    return f"{value_text(latitude)}°, {value_text(longitude)}°"


def _offset(record: Record) -> str:
    offset, height = record.length("offset"), record.length("height")
    if offset is None and height is None:
        return ABSENT
    return f"{offset or '–'}, {height or '–'}"


def _draw_counts(flow: Flow, day: Assembly) -> None:
    flow.section("All records by kind", keep=120)
    flow.paragraph(
        "Each record is one ledger entry. Those not listed one by one in this index are in the "
        "bundle, with the cells as exported."
    )
    columns = (Column(title="Kind", share=3.0), Column(title="Records", share=1.0, right=True))
    rows = [
        Row(cells=(Cell(text=kind.value.replace("_", " ")), Cell(text=str(len(day.of(kind))))))
        for kind in RecordKind
        if day.of(kind)
    ]
    Table(flow, columns, wide=230).draw(rows)
