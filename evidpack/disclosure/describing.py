"""One line that says what an entry is, made from given values alone.

Given all values it is for the person who decides; given the opened ones, for the recipient, who
then reads nothing that stays closed.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from evidpack.model.values import JsonValue

# What names a record of a kind best, in this order; a missing one is passed over.
_TELLING: Final[Mapping[str, tuple[str, ...]]] = {
    "session": ("id", "site", "start"),
    "meter": ("type", "serial"),
    "operator": ("name", "id"),
    "reading": ("capture", "time"),
    "device_test": ("test", "result", "time"),
    "clock_check": ("clock", "time"),
    "certificate": ("certificate", "number"),
    "meter_event": ("event", "date"),
    "site": ("id", "name"),
    "limit_order": ("number", "site"),
    "report": ("session", "signed"),
    "review": ("capture", "reviewer"),
    "data_strip": ("still",),
    "mark": ("capture", "still"),
    "frame_time": ("clip", "frame"),
    "deletion": ("image_first", "image_last", "reason"),
    "event": ("event", "capture"),
    "note": ("subject", "by"),
    "still": ("path", "image_number"),
    "clip": ("path",),
    "capture": ("number", "capture"),
    "past_run": ("run",),
    "past_finding": ("check", "subject", "outcome"),
    "empty_folder": ("path",),
}


def describe(kind: str, values: Mapping[str, JsonValue]) -> str:
    """What an entry is, in a few words. `values` may lack any of the entry's own."""
    if kind == "file":
        return _joined(_word(values, "item_kind", "file"), values, ("path", "size"))
    if kind == "finding":
        check = values.get("check")
        head = "finding" if check is None else f"finding of check {check}"
        return _joined(head, values, ("subject", "outcome"))
    record = _word(values, "record_kind", "record")
    return _joined(record, values, _TELLING.get(record.replace(" ", "_"), ()))


def _word(values: Mapping[str, JsonValue], name: str, absent: str) -> str:
    value = values.get(name)
    return value.replace("_", " ") if isinstance(value, str) else absent


def _joined(head: str, values: Mapping[str, JsonValue], names: tuple[str, ...]) -> str:
    head = head[:1].upper() + head[1:]
    told = []
    for name in names:
        value = values.get(name)
        if isinstance(value, str | int) and not isinstance(value, bool) and value != "":
            told.append(f"{value} bytes" if name == "size" else str(value))
    return f"{head}: {', '.join(told)}" if told else head
