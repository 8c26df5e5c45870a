"""Every row of every log file becomes a record."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from evidpack.intake.folder_listing import disk_errors
from evidpack.intake.log_spec import LogSpec
from evidpack.intake.logs_csv import RawRow, read_rows
from evidpack.intake.logs_json import read_json, read_json_lines
from evidpack.intake.rows import RowReader
from evidpack.intake.source import FileEntry, FileSource
from evidpack.intake.unreadable import unreadable
from evidpack.model.records import Record, Source


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


def read_log_file(
    entry: FileEntry, specs: tuple[LogSpec, ...], source: FileSource
) -> Iterator[Record]:
    """The records of one log file, which one or more ``[[log]]`` tables read.

    Tables that cut the file in the same way share its rows: a row that none of them takes is kept
    as unreadable.  Raises IntakeError where the file or its header can't be used.
    """
    shapes: dict[_Shape, list[RowReader]] = {}
    for spec in specs:
        shapes.setdefault(_shape(spec), []).append(RowReader(spec))
    with disk_errors(entry.path):
        for readers in shapes.values():
            with source.open(entry.path) as stream:
                rows = _OPENERS[readers[0].spec.format](
                    stream, readers[0].spec, path=entry.place, size=entry.size
                )
                for row in rows:
                    yield from _records(entry.path, row, readers)


_OPENERS = {"csv": read_rows, "json": read_json, "jsonl": read_json_lines}


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


def _records(path: str, row: RawRow, readers: list[RowReader]) -> Iterator[Record]:
    source = Source(path=path, line=row.line, place=row.place)
    first = readers[0].spec.record.value
    if row.fault is not None:
        yield unreadable(source, reason=row.fault, record=first, excerpt=row.excerpt, raw=row.raw)
        return
    taken: set[str] = set()
    for reader in readers:
        kind = reader.spec.record.value
        where = reader.spec.where
        if kind in taken or (where is not None and not where.takes(row.raw)):
            continue
        taken.add(kind)
        yield reader.record(source, row.raw, excerpt=row.excerpt)
    if not taken:
        reason = "no [[log]] table takes this row; see their where"
        yield unreadable(source, reason=reason, record=first, excerpt=row.excerpt, raw=row.raw)
