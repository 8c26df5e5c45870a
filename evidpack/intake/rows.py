"""One row of a log: raw cells in, normalised values or reasons out. Pure."""

from __future__ import annotations

from collections.abc import Mapping

from evidpack.intake.cells import ToValue, compile_cell
from evidpack.intake.columns import FieldReader
from evidpack.intake.dates import CellError
from evidpack.intake.field_spec import FieldSpec
from evidpack.intake.log_spec import LogSpec
from evidpack.intake.unreadable import unreadable
from evidpack.model.records import Record, Source
from evidpack.model.values import JsonValue


class RowReader:
    """Normalises the rows of one ``[[log]]`` table."""

    def __init__(self, spec: LogSpec) -> None:
        self.spec = spec
        self._empty = spec.empty
        self._constants: dict[str, JsonValue] = {}
        self._single: list[tuple[str, str, bool, FieldSpec, ToValue]] = []
        self._joined: list[tuple[FieldSpec, ToValue]] = []
        for field in spec.fields:
            read = compile_cell(field, decimal=spec.decimal)
            if field.value is not None:
                self._add_constant(field, read)
            elif len(field.columns) == 1:
                required = field.field.required
                self._single.append((field.columns[0], field.value_name, required, field, read))
            else:
                self._joined.append((field, read))

    @property
    def constants(self) -> Mapping[str, JsonValue]:
        """The values that every row has, because the table states them."""
        return self._constants

    def field_readers(self) -> tuple[FieldReader, ...]:
        """The same reading field by field for many rows, in the order of a row's values."""
        fields = [(field, read) for _, _, _, field, read in self._single] + self._joined
        return tuple(FieldReader(field, read, empty=self._empty) for field, read in fields)

    def _add_constant(self, field: FieldSpec, read: ToValue) -> None:
        text = (field.value or "").strip()
        value = read(text) if text else None
        if value is not None:
            self._constants[field.value_name] = value

    def values(
        self, raw: Mapping[str, str], *, partly: bool = False
    ) -> tuple[dict[str, JsonValue], list[str]]:
        """The normalised values of a row, and why it can't be read (empty where it can).

        `partly`: some cells are withheld, so that a required field may be missing.
        """
        values = dict(self._constants)
        reasons: list[str] = []
        for column, name, required, field, read in self._single:
            text = raw.get(column, "").strip()
            if not text or text in self._empty:
                if required and not partly:
                    reasons.append(f"{field.field.name} (column {column!r}) is missing")
                continue
            try:
                value = read(text)
            except CellError as error:
                reasons.append(f"{field.field.name}: {error}")
                continue
            if value is not None:
                values[name] = value
            elif required and not partly:
                reasons.append(f"{field.field.name} (column {column!r}) is missing")
        for field, read in self._joined:
            self._read_joined(field, read, raw, values, reasons, partly=partly)
        return values, reasons

    def _read_joined(
        self,
        field: FieldSpec,
        read: ToValue,
        raw: Mapping[str, str],
        values: dict[str, JsonValue],
        reasons: list[str],
        *,
        partly: bool,
    ) -> None:
        if partly and any(column not in raw for column in field.columns):
            return
        parts = [raw.get(column, "").strip() for column in field.columns]
        given = ["" if part in self._empty else part for part in parts]
        text = " ".join(given).strip()
        if not text:
            if field.field.required and not partly:
                reasons.append(
                    f"{field.field.name} (columns {', '.join(field.columns)}) is missing"
                )
            return
        try:
            value = read(text)
        except CellError as error:
            reasons.append(f"{field.field.name}: {error}")
            return
        if value is not None:
            values[field.value_name] = value

    def record(self, source: Source, raw: Mapping[str, str], *, excerpt: str) -> Record:
        """The record of a row: of the table's kind, or unreadable with the reasons."""
        values, reasons = self.values(raw)
        if reasons:
            return unreadable(
                source,
                reason="; ".join(reasons),
                record=self.spec.record.value,
                excerpt=excerpt,
                raw=raw,
            )
        return Record(kind=self.spec.record, source=source, raw=raw, values=values)
