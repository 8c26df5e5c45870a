"""From the text of a cell to the normalised value: pure, declared, compiled once a column.

What a cell may hold depends on nothing but its `FieldSpec` and the log's decimal sign, so that a
disclosed raw cell can be normalised again by anyone.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from decimal import Decimal, InvalidOperation
from typing import Final

from evidpack.intake.dates import CellError, compile_date, compile_time
from evidpack.intake.field_spec import FieldSpec
from evidpack.intake.zones import load_zone, stamper
from evidpack.limits import MAX_SAFE_INTEGER
from evidpack.model.fields import FieldType
from evidpack.model.values import JsonValue

ToValue = Callable[[str], JsonValue]

_NUMBER: Final = re.compile(r"[+-]?(?:\d{1,30})(?:\.\d{1,30})?(?:[eE][+-]?\d{1,3})?", re.ASCII)
_FLAGS: Final = {
    "true": True, "yes": True, "1": True, "false": False, "no": False, "0": False,
}  # fmt: skip
# Spellings of a declared unit that may stand behind a number.
_SPELLINGS: Final[dict[str, tuple[str, ...]]] = {
    "km/h": ("km/h", "kmh", "kph"),
    "mph": ("mph",),
    "m/s": ("m/s",),
    "ft": ("ft",),
    "m": ("m",),
    "s": ("s",),
    "ms": ("ms",),
}
_SCALE: Final[dict[str, Decimal]] = {"ms": Decimal("0.001"), "ft": Decimal("0.3048")}
_REMEMBERED: Final = 4_096
_FEW_DIGITS: Final = 15  # below 2^53 without its point


def compile_cell(spec: FieldSpec, *, decimal: str) -> ToValue:
    """A reader of stripped, non-empty cells of one field. The reader raises CellError.

    `decimal` is the log's decimal sign.
    """
    plain = _plain(spec, decimal)
    if spec.map is None:
        return plain
    mapping = spec.map
    known = ", ".join(sorted(mapping))

    def mapped(text: str) -> JsonValue:
        if text in mapping:
            target = mapping[text]
            return plain(target) if target else None
        if spec.field.type in (FieldType.CHOICE, FieldType.FLAG):
            raise CellError(f"{_shown(text)} is none of those mapped: {known}")
        return plain(text)

    return mapped


def _plain(spec: FieldSpec, decimal: str) -> ToValue:
    kind = spec.field.type
    if kind is FieldType.TEXT:
        return lambda text: text
    if kind is FieldType.CHOICE:
        return _choice(spec)
    if kind is FieldType.FLAG:
        return _flag
    if kind is FieldType.TIME:
        read = compile_time(spec.format or "", stamper(load_zone(spec.zone or "")))
        return lambda text: read(text).to_json()
    if kind is FieldType.DATE:
        day = compile_date(spec.format or "")
        return lambda text: day(text).isoformat()
    if kind is FieldType.SERIES:
        return _series(spec, decimal)
    if kind is FieldType.INTEGER:
        return lambda text: (
            int(text) if _is_plain(text) else _integer(number_of(text, decimal, ()), text)
        )
    # A speed or a length keeps its unit; only seconds have one of their own to be brought to.
    scale = _SCALE.get(spec.unit or "") if kind is FieldType.NUMBER else None
    units = _SPELLINGS.get(spec.unit or "", ())

    def number(text: str) -> JsonValue:
        quick = _plain_number(text) if scale is None and decimal == "." else None
        return json_number(number_of(text, decimal, units), scale) if quick is None else quick

    return _remembered(number)


def _remembered(read: ToValue) -> ToValue:
    """A log repeats its numbers; each is read once."""
    known: dict[str, JsonValue] = {}

    def quick(text: str) -> JsonValue:
        if text not in known:
            if len(known) >= _REMEMBERED:
                known.clear()
            known[text] = read(text)
        return known[text]

    return quick


def _choice(spec: FieldSpec) -> ToValue:
    choices = spec.field.choices
    by_text = {choice.casefold(): choice for choice in choices}

    def read(text: str) -> JsonValue:
        found = by_text.get(text.casefold())
        if found is None:
            raise CellError(f"{_shown(text)} is none of: {', '.join(choices)}")
        return found

    return read


def _flag(text: str) -> JsonValue:
    found = _FLAGS.get(text.casefold())
    if found is None:
        raise CellError(f"{_shown(text)} is neither true nor false")
    return found


def _series(spec: FieldSpec, decimal: str) -> ToValue:
    scale = _SCALE.get(spec.unit or "")
    separator = spec.separator

    listed = _remembered(lambda part: json_number(number_of(part, ".", ()), scale))
    spaced = _remembered(lambda part: json_number(number_of(part.strip(), decimal, ()), scale))

    def read(text: str) -> JsonValue:
        if text.startswith("["):
            return [listed(part) for part in _json_list(text)]
        parts = text.split(separator) if separator else text.split()
        if parts and not parts[-1].strip():
            parts.pop()  # a separator at the end
        return [spaced(part) for part in parts]

    return read


def _json_list(text: str) -> list[str]:
    try:
        parts = json.loads(text, parse_int=str, parse_float=str, parse_constant=str)
    except (ValueError, RecursionError) as error:
        raise CellError(f"{_shown(text)} is not a list of numbers") from error
    if not isinstance(parts, list) or not all(isinstance(part, str) for part in parts):
        raise CellError(f"{_shown(text)} is not a list of numbers")
    return parts


def _plain_number(text: str) -> int | float | None:
    """The JSON number of a text of few digits with or without a point, as `json_number` gives it;
    None for any other text.
    """
    if _is_plain(text):
        return int(text)
    whole, _, part = text.partition(".")
    if not (_is_plain(whole) and _is_plain(part) and len(text) <= _FEW_DIGITS):
        return None
    value = float(text)
    return int(value) if value.is_integer() else value


def _is_plain(text: str) -> bool:
    """Whether a text is a few digits and nothing else."""
    return text.isdigit() and text.isascii() and len(text) <= _FEW_DIGITS


def number_of(text: str, decimal: str, units: tuple[str, ...]) -> Decimal:
    """An exact number, with the declared unit behind it or not. Raises CellError."""
    bare = text
    if units and text[-1:].isalpha():
        for unit in units:
            if text[-len(unit) :].casefold() == unit:
                bare = text[: -len(unit)].rstrip()
                break
    if decimal == ",":
        if "." in bare:
            raise CellError(f"{_shown(text)} has a point, but the decimal sign is a comma")
        bare = bare.replace(",", ".", 1)
    if not _NUMBER.fullmatch(bare):
        raise CellError(f"{_shown(text)} is not a number")
    try:
        return Decimal(bare)
    except InvalidOperation as error:  # pragma: no cover - the pattern admits no such text
        raise CellError(f"{_shown(text)} is not a number") from error


def json_number(exact: Decimal, scale: Decimal | None = None) -> int | float:
    """The JSON number of an exact one: whole where it is whole. Raises CellError out of bounds."""
    value = float(exact if scale is None else exact * scale)
    if abs(value) > MAX_SAFE_INTEGER:
        raise CellError(f"{_shown(str(exact))} is out of bounds")
    return int(value) if value.is_integer() else value


def _integer(exact: Decimal, text: str) -> int:
    value = json_number(exact)
    if not isinstance(value, int) or exact != value:
        raise CellError(f"{_shown(text)} is not a whole number")
    return value


def _shown(text: str) -> str:
    return repr(text if len(text) <= 60 else text[:60] + "…")
