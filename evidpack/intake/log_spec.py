"""A ``[[log]]`` table: how the columns of one kind of log map to our fields."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal, cast

from evidpack.intake.dates import FormatError, compile_date, compile_time, needs_zone
from evidpack.intake.declared import read_glob, require_zone
from evidpack.intake.faults import TableReader
from evidpack.intake.file_patterns import Glob
from evidpack.intake.zones import stamper
from evidpack.model.day import Clock
from evidpack.model.fields import FIELDS, MAPPED_KINDS, Field, FieldType, RecordKind
from evidpack.model.units import LENGTH_SUFFIX, SPEED_SUFFIX

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
_FIELD_KEYS: Final = frozenset(
    {"column", "columns", "value", "format", "unit", "map", "separator", "zone", "optional"}
)
_LOG_HINT: Final = (
    '[[log]]\nglob = "logs/readings.csv"\nrecord = "reading"\nformat = "csv"\nclock = "meter"\n'
    '[log.fields]\ncapture = "Ref"'
)
_FORMAT_HINT: Final = (
    'time = { columns = ["Date", "Time"], format = "%d/%m/%Y %H:%M:%S" }, '
    'or format = "rfc3339" or "unix-seconds"'
)
_SERIES_UNITS: Final[dict[str, tuple[str, ...]]] = {"s": ("s", "ms"), "m": ("m", "ft")}
_UNIT_HINTS: Final[dict[FieldType, str]] = {
    FieldType.SPEED: 'speed = { column = "Speed", unit = "mph" }, or "km/h" or "m/s"',
    FieldType.LENGTH: 'range = { column = "Range", unit = "m" }, or "ft"',
    FieldType.SERIES: 'pulse_times_s = { column = "Times", separator = ";", unit = "ms" }',
    FieldType.NUMBER: 'uncertainty_s = { column = "U", unit = "ms" }, or "s"',
}


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldSpec:
    """One line of ``[log.fields]``: either columns, joined by one space, or a constant value."""

    field: Field
    columns: tuple[str, ...] = ()
    value: str | None = None
    format: str | None = None
    unit: str | None = None
    map: Mapping[str, str] | None = None
    separator: str | None = None
    zone: str | None = None  # of times without an offset; None where not known
    optional: bool = False  # the column may be missing from a file

    @property
    def value_name(self) -> str:
        """The name under which the normalised value is kept (evidpack.model.fields)."""
        if self.field.type is FieldType.SPEED:
            return f"{self.field.name}_{SPEED_SUFFIX[self.unit or '']}"
        if self.field.type is FieldType.LENGTH:
            return f"{self.field.name}_{LENGTH_SUFFIX[self.unit or '']}"
        return self.field.name


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
    fields = _read_fields(table, kind, zone=zone, has_clock=clock is not None) if kind else ()
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


def _read_fields(
    table: TableReader, kind: RecordKind, *, zone: str | None, has_clock: bool
) -> tuple[FieldSpec, ...]:
    inner = TableReader(
        table.toml, (*table.key, "fields"), table.table.get("fields", {}), table.faults
    )
    known = FIELDS[kind]
    if not inner.table:
        table.fault("[log.fields] is missing or empty", hint=_LOG_HINT)
    found: list[FieldSpec] = []
    for name, value in inner.table.items():
        if name not in known:
            inner.fault(
                f"a {kind.value} has no field {name!r}",
                name=name,
                hint=f"fields: {', '.join(known)}",
            )
            continue
        spec = _read_field(inner, known[name], value, zone=zone, has_clock=has_clock)
        if spec is not None:
            found.append(spec)
    missing = [name for name, one in known.items() if one.required and name not in inner.table]
    if missing and inner.table:
        inner.fault(
            f"a {kind.value} needs {', '.join(missing)}",
            hint=f'{missing[0]} = {{ column = "…" }}, or {missing[0]} = {{ value = "…" }}',
        )
    return tuple(found)


def _read_field(
    fields: TableReader, field: Field, value: Any, *, zone: str | None, has_clock: bool
) -> FieldSpec | None:
    if isinstance(value, str):
        value = {"column": value}
    if not isinstance(value, Mapping):
        fields.fault(
            f"{field.name} must name a column", name=field.name, hint=f'{field.name} = "Column"'
        )
        return None
    before = len(fields.faults)
    table = TableReader(fields.toml, (*fields.key, field.name), value, fields.faults)
    table.only(_FIELD_KEYS, what=field.name)
    columns, constant = _read_columns(table, field)
    own_zone = table.text("zone", hint='zone = "UTC"')
    if own_zone is not None:
        require_zone(table, "zone", own_zone)
    spec_format = table.text("format", hint=_FORMAT_HINT)
    spec = FieldSpec(
        field=field,
        columns=columns,
        value=constant,
        format=spec_format,
        unit=_read_unit(table, field),
        map=_read_map(table),
        separator=table.text("separator", hint='separator = ";"'),
        zone=(own_zone or None) if own_zone is not None else zone,
        optional=table.table.get("optional") is True,
    )
    if field.type in (FieldType.TIME, FieldType.DATE):
        _require_format(table, spec, has_zone=has_clock or own_zone is not None)
    elif spec_format is not None:
        table.fault(f"{field.name} is no time or date", name="format", hint="take format out")
    if field.type is not FieldType.SERIES and spec.separator is not None:
        table.fault(f"{field.name} is no list", name="separator", hint="take separator out")
    return spec if len(fields.faults) == before else None


def _read_columns(table: TableReader, field: Field) -> tuple[tuple[str, ...], str | None]:
    hint = f'{field.name} = {{ column = "…" }}'
    given = [name for name in ("column", "columns", "value") if name in table.table]
    if len(given) != 1:
        table.fault(f"{field.name} needs one of column, columns, value", hint=hint)
        return (), None
    if given == ["value"]:
        return (), scalar_text(table.table["value"])
    if given == ["column"]:
        column = table.text("column", required=True, hint=hint)
        return ((column,) if column else ()), None
    columns = table.texts("columns", hint='columns = ["Date", "Time"]') or ()
    if not columns:
        table.fault("columns is empty", name="columns", hint='columns = ["Date", "Time"]')
    return columns, None


def scalar_text(value: Any) -> str:
    """A TOML scalar as the text of a cell."""
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value)


def _read_map(table: TableReader) -> Mapping[str, str] | None:
    value = table.table.get("map")
    if value is None:
        return None
    scalars = (str, bool, int, float)
    if not isinstance(value, Mapping) or not all(
        isinstance(one, scalars) for one in value.values()
    ):
        table.fault("map must be a table of texts", name="map", hint='map = { OK = "pass" }')
        return None
    return {key.strip(): scalar_text(one) for key, one in value.items()}


def _read_unit(table: TableReader, field: Field) -> str | None:
    allowed = units_of(field)
    hint = _UNIT_HINTS.get(field.type, "take unit out")
    unit = table.text("unit", hint=hint)
    if unit is None:
        if field.type in (FieldType.SPEED, FieldType.LENGTH, FieldType.SERIES):
            table.fault(f"{field.name} needs a unit", hint=hint)
        return None
    if unit not in allowed:
        table.fault(f"{field.name} can't be in {unit!r}", name="unit", hint=hint)
        return None
    return unit


def units_of(field: Field) -> tuple[str, ...]:
    """The units in which a field may be exported; empty where it has none."""
    if field.type is FieldType.SPEED:
        return tuple(SPEED_SUFFIX)
    if field.type is FieldType.LENGTH:
        return tuple(LENGTH_SUFFIX)
    if field.type is FieldType.SERIES:
        return _SERIES_UNITS[field.name.rpartition("_")[2]]
    if field.type is FieldType.NUMBER and field.name.endswith("_s"):
        return _SERIES_UNITS["s"]
    return ()


def _require_format(table: TableReader, spec: FieldSpec, *, has_zone: bool) -> None:
    name = spec.field.name
    if spec.format is None:
        table.fault(f"{name} needs a format: 03/04 is two different days", hint=_FORMAT_HINT)
        return
    try:
        if spec.field.type is FieldType.DATE:
            compile_date(spec.format)
            return
        compile_time(spec.format, stamper(None))
    except FormatError as error:
        table.fault(f"{name}: {error}", name="format", hint=_FORMAT_HINT)
        return
    if needs_zone(spec.format) and not has_zone:
        table.fault(
            f"{name} needs to know whose clock it was",
            hint='clock = "meter" in the [[log]] table, or zone = "Europe/London" in the field',
        )
