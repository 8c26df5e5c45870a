"""One value of each of many records, whatever holds the records."""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Iterator, Sequence
from itertools import chain, repeat

from evidpack.model.records import Record
from evidpack.model.tables import NO_INSTANT, RecordChain, RecordTable, instant_of
from evidpack.model.values import JsonValue


class Columns:
    """The values of many records by name, whatever holds the records."""

    def __init__(self, records: Sequence[Record]) -> None:
        self.records = records
        self.parts = records.parts if isinstance(records, RecordChain) else (records,)
        self._values: dict[str, Sequence[JsonValue] | None] = {}
        self._instants: dict[str, Sequence[int]] = {}

    def get(self, name: str) -> Sequence[JsonValue] | None:
        """One value of each record, None where it has none; None where no record has any."""
        if name not in self._values:
            found = [_column(part, name) for part in self.parts]
            self._values[name] = _joined(found, [len(part) for part in self.parts])
        return self._values[name]

    def instants(self, name: str) -> Sequence[int]:
        """One time of each record as microseconds since 1970 UTC, NO_INSTANT where it has none or
        one that names no single instant.
        """
        if name not in self._instants:
            found = [_instants(part, name) for part in self.parts]
            whole = found[0] if len(found) == 1 else array("q", chain.from_iterable(found))
            self._instants[name] = whole
        return self._instants[name]

    def sources(self) -> Iterator[tuple[str, int | None, int]]:
        """Path, line and place of each record."""
        return chain.from_iterable(map(_sources, self.parts))

    def paths(self) -> Iterator[tuple[str, int]]:
        """Runs of records of one path: the path, and how many."""
        for part in self.parts:
            if isinstance(part, RecordTable):
                yield part.path, len(part)
            else:
                yield from ((record.source.path, 1) for record in part)

    def stands_beside(self, other: Columns) -> bool:
        """Whether each record here has the source of the record in the same place there, as far
        as can be told without looking at each.
        """
        return len(self.parts) == len(other.parts) and all(
            isinstance(mine, RecordTable)
            and isinstance(theirs, RecordTable)
            and mine.path == theirs.path
            and mine.lines is theirs.lines
            for mine, theirs in zip(self.parts, other.parts, strict=True)
        )


def _column(part: Sequence[Record], name: str) -> Sequence[JsonValue] | None:
    if isinstance(part, RecordTable):
        return part.columns.get(name)
    found = [record.values.get(name) for record in part]
    return None if found.count(None) == len(found) else found


def _joined(
    found: Sequence[Sequence[JsonValue] | None], lengths: Sequence[int]
) -> Sequence[JsonValue] | None:
    if len(found) == 1:
        return found[0]
    if all(one is None for one in found):
        return None
    joined: list[JsonValue] = []
    for one, length in zip(found, lengths, strict=True):
        joined.extend(repeat(None, length) if one is None else one)
    return joined


def _instants(part: Sequence[Record], name: str) -> Sequence[int]:
    if isinstance(part, RecordTable):
        known = part.instants.get(name)
        return array("q", [NO_INSTANT]) * len(part) if known is None else known
    return array("q", [instant_of(record.values.get(name)) for record in part])


def _sources(part: Sequence[Record]) -> Iterable[tuple[str, int | None, int]]:
    if isinstance(part, RecordTable):
        return zip(repeat(part.path), part.lines, repeat(0))
    return [(one.source.path, one.source.line, one.source.place) for one in part]
