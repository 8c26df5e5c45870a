"""A ``[[log]]`` table: how the columns of one kind of log map to our fields."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal, cast

from evidpack.intake.declared import read_glob
from evidpack.intake.faults import TableReader
from evidpack.intake.field_spec import FieldSpec, read_fields
from evidpack.intake.file_patterns import Glob
from evidpack.model.day import Clock
from evidpack.model.fields import MAPPED_KINDS, RecordKind

LogFormat = Literal["csv", "json", "jsonl"]

ENCODINGS: Final = ("utf-8", "utf-16", "utf-16-le", "utf-16-be", "cp1252")
_FORMATS: Final = ("csv", "json", "jsonl")
_LOG_KEYS: Final = frozenset(
    {
        "glob", "record", "format", "encoding", "delimiter", "decimal", "clock", "rows", "fields",
        "where", "empty", "skip_lines", "columns", "quote",
    }
)  # fmt: skip
_CSV_KEYS: Final = ("delimiter", "quote", "skip_lines", "columns")


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """Which rows a table reads: those whose cell is one of some texts."""

    column: str
    texts: frozenset[str]

    def takes(self, raw: Mapping[str, str]) -> bool:
        """Whether a row is one of them."""
        cell = raw.get(self.column)
        return cell is not None and cell.strip() in self.texts


@dataclass(frozen=True, slots=True, kw_only=True)
class LogSpec:
    """A ``[[log]]`` table."""

    glob: Glob
    record: RecordKind
    format: LogFormat
    encoding: str
    delimiter: str
    quote: str
    decimal: str
    clock: str | None
    rows: tuple[str, ...]
    where: Where | None
    empty: frozenset[str]
    skip_lines: int
    columns: tuple[str, ...]
    fields: tuple[FieldSpec, ...]
    path: str  # the file and the line of the table, for errors
    line: int | None

    @property
    def needed_columns(self) -> tuple[str, ...]:
        """The columns that a CSV file must have."""
        where = (self.where.column,) if self.where else ()
        named = (name for spec in self.fields if not spec.optional for name in spec.columns)
        return tuple(dict.fromkeys((*where, *named)))


def read_log(table: TableReader, clocks: Mapping[str, Clock]) -> LogSpec | None:
    """Reads a ``[[log]]`` table; faults are noted, and None returned where it can't be used."""
    before = len(table.faults)
    table.only(_LOG_KEYS, what="[[log]]")
    glob = read_glob(table)
    kinds = [kind.value for kind in MAPPED_KINDS]
    record = table.choice("record", kinds, required=True, hint='record = "reading"')
    form = table.choice("format", _FORMATS, required=True, hint='format = "csv", "json" or "jsonl"')
    decimal = table.choice("decimal", (".", ","), hint='decimal = ","') or "."
    clock = table.text("clock", hint='clock = "meter"')
    if clock is not None and clock not in clocks:
        table.fault(
            f"no [[clock]] is named {clock!r}", name="clock", hint='[[clock]]\nname = "meter"'
        )
    zone = clocks[clock].zone if clock is not None and clock in clocks else None
    _refuse_csv_keys(table, form)
    kind = RecordKind(record) if record else None
    fields = read_fields(table, kind, zone=zone, has_clock=clock is not None) if kind else ()
    if glob is None or kind is None or form is None or len(table.faults) > before:
        return None
    return LogSpec(
        glob=glob,
        record=kind,
        format=cast("LogFormat", form),
        encoding=table.choice("encoding", ENCODINGS, hint='encoding = "cp1252"') or "utf-8",
        delimiter=_one_character(table, "delimiter", ","),
        quote=_one_character(table, "quote", '"'),
        decimal=decimal,
        clock=clock,
        rows=tuple((table.text("rows", hint='rows = "day.captures"') or "").split("."))
        if table.table.get("rows")
        else (),
        where=_read_where(table),
        empty=frozenset(table.texts("empty", hint='empty = ["-", "n/a"]') or ()),
        skip_lines=table.integer("skip_lines", hint="skip_lines = 2") or 0,
        columns=table.texts("columns", hint='columns = ["Ref", "Speed"]') or (),
        fields=fields,
        path=table.toml.path,
        line=table.line,
    )


def _refuse_csv_keys(table: TableReader, form: str | None) -> None:
    if form == "csv" and "rows" in table.table:
        table.fault("rows is for JSON", name="rows", hint='format = "json"')
    if form in {"json", "jsonl"}:
        for name in _CSV_KEYS:
            if name in table.table:
                table.fault(f"{name} is for CSV", name=name, hint="take the line out")


def _one_character(table: TableReader, name: str, usual: str) -> str:
    value = table.table.get(name, usual)
    if not isinstance(value, str) or len(value) != 1 or value in "\r\n\0":
        table.fault(f"{name} must be one character", name=name, hint=f'{name} = ";" or "\\t"')
        return usual
    return value


def _read_where(table: TableReader) -> Where | None:
    if "where" not in table.table:
        return None
    hint = 'where = { column = "Type", is = ["M", "MEAS"] }'
    inner = TableReader(table.toml, (*table.key, "where"), table.table["where"], table.faults)
    inner.only({"column", "is"}, what="where")
    column = inner.text("column", required=True, hint=hint)
    texts = inner.texts("is", hint=hint)
    if not texts:
        inner.fault("where needs a list of texts", hint=hint)
    if column is None or not texts:
        return None
    return Where(column=column, texts=frozenset(text.strip() for text in texts))
