"""A block of rows, field by field: the answers of `RowReader`, for thousands of rows at once.

`RowReader` is the definition of what a row says.  Here the same cell readers run over columns, equal
cells once; a row of which any field can't be read is left to `RowReader`, which words the reasons.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from evidpack.intake.cells import ToValue
from evidpack.intake.dates import CellError, compile_time
from evidpack.intake.field_spec import FieldSpec
from evidpack.intake.quick_times import TimeCells
from evidpack.intake.zones import load_zone, stamper
from evidpack.model.fields import FieldType
from evidpack.model.values import JsonValue

_REMEMBERED: Final = 50_000


@dataclass(slots=True)
class ReadColumn:
    """One field of a block: a value for each row (None where it has none), instants where it is a
    time, and the rows that can't be read because of it.
    """

    values: Sequence[JsonValue]
    instants: Sequence[int] | None = None
    bad: Collection[int] = field(default=())


class _Bad:
    """Stands where a cell can't be read, or is missing where it must not be."""


_BAD: Final = _Bad()


class FieldReader:
    """Reads one field of many rows."""

    def __init__(self, spec: FieldSpec, read: ToValue, *, empty: frozenset[str]) -> None:
        self.spec = spec
        self.name = spec.value_name
        self._read = read
        self._empty = empty
        self._required = spec.field.required
        self._known: dict[object, JsonValue | _Bad] = {}
        self._any_bad = False
        kind, plain = spec.field.type, spec.map is None
        self._is_text = plain and kind is FieldType.TEXT and len(spec.columns) == 1
        self._is_series = kind is FieldType.SERIES
        self._times: TimeCells | None = None
        if plain and kind is FieldType.TIME:
            reader = compile_time(spec.format or "", stamper(load_zone(spec.zone or "")))
            self._times = TimeCells(spec.format or "", reader, self._text_of, empty=empty)

    def read(self, columns: Mapping[str, Sequence[str]], count: int) -> ReadColumn:
        """The field in `count` rows whose cells stand in `columns`, by name."""
        cells = [columns.get(name) or [""] * count for name in self.spec.columns]
        if self._is_text:
            return self._read_texts(cells[0])
        if self._times is not None:
            return self._read_times(self._times, cells)
        keys: Sequence[object] = cells[0] if len(cells) == 1 else list(zip(*cells, strict=True))
        return self._read_each(keys) if self._is_series else self._read_once(keys)

    def _text_of(self, cells: Sequence[str]) -> str:
        """The text of a row as `RowReader` takes it together."""
        parts = [cell.strip() for cell in cells]
        return " ".join("" if part in self._empty else part for part in parts).strip()

    def _read_texts(self, cells: Sequence[str]) -> ReadColumn:
        texts: Sequence[str] = list(map(str.strip, cells))
        if texts == list(cells):
            texts = cells  # the same objects: kept once
        if "" not in texts and not any(word in texts for word in self._empty):
            return ReadColumn(texts)
        values = [None if not text or text in self._empty else text for text in texts]
        return self._judged(values)

    def _read_times(self, times: TimeCells, cells: Sequence[Sequence[str]]) -> ReadColumn:
        found = times.read(cells)
        judged = self._judged(found.values)
        judged.instants = found.instants
        if found.reasons:
            judged.bad = {*judged.bad, *found.reasons}
        return judged

    def _judged(self, values: Sequence[JsonValue]) -> ReadColumn:
        if not self._required or None not in values:
            return ReadColumn(values)
        return ReadColumn(values, bad=[row for row, one in enumerate(values) if one is None])

    def _read_once(self, keys: Sequence[object]) -> ReadColumn:
        known = self._known
        try:
            values = list(map(known.__getitem__, keys))
        except KeyError:
            if len(known) > _REMEMBERED:
                known.clear()
            for key in set(keys).difference(known):
                known[key] = self._value(key)
            values = list(map(known.__getitem__, keys))
        return self._without_bad(values)

    def _read_each(self, keys: Sequence[object]) -> ReadColumn:
        return self._without_bad([self._value(key) for key in keys])

    def _without_bad(self, values: list[JsonValue | _Bad]) -> ReadColumn:
        if not self._any_bad:
            return ReadColumn(values)  # type: ignore[arg-type]  # there is no _Bad among them
        bad = [row for row, one in enumerate(values) if isinstance(one, _Bad)]
        for row in bad:
            values[row] = None
        return ReadColumn(values, bad=bad)  # type: ignore[arg-type]

    def _value(self, key: object) -> JsonValue | _Bad:
        text = self._text_of((key,) if isinstance(key, str) else key)  # type: ignore[arg-type]
        value: JsonValue | _Bad = None
        try:
            if text:
                value = self._read(text)
            elif self._required:
                value = _BAD
        except CellError:
            value = _BAD
        if value is None and self._required and len(self.spec.columns) == 1:
            value = _BAD
        self._any_bad = self._any_bad or value is _BAD
        return value
