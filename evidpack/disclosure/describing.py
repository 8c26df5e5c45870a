"""One line that says what an entry is, made from given values alone.

Given all values it is for the person who decides; given the opened ones, for the recipient, who
then reads nothing that stays closed.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Final

from evidpack.index.phrases import moment_text, size_text, value_text
from evidpack.model.values import JsonValue

# What names a record of a kind best, in this order, and how it is said; a missing one is passed over.
_TELLING: Final[Mapping[str, Mapping[str, str]]] = {
    "session": {"id": "{}", "site": "{}", "start": "{}"},
    "meter": {"type": "{}", "serial": "{}"},
    "operator": {"name": "{}", "id": "{}"},
    "reading": {"capture": "{}", "time": "{}"},
    "device_test": {"test": "{}", "result": "{}", "time": "{}"},
    "clock_check": {"clock": "{}", "time": "{}"},
    "certificate": {"certificate": "{}", "number": "{}"},
    "meter_event": {"event": "{}", "date": "{}"},
    "site": {"id": "{}", "name": "{}"},
    "limit_order": {"number": "{}", "site": "{}"},
    "report": {"session": "{}", "signed": "{}"},
    "review": {"capture": "{}", "reviewer": "{}"},
    "data_strip": {"still": "{}", "time": "{}"},
    "mark": {"capture": "{}", "still": "{}"},
    "frame_time": {"clip": "{}", "frame": "frame {}"},
    "deletion": {"image_first": "from image {}", "image_last": "to image {}", "reason": "{}"},
    "event": {"event": "{}", "capture": "{}"},
    "note": {"subject": "{}", "by": "{}"},
    "still": {"path": "{}", "image_number": "image {}"},
    "clip": {"path": "{}"},
    "capture": {"capture": "{}", "number": "number {}"},
    "past_run": {"run": "run {}"},
    "past_finding": {"check": "check {}", "subject": "{}", "outcome": "{}"},
    "empty_folder": {"path": "{}"},
}
_FILE: Final[Mapping[str, str]] = {"path": "{}"}
_FINDING: Final[Mapping[str, str]] = {"subject": "{}", "outcome": "{}"}


def describe(kind: str, values: Mapping[str, JsonValue], *, whole_paths: bool = False) -> str:
    """What an entry is, in a few words. `values` may lack any of the entry's own.

    Of a path the last part is enough for a recipient, beside the file itself; for the person who
    decides, `whole_paths` says where it is.
    """
    if kind == "file":
        return _of_file(values, whole_paths=whole_paths)
    if kind == "finding":
        check = values.get("check")
        head = "finding" if check is None else f"finding of check {check}"
        return _joined(head, values, _FINDING, whole_paths=whole_paths)
    record = _word(values, "record_kind", "record")
    telling = _TELLING.get(record.replace(" ", "_"), {})
    return _joined(record, values, telling, whole_paths=whole_paths)


def fields_told(values: Mapping[str, JsonValue]) -> frozenset[str]:
    """The fields of a record that `describe` tells, so that nobody tells them again beside it."""
    record = _word(values, "record_kind", "record").replace(" ", "_")
    return frozenset(_TELLING.get(record, {})) & values.keys()


def _of_file(values: Mapping[str, JsonValue], *, whole_paths: bool) -> str:
    said = _joined(_word(values, "item_kind", "file"), values, _FILE, whole_paths=whole_paths)
    width, height = values.get("width_px"), values.get("height_px")
    if "path" not in values and isinstance(width, int) and isinstance(height, int):
        return f"{said} of {width} × {height} pixels"
    size = values.get("size")
    return f"{said}, {size_text(size)}" if whole_paths and isinstance(size, int) else said


def value_words(value: JsonValue) -> str:
    """A value as a reader expects it: a time with spaces and without empty digits, lists with commas."""
    if isinstance(value, str) and "T" in value:
        try:
            moment = datetime.fromisoformat(value)
        except ValueError:
            return value
        return value if moment.tzinfo is None else moment_text(moment)
    return value_text(value)


def _word(values: Mapping[str, JsonValue], name: str, absent: str) -> str:
    value = values.get(name)
    return value.replace("_", " ") if isinstance(value, str) else absent


def _joined(
    head: str, values: Mapping[str, JsonValue], telling: Mapping[str, str], *, whole_paths: bool
) -> str:
    head = head[:1].upper() + head[1:]
    told = []
    for name, phrase in telling.items():
        value = values.get(name)
        if name == "path" and isinstance(value, str) and not whole_paths:
            value = value.rpartition("/")[2]
        if isinstance(value, str | int) and not isinstance(value, bool) and value != "":
            told.append(phrase.format(value_words(value)))
    return f"{head}: {', '.join(told)}" if told else head
