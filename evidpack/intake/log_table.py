"""The rows of one log file that one ``[[log]]`` table reads, gathered into a `RecordTable`."""

from __future__ import annotations

from array import array
from bisect import bisect_right
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import compress
from typing import NamedTuple, TypeVar

from evidpack.intake.logs_csv import RawRow, RowBlock
from evidpack.intake.rows import RowReader
from evidpack.intake.unreadable import unreadable
from evidpack.model.fields import FieldType
from evidpack.model.records import Record, Source
from evidpack.model.tables import NO_INSTANT, RecordTable, has_any, instant_of
from evidpack.model.values import JsonValue

_T = TypeVar("_T")


class KeptCells:
    """The raw cells of the rows of a log, kept as the text of their lines and cut again when they
    are asked for.
    """

    def __init__(self, header: Sequence[str]) -> None:
        self._header = header
        self._starts: list[int] = []  # the first row of each part
        self._parts: list[list[Sequence[str]] | _CutText] = []
        self._count = 0
        self._open: tuple[int, Sequence[Sequence[str]]] = (-1, ())

    def add_row(self, cells: Sequence[str]) -> None:
        """One row by itself."""
        last = self._parts[-1] if self._parts else None
        if not isinstance(last, list):
            last = []
            self._starts.append(self._count)
            self._parts.append(last)
        last.append(cells)
        self._count += 1

    def add_block(self, block: RowBlock, kept: Sequence[bool] | None) -> None:
        """The rows of a block, or of them those that are kept."""
        self._starts.append(self._count)
        self._parts.append(_CutText(block.cut_again(), kept))
        self._count += len(block.lines) if kept is None else sum(kept)

    def row(self, row: int) -> Sequence[str]:
        """The cells of one row."""
        part = bisect_right(self._starts, row) - 1
        if self._open[0] != part:
            self._open = part, self._rows_of(self._parts[part])
        return self._open[1][row - self._starts[part]]

    def _rows_of(self, part: list[Sequence[str]] | _CutText) -> Sequence[Sequence[str]]:
        if isinstance(part, list):
            return part
        columns = part.cut()
        return _kept(list(zip(*(columns[name] for name in self._header), strict=True)), part.kept)


class _CutText(NamedTuple):
    """A block that can be cut again, and which of its rows are kept (None: all)."""

    cut: Callable[[], Mapping[str, Sequence[str]]]
    kept: Sequence[bool] | None


class LogTable:
    """Gathers rows. What can't be read is handed back as a record of its own."""

    def __init__(self, reader: RowReader, path: str, header: Sequence[str]) -> None:
        self.reader = reader
        self._path = path
        self._header = tuple(dict.fromkeys(header))
        self._fields = reader.field_readers()
        self._lines = array("q")
        self._cells = KeptCells(self._header)
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
        self._cells.add_row([row.raw[name] for name in self._header])
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
        self._cells.add_block(block, _both(wanted, good))
        for field, one in zip(self._fields, read, strict=True):
            self._values[field.name].extend(_kept(one.values, good))
            if field.name in self._instants:
                instants = map(instant_of, one.values) if one.instants is None else one.instants
                self._instants[field.name].extend(_kept(list(instants), good))

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
        known = {name: one for name, one in self._values.items() if has_any(one)}
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


def _both(wanted: Sequence[bool] | None, good: Sequence[bool] | None) -> Sequence[bool] | None:
    """Which rows of a block are kept, where `good` tells of the wanted ones alone."""
    if wanted is None or good is None:
        return good if wanted is None else wanted
    left = iter(good)
    return [one and next(left) for one in wanted]


def _is_time(reader: RowReader, name: str) -> bool:
    return any(
        one.value_name == name and one.field.type is FieldType.TIME for one in reader.spec.fields
    )


def _kept(rows: Sequence[_T], good: Sequence[bool] | None) -> Sequence[_T]:
    return rows if good is None else list(compress(rows, good))
