"""Every row of every log file becomes a record."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from evidpack.intake.folder_listing import disk_errors
from evidpack.intake.log_spec import LogSpec
from evidpack.intake.log_table import LogTable
from evidpack.intake.logs_csv import RawRow, RowBlock, read_parts
from evidpack.intake.rows import RowReader
from evidpack.intake.source import FileEntry, FileSource
from evidpack.intake.unreadable import unreadable
from evidpack.model.records import Record, Source
from evidpack.model.tables import RecordTable

_UNTAKEN = "no [[log]] table takes this row; see their where"


@dataclass(slots=True)
class LogRecords:
    """What a log file holds: tables of rows, and records by themselves."""

    tables: list[RecordTable] = field(default_factory=list)
    others: list[Record] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shape:
    """What decides how a file is cut into rows."""

    format: str
    encoding: str
    delimiter: str
    quote: str
    rows: tuple[str, ...]
    skip_lines: int
    columns: tuple[str, ...]


def read_log_file(entry: FileEntry, specs: tuple[LogSpec, ...], source: FileSource) -> LogRecords:
    """The records of one log file, which one or more ``[[log]]`` tables read.

    Tables that cut the file in the same way share its rows: a row that none of them takes is kept
    as unreadable.  Raises IntakeError where the file or its header can't be used.
    """
    shapes: dict[_Shape, list[RowReader]] = {}
    for spec in specs:
        shapes.setdefault(_shape(spec), []).append(RowReader(spec))
    found = LogRecords()
    with disk_errors(entry.path):
        for readers in shapes.values():
            if readers[0].spec.format == "csv":
                _read_csv(entry, readers, source, found)
            else:
                found.others.extend(_read_json(entry, readers, source))
    return found


def _shape(spec: LogSpec) -> _Shape:
    return _Shape(
        format=spec.format,
        encoding=spec.encoding,
        delimiter=spec.delimiter,
        quote=spec.quote,
        rows=spec.rows,
        skip_lines=spec.skip_lines,
        columns=spec.columns,
    )


def _read_json(entry: FileEntry, readers: list[RowReader], source: FileSource) -> Iterator[Record]:
    from evidpack.intake.logs_json import read_json, read_json_lines

    opener = read_json if readers[0].spec.format == "json" else read_json_lines
    with source.open(entry.path) as stream:
        for row in opener(stream, readers[0].spec, path=entry.place, size=entry.size):
            where = Source(path=entry.path, line=row.line, place=row.place)
            if row.fault is not None:
                yield _unread(where, row, row.fault, readers)
                continue
            takers = _takers(row, readers)
            for reader in takers:
                yield reader.record(where, row.raw, excerpt=row.excerpt)
            if not takers:
                yield _unread(where, row, _UNTAKEN, readers)


def _read_csv(
    entry: FileEntry, readers: list[RowReader], source: FileSource, found: LogRecords
) -> None:
    tables: list[LogTable] = []
    with source.open(entry.path) as stream:
        parts = read_parts(stream, readers[0].spec, path=entry.place, size=entry.size)
        for part in parts:
            if not tables and (isinstance(part, RowBlock) or part.fault is None):
                header = part.columns if isinstance(part, RowBlock) else part.raw
                tables = [LogTable(reader, entry.path, tuple(header)) for reader in readers]
            if isinstance(part, RowBlock):
                found.others.extend(_take_block(entry.path, part, tables))
            else:
                found.others.extend(_take_row(entry.path, part, readers, tables))
    found.tables.extend(table for one in tables if len(table := one.table()))


def _take_row(
    path: str, row: RawRow, readers: list[RowReader], tables: list[LogTable]
) -> Iterator[Record]:
    where = Source(path=path, line=row.line)
    if row.fault is not None:
        yield _unread(where, row, row.fault, readers)
        return
    takers = _takers(row, readers)
    for table in tables:
        if table.reader in takers:
            unreadable_row = table.add_row(row)
            if unreadable_row is not None:
                yield unreadable_row
    if not takers:
        yield _unread(where, row, _UNTAKEN, readers)


def _takers(row: RawRow, readers: Sequence[RowReader]) -> list[RowReader]:
    """The tables that read a row: of each kind of record the first whose `where` takes it."""
    taken: dict[str, RowReader] = {}
    for reader in readers:
        where = reader.spec.where
        if where is None or where.takes(row.raw):
            taken.setdefault(reader.spec.record.value, reader)
    return list(taken.values())


def _take_block(path: str, block: RowBlock, tables: list[LogTable]) -> Iterator[Record]:
    if len(tables) == 1 and tables[0].reader.spec.where is None:
        yield from tables[0].add_block(block)
        return
    count = len(block.lines)
    free: dict[str, list[bool]] = {}
    untaken = [True] * count
    for table in tables:
        where, kind = table.reader.spec.where, table.reader.spec.record.value
        left = free.setdefault(kind, [True] * count)
        wanted = left
        if where is not None:
            cells = block.columns.get(where.column, [None] * count)
            takes = [cell is not None and cell.strip() in where.texts for cell in cells]
            wanted = [a and b for a, b in zip(left, takes, strict=True)]
        free[kind] = [a and not b for a, b in zip(left, wanted, strict=True)]
        untaken = [a and not b for a, b in zip(untaken, wanted, strict=True)]
        yield from table.add_block(block, wanted)
    for place, lost in enumerate(untaken):
        if lost:
            line = block.lines[place]
            raw = {name: cells[place] for name, cells in block.columns.items()}
            row = RawRow(line=line, place=0, raw=raw, excerpt=block.excerpt(line), fault=None)
            yield _unread(
                Source(path=path, line=line), row, _UNTAKEN, [one.reader for one in tables]
            )


def _unread(where: Source, row: RawRow, reason: str, readers: Sequence[RowReader]) -> Record:
    first = readers[0].spec.record.value
    return unreadable(where, reason=reason, record=first, excerpt=row.excerpt, raw=row.raw)
