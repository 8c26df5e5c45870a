"""One line of ``[log.fields]``: which columns give a field, and in which unit and format."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from evidpack.intake.dates import FormatError, compile_date, compile_time, needs_zone
from evidpack.intake.declared import require_zone
from evidpack.intake.faults import TableReader
from evidpack.intake.zones import stamper
from evidpack.model.fields import FIELDS, Field, FieldType, RecordKind
from evidpack.model.units import LENGTH_SUFFIX, SPEED_SUFFIX

_FIELDS_HINT: Final = '[log.fields]\ncapture = "Ref"'
_FIELD_KEYS: Final = frozenset(
    {"column", "columns", "value", "format", "unit", "map", "separator", "zone", "optional"}
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


def read_fields(
    table: TableReader, kind: RecordKind, *, zone: str | None, has_clock: bool
) -> tuple[FieldSpec, ...]:
    """The lines of ``[log.fields]``; faults are noted. `zone` is that of the table's clock."""
    inner = TableReader(
        table.toml, (*table.key, "fields"), table.table.get("fields", {}), table.faults
    )
    known = FIELDS[kind]
    if not inner.table:
        table.fault("[log.fields] is missing or empty", hint=_FIELDS_HINT)
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
