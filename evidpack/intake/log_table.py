"""The rows of one log file that one ``[[log]]`` table reads, gathered into a `RecordTable`."""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Mapping, Sequence
from itertools import compress
from typing import Final, TypeVar

from evidpack.intake.logs_csv import RawRow, RowBlock
from evidpack.intake.rows import RowReader
from evidpack.intake.unreadable import unreadable
from evidpack.model.fields import FieldType
from evidpack.model.records import Record, Source
from evidpack.model.tables import NO_INSTANT, RecordTable, instant_of
from evidpack.model.values import JsonValue

_T = TypeVar("_T")
_FEW: Final = 0.5  # so few different cells of a column are kept once each


class LogTable:
    """Gathers rows. What can't be read is handed back as a record of its own."""

    def __init__(self, reader: RowReader, path: str, header: Sequence[str]) -> None:
        self.reader = reader
        self._path = path
        self._header = tuple(dict.fromkeys(header))
        self._fields = reader.field_readers()
        self._lines = array("q")
        self._cells: list[list[str]] = [[] for _ in self._header]
        self._seen: list[dict[str, str] | None] = [{} for _ in self._header]
        self._values: dict[str, list[JsonValue]] = {one.name: [] for one in self._fields}
        self._instants: dict[str, array[int]] = {
            one.name: array("q") for one in self._fields if one.spec.field.type is FieldType.TIME
        }

    def add_row(self, row: RawRow) -> Record | None:
        """Take one row whose cells are known; the record of it where it can't be read."""
        values, reasons = self.reader.values(row.raw)
        if reasons:
            source = Source(path=self._path, line=row.line)
            return self._unreadable(source, reasons, row.raw, row.excerpt)
        self._lines.append(row.line)
        for name, cells in zip(self._header, self._cells, strict=True):
            cells.append(row.raw[name])
        for name, column in self._values.items():
            column.append(values.get(name))
        for name, instants in self._instants.items():
            instants.append(instant_of(values.get(name)))
        return None

    def add_block(self, block: RowBlock, wanted: Sequence[bool] | None = None) -> Iterator[Record]:
        """Take the rows of a block, or of them the wanted; yields a record for each that can't be
        read.
        """
        lines: Sequence[int] = block.lines
        columns = block.columns
        if wanted is not None:
            lines = list(compress(lines, wanted))
            columns = {name: list(compress(cells, wanted)) for name, cells in columns.items()}
        read = [field.read(columns, len(lines)) for field in self._fields]
        bad = sorted({row for one in read for row in one.bad})
        good: list[bool] | None = None
        if bad:
            good = [True] * len(lines)
            for row in bad:
                good[row] = False
                yield self._bad_row(
                    block, lines[row], {name: c[row] for name, c in columns.items()}
                )
        self._lines.extend(_kept(lines, good))
        for place, name in enumerate(self._header):
            self._cells[place].extend(self._shared(place, _kept(columns[name], good)))
        for field, one in zip(self._fields, read, strict=True):
            self._values[field.name].extend(_kept(one.values, good))
            if field.name in self._instants:
                instants = map(instant_of, one.values) if one.instants is None else one.instants
                self._instants[field.name].extend(_kept(list(instants), good))

    def _shared(self, place: int, cells: Sequence[str]) -> Sequence[str]:
        """The same cells, equal ones as one object, in a column where many are equal."""
        seen = self._seen[place]
        if seen is None or not cells:
            return cells
        shared = list(map(seen.setdefault, cells, cells))
        if len(seen) > _FEW * (len(self._lines)):
            self._seen[place] = None
        return shared

    def _bad_row(self, block: RowBlock, line: int, raw: Mapping[str, str]) -> Record:
        _, reasons = self.reader.values(raw)
        source = Source(path=self._path, line=line)
        return self._unreadable(source, reasons, raw, block.excerpt(line))

    def _unreadable(
        self, source: Source, reasons: Sequence[str], raw: Mapping[str, str], excerpt: str
    ) -> Record:
        return unreadable(
            source,
            reason="; ".join(reasons),
            record=self.reader.spec.record.value,
            excerpt=excerpt,
            raw=raw,
        )

    def table(self) -> RecordTable:
        """The rows taken so far. Values that no row has are left out."""
        count = len(self._lines)
        columns: dict[str, Sequence[JsonValue]] = {
            name: [value] * count for name, value in self.reader.constants.items()
        }
        known = {name: one for name, one in self._values.items() if one.count(None) != count}
        columns.update(known)
        return RecordTable(
            kind=self.reader.spec.record,
            path=self._path,
            lines=self._lines,
            header=self._header,
            cells=self._cells,
            columns=columns,
            instants=self._instants_of(columns),
        )

    def _instants_of(self, columns: Mapping[str, Sequence[JsonValue]]) -> dict[str, Sequence[int]]:
        found: dict[str, Sequence[int]] = {
            name: instants for name, instants in self._instants.items() if name in columns
        }
        for name, value in self.reader.constants.items():
            instant = instant_of(value) if _is_time(self.reader, name) else NO_INSTANT
            if instant != NO_INSTANT:
                found[name] = array("q", [instant]) * len(self._lines)
        return found


def _is_time(reader: RowReader, name: str) -> bool:
    return any(
        one.value_name == name and one.field.type is FieldType.TIME for one in reader.spec.fields
    )


def _kept(rows: Sequence[_T], good: Sequence[bool] | None) -> Sequence[_T]:
    return rows if good is None else list(compress(rows, good))
