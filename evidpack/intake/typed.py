"""Records typed by hand in day.toml, notes.toml and the unit's files.

Each says who typed it and from which document (``typed_by``, ``typed_from``), as a whole or field
by field; a session and a note may leave that out, since they are the office's own.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from datetime import time as time_of_day
from typing import Any, Final

from evidpack.intake.dates import (
    FIRST_YEAR,
    LAST_YEAR,
    RFC3339,
    CellError,
    compile_date,
    compile_time,
)
from evidpack.intake.faults import TableReader
from evidpack.intake.text_lines import fault_of
from evidpack.intake.zones import ToStamp
from evidpack.limits import MAX_SAFE_INTEGER
from evidpack.model.fields import FIELDS, Field, FieldType, RecordKind
from evidpack.model.records import Record, Source
from evidpack.model.stamps import Stamp
from evidpack.model.units import LENGTH_SUFFIX, SPEED_SUFFIX
from evidpack.model.values import JsonValue

_OWN: Final = frozenset({RecordKind.SESSION, RecordKind.NOTE})
_SOURCE_HINT: Final = 'typed_by = "A. Clerk"\ntyped_from = "certificate TC-118, page 1"'
_OPERATORS_HINT: Final = (
    'operators = [{ id = "OP-7", role = "operator", from = "2026-05-14T09:00:00" }]'
)
_UNITS: Final = {FieldType.SPEED: SPEED_SUFFIX, FieldType.LENGTH: LENGTH_SUFFIX}
_EXAMPLES: Final[dict[FieldType, str]] = {
    FieldType.TEXT: '"text"',
    FieldType.INTEGER: "12",
    FieldType.NUMBER: "0.5",
    FieldType.FLAG: "true",
    FieldType.SPEED: '{ value = 71, unit = "mph" }',
    FieldType.LENGTH: '{ value = 245.3, unit = "m" }',
    FieldType.SERIES: "[0.0, 0.01, 0.02]",
    FieldType.TIME: '"2026-05-14T09:12:33" or "2026-05-14T08:12:33Z"',
    FieldType.DATE: '"2026-05-14"',
}


class _FieldFaultError(ValueError):
    """A typed value that does not fit its field."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedReader:
    """Reads typed tables. `stamp` gives local times their zone, that of ``[day]``."""

    stamp: ToStamp

    def records(self, file: TableReader, *, source_path: str) -> list[Record]:
        """The records typed in one file, in the order of their kinds; faults are noted."""
        found: list[Record] = []
        for kind in FIELDS:
            places: dict[int | None, int] = {}
            for table in file.tables(kind.value, hint=f"[[{kind.value}]]\n{_SOURCE_HINT}"):
                place = places.get(table.line, 0)
                places[table.line] = place + 1
                source = Source(path=source_path, line=table.line, place=place)
                found.append(Record(kind=kind, source=source, values=self._values(kind, table)))
        return found

    def _values(self, kind: RecordKind, table: TableReader) -> Mapping[str, JsonValue]:
        values: dict[str, JsonValue] = {}
        fields = FIELDS[kind]
        given: set[str] = set()
        for name, value in table.table.items():
            if name in {"typed_by", "typed_from", "typed"}:
                continue
            if name == "operators" and kind is RecordKind.SESSION:
                values["operators"] = self._operators(table)
                continue
            base, unit = _split_unit(name, fields)
            if base is None:
                hint = f"fields: {', '.join(fields)}"
                table.fault(f"a {kind.value} has no field {name!r}", name=name, hint=hint)
                continue
            if base in given:
                table.fault(f"{base} stands twice", name=name, hint="keep one of them")
            given.add(base)
            self._add(table, fields[base], name, unit, value, values)
        for field in fields.values():
            if field.required and field.name not in given:
                hint = f"{field.name} = {_example(field)}"
                table.fault(f"a {kind.value} needs {field.name}", hint=hint)
        self._add_source(kind, table, fields, values)
        return values

    def _add(
        self,
        table: TableReader,
        field: Field,
        name: str,
        unit: str | None,
        value: Any,
        values: dict[str, JsonValue],
    ) -> None:
        try:
            if field.type in _UNITS:
                suffix, number = _quantity(field, unit, value)
                values[f"{field.name}_{suffix}"] = number
                return
            plain = self._plain(field, value)
        except (_FieldFaultError, CellError) as error:
            table.fault(f"{name}: {error}", name=name, hint=f"{field.name} = {_example(field)}")
            return
        if plain is not None:
            values[field.name] = plain

    def _plain(self, field: Field, value: Any) -> JsonValue:
        if field.type is FieldType.TIME:
            return self._time(value).to_json()
        if field.type is FieldType.DATE:
            return _date(value)
        if field.type is FieldType.FLAG:
            if not isinstance(value, bool):
                raise _FieldFaultError("must be true or false")
            return value
        if field.type is FieldType.SERIES:
            if not isinstance(value, list):
                raise _FieldFaultError("must be a list of numbers")
            return [_number(one) for one in value]
        if field.type in (FieldType.NUMBER, FieldType.INTEGER):
            number = _number(value)
            if field.type is FieldType.INTEGER and not isinstance(number, int):
                raise _FieldFaultError("must be a whole number")
            return number
        return _text(field, value)

    def _time(self, value: Any) -> Stamp:
        if isinstance(value, datetime):
            if not FIRST_YEAR <= value.year <= LAST_YEAR:
                raise _FieldFaultError(f"has a year outside {FIRST_YEAR} to {LAST_YEAR}")
            return Stamp.at(value) if value.tzinfo else self.stamp(value)
        if isinstance(value, str):
            return compile_time(RFC3339, self.stamp)(value.strip())
        raise _FieldFaultError("must be a time with its date")

    def _operators(self, table: TableReader) -> JsonValue:
        found: list[JsonValue] = []
        for one in table.tables("operators", hint=_OPERATORS_HINT):
            one.only({"id", "role", "from", "until"}, what="an operator of a session")
            entry: dict[str, JsonValue] = {}
            for name in ("id", "role"):
                text = one.text(name, required=name == "id", hint=_OPERATORS_HINT)
                if text is not None:
                    entry[name] = text.strip()
            for name in ("from", "until"):
                if name not in one.table:
                    continue
                try:
                    entry[name] = self._time(one.table[name]).to_json()
                except (_FieldFaultError, CellError) as error:
                    one.fault(f"{name}: {error}", name=name, hint=_OPERATORS_HINT)
            found.append(entry)
        return found

    @staticmethod
    def _add_source(
        kind: RecordKind,
        table: TableReader,
        fields: Mapping[str, Field],
        values: dict[str, JsonValue],
    ) -> None:
        for name in ("typed_by", "typed_from"):
            text = table.text(name, required=kind not in _OWN, hint=_SOURCE_HINT)
            if text is not None:
                values[name] = text.strip()
        if "typed" not in table.table:
            return
        hint = 'typed = { serial = { by = "B. Clerk", from = "label on the meter" } }'
        inner = TableReader(table.toml, (*table.key, "typed"), table.table["typed"], table.faults)
        typed: dict[str, JsonValue] = {}
        for name, value in inner.table.items():
            base, _ = _split_unit(name, fields)
            if base is None:
                inner.fault(f"there is no field {name!r} here", name=name, hint=hint)
                continue
            one = TableReader(table.toml, (*inner.key, name), value, table.faults)
            one.only({"by", "from"}, what=name)
            by = one.text("by", required=True, hint=hint)
            source = one.text("from", required=True, hint=hint)
            typed[base] = {"by": (by or "").strip(), "from": (source or "").strip()}
        values["typed"] = typed


def _split_unit(name: str, fields: Mapping[str, Field]) -> tuple[str | None, str | None]:
    """The field of a key, and the unit ending where the key has one (``speed_mph``)."""
    if name in fields:
        return name, None
    base, _, suffix = name.rpartition("_")
    if base in fields and suffix in _UNITS.get(fields[base].type, {}).values():
        return base, suffix
    return None, None


def _quantity(field: Field, suffix: str | None, value: Any) -> tuple[str, int | float]:
    if suffix is not None:
        return suffix, _number(value)
    if not isinstance(value, Mapping) or set(value) != {"value", "unit"}:
        raise _FieldFaultError("needs a value and a unit")
    units = _UNITS[field.type]
    if value["unit"] not in units:
        raise _FieldFaultError(f"{value['unit']!r} is none of: {', '.join(units)}")
    return units[value["unit"]], _number(value["value"])


def _number(value: Any) -> int | float:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise _FieldFaultError("must be a number")
    if not abs(value) <= MAX_SAFE_INTEGER or not math.isfinite(value):
        raise _FieldFaultError("is out of bounds")
    return int(value) if float(value).is_integer() else value


def _date(value: Any) -> str:
    if isinstance(value, date) and not isinstance(value, datetime):
        return compile_date(RFC3339)(value.isoformat()).isoformat()
    if isinstance(value, str):
        return compile_date(RFC3339)(value.strip()).isoformat()
    raise _FieldFaultError("must be a date")


def _text(field: Field, value: Any) -> str | None:
    if not isinstance(value, str):
        hint = "put it in quotes" if isinstance(value, (int, float)) else "must be a text"
        if isinstance(value, (date, time_of_day)):
            hint = "must be a text; put it in quotes"
        raise _FieldFaultError(hint)
    fault = fault_of(value)
    if fault is not None:
        raise _FieldFaultError(fault)
    text = value.strip()
    if field.choices and text not in field.choices:
        raise _FieldFaultError(f"{text!r} is none of: {', '.join(field.choices)}")
    if field.required and not text:
        raise _FieldFaultError("is empty")
    return text or None


def _example(field: Field) -> str:
    return f'"{field.choices[0]}"' if field.choices else _EXAMPLES[field.type]
