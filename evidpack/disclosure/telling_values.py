"""Which values of a sealed entry tell it from others, as texts to look for.

Words that everybody's rows share (pass, approaching, yes) are no secret, nor are the fixed names of
office files.  A number is looked for with its unit, since by itself it may be anything.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from evidpack.container import layout
from evidpack.disclosure.sealed_bundle import SealedEntry
from evidpack.disclosure.texts import texts_in
from evidpack.disclosure.value_index import MIN_CHARACTERS
from evidpack.model.fields import FIELDS, FieldType, RecordKind
from evidpack.proof.entries import RAW_PREFIX

_UNITS: Final = {"_mph": ("mph",), "_kmh": ("km/h", "kmh", "kph"), "_mps": ("m/s",)}
_FILE_FIELDS: Final = frozenset({"path", "original_name", "sha256"})
_FIXED_NAMES: Final = frozenset(
    {
        layout.OFFICE_DAY,
        layout.OFFICE_PROFILE,
        layout.OFFICE_RULES,
        layout.OFFICE_NOTES,
        layout.OFFICE_RUNS,
        layout.OFFICE_SEALING,
    }
)
_PLAIN: Final = frozenset({"record_kind", "item_kind", "origin", "decoder"})


def telling_values(entry: SealedEntry) -> Iterator[str]:
    """The values of a withheld entry that tell it from others."""
    for name, value in entry.values.items():
        if name in _PLAIN:
            continue
        if isinstance(value, int | float) and not isinstance(value, bool):
            yield from numbers_with_units(name, value)
            continue
        for text in texts_in(value):
            if _tells(entry, name, text):
                yield text
                if name == "path":
                    yield text.rpartition("/")[2]


def _is_number(text: str) -> bool:
    try:
        float(text.strip().replace(",", "."))
    except ValueError:
        return False
    return True


def numbers_with_units(name: str, value: float) -> Iterator[str]:
    """A speed is looked for with its unit: a bare number may be anything."""
    for suffix, units in _UNITS.items():
        if name.endswith(suffix):
            for unit in units:
                yield f"{value:g} {unit}"
                yield f"{value:g}{unit}"


def _tells(entry: SealedEntry, name: str, text: str) -> bool:
    """A text field, a name of a file, a cell with a digit or several words."""
    if len(text.strip()) < MIN_CHARACTERS:
        return False
    if entry.kind == "file":
        return name in _FILE_FIELDS and text not in _FIXED_NAMES
    if entry.kind == "finding":
        return name in {"sentence", "advice"} and " " in text
    if name.startswith(RAW_PREFIX):
        return not _is_number(text) and (
            any(mark.isdigit() for mark in text) or len(text.split()) > 1
        )
    field = FIELDS.get(_kind(entry), {}).get(name)
    if field is not None and field.type is FieldType.CHOICE:
        return False
    is_text = field is not None and field.type is FieldType.TEXT
    return is_text or any(mark.isdigit() for mark in text) or "/" in text


def _kind(entry: SealedEntry) -> RecordKind:
    try:
        return RecordKind(str(entry.values.get("record_kind")))
    except ValueError:
        return RecordKind.NOTE
