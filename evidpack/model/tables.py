"""Many records in columns: a log of 100,000 rows costs a few lists, not 100,000 objects.

A table is a sequence of records like any other: each record is made when it is asked for, from the
row's place in the columns, and equals one that was made by itself.  Who needs one value of every
record asks for the column (`evidpack.model.columns`).
"""

from __future__ import annotations

import heapq
from array import array
from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from itertools import chain
from typing import Any, Final, Protocol, overload

from evidpack.model.fields import RecordKind
from evidpack.model.records import Record, Source
from evidpack.model.values import JsonValue

NO_INSTANT: Final = -(2**63)
MICROSECONDS: Final = 1_000_000
_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)


def microseconds_of(instant: datetime) -> int:
    """Microseconds since 1970 UTC of an aware time, exactly."""
    since = instant - _EPOCH
    return (since.days * 86_400 + since.seconds) * MICROSECONDS + since.microseconds


def instant_of(value: JsonValue) -> int:
    """The one instant of a time's value in microseconds since 1970 UTC, or NO_INSTANT."""
    if not isinstance(value, str):
        return NO_INSTANT
    return microseconds_of(datetime.fromisoformat(value))


class RawCells(Protocol):
    """The cells of the rows of a table as exported."""

    def row(self, row: int) -> Sequence[str]:
        """The cells of one row."""


class RecordTable(Sequence[Record]):
    """The rows of one log as records of one kind, in the order of their lines.

    `lines` holds the first line of each row (1-based).  `cells` has the raw cells of a row, one
    for each name of `header`; `columns` the normalised values by name, None where a row has none.
    `instants` holds, for a time in `columns`, microseconds since 1970 UTC, or NO_INSTANT where the
    value is missing or names no single instant.
    """

    __slots__ = ("cells", "columns", "header", "instants", "kind", "lines", "path")

    def __init__(
        self,
        *,
        kind: RecordKind,
        path: str,
        lines: array[int],
        header: Sequence[str] = (),
        cells: RawCells | None = None,
        columns: Mapping[str, Sequence[JsonValue]],
        instants: Mapping[str, Sequence[int]],
    ) -> None:
        self.kind = kind
        self.path = path
        self.lines = lines
        self.header = header
        self.cells = cells
        self.columns = columns
        self.instants = instants

    def __len__(self) -> int:
        return len(self.lines)

    @overload
    def __getitem__(self, index: int) -> Record: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Record]: ...
    def __getitem__(self, index: int | slice) -> Record | Sequence[Record]:
        if isinstance(index, slice):
            return tuple(RowRecord(self, row) for row in range(*index.indices(len(self.lines))))
        if not -len(self.lines) <= index < len(self.lines):
            raise IndexError(index)
        return RowRecord(self, index % len(self.lines))

    def __iter__(self) -> Iterator[Record]:
        return (RowRecord(self, row) for row in range(len(self.lines)))


class RowRecord(Record):
    """One row of a table, as a record."""

    __slots__ = ("_row", "_table")

    def __init__(self, table: RecordTable, row: int) -> None:
        object.__setattr__(self, "_table", table)
        object.__setattr__(self, "_row", row)

    @property
    def kind(self) -> RecordKind:
        """What the record is about."""
        return self._table.kind

    @property
    def source(self) -> Source:
        """Where it was read."""
        return Source(path=self._table.path, line=self._table.lines[self._row])

    @property
    def raw(self) -> Mapping[str, str]:
        """The cells as exported."""
        table = self._table
        if table.cells is None:
            return {}
        return dict(zip(table.header, table.cells.row(self._row), strict=True))

    @property
    def values(self) -> Mapping[str, JsonValue]:
        """The normalised values."""
        row = self._row
        columns = self._table.columns.items()
        return {name: value for name, column in columns if (value := column[row]) is not None}

    _table: RecordTable
    _row: int

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Record):
            return NotImplemented
        return (self.kind, self.source, self.raw, self.values) == (
            other.kind,
            other.source,
            other.raw,
            other.values,
        )

    __hash__ = None  # type: ignore[assignment]  # as of any record: it holds mappings


class RecordChain(Sequence[Record]):
    """Tables and plain records one after the other, in the order of their sources."""

    __slots__ = ("parts",)

    def __init__(self, parts: Iterable[Sequence[Record]]) -> None:
        self.parts = tuple(parts)

    def __len__(self) -> int:
        return sum(map(len, self.parts))

    @overload
    def __getitem__(self, index: int) -> Record: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Record]: ...
    def __getitem__(self, index: int | slice) -> Record | Sequence[Record]:
        if isinstance(index, slice):
            return tuple(self[row] for row in range(*index.indices(len(self))))
        row = index + len(self) if index < 0 else index
        for part in self.parts:
            if 0 <= row < len(part):
                return part[row]
            row -= len(part)
        raise IndexError(index)

    def __iter__(self) -> Iterator[Record]:
        return chain.from_iterable(self.parts)


def has_any(column: Sequence[JsonValue]) -> bool:
    """Whether any record has a value."""
    return len(column) > 0 and (column[0] is not None or column.count(None) != len(column))


def in_order(
    tables: Iterable[RecordTable], others: Sequence[Record], *, order: Callable[[Record], Any]
) -> Sequence[Record]:
    """Tables and other records (in order by themselves) in the order of their sources.

    A table keeps its columns where no other record comes from its file.
    """
    tables = sorted(tables, key=lambda table: table.path)
    paths = [table.path for table in tables]
    if len(set(paths)) < len(paths) or any(one.source.path in paths for one in others):
        return tuple(heapq.merge(others, *tables, key=order))
    if not tables:
        return tuple(others)
    parts: list[Sequence[Record]] = []
    start = 0
    for table in tables:
        end = bisect_left(others, table.path, start, key=lambda one: one.source.path)
        parts += [others[start:end], table]
        start = end
    found = [part for part in (*parts, others[start:]) if len(part)]
    return found[0] if len(found) == 1 else RecordChain(found)


class MergedRecords(Sequence[Record]):
    """Several sequences of records, each in order by itself, as one in that order.

    Iterating makes each record when its turn comes and keeps none.
    """

    __slots__ = ("_order", "_parts")

    def __init__(
        self, parts: Iterable[Sequence[Record]], *, order: Callable[[Record], Any]
    ) -> None:
        self._parts = tuple(parts)
        self._order = order

    def __len__(self) -> int:
        return sum(map(len, self._parts))

    def __iter__(self) -> Iterator[Record]:
        return heapq.merge(*self._parts, key=self._order)

    @overload
    def __getitem__(self, index: int) -> Record: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Record]: ...
    def __getitem__(self, index: int | slice) -> Record | Sequence[Record]:
        return tuple(self)[index]

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Sequence):
            return NotImplemented
        return len(self) == len(other) and all(a == b for a, b in zip(self, other, strict=True))

    __hash__ = None  # type: ignore[assignment]
