"""The ``[[redact]]`` tables of decisions.toml, and times as it writes them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from evidpack.intake.faults import TableReader
from evidpack.limits import FIRST_YEAR, LAST_YEAR

_REDACT_KEYS: Final = frozenset({"entry", "boxes", "polygons", "reason", "by", "at"})
_TIME_HINT: Final = "decided_at = 2026-06-01T10:00:00+01:00"


@dataclass(frozen=True, slots=True, kw_only=True)
class RedactOrder:
    """One ``[[redact]]``: regions of a still, in pixels. A box is x, y, width, height."""

    entry: int
    boxes: tuple[tuple[int, int, int, int], ...]
    polygons: tuple[tuple[tuple[int, int], ...], ...]
    reason: str
    by: str | None
    at: datetime | None
    line: int | None


def read_time(table: TableReader, name: str, *, required: bool = False) -> datetime | None:
    """A time with an offset, as TOML's own or as text; None where left out or wrong (noted)."""
    value = table.table.get(name)
    if value is None or value == "":
        if required:
            table.fault(f"{name} is missing", name=name, hint=_TIME_HINT)
        return None
    if isinstance(value, str):
        try:
            value = datetime.fromisoformat(value)
        except ValueError:
            value = None
    if not isinstance(value, datetime) or value.tzinfo is None:
        table.fault(f"{name} must be a time with an offset", name=name, hint=_TIME_HINT)
        return None
    if not FIRST_YEAR <= value.year <= LAST_YEAR:
        table.fault(
            f"{name} has a year outside {FIRST_YEAR} to {LAST_YEAR}", name=name, hint=_TIME_HINT
        )
        return None
    return value


def read_redact(table: TableReader) -> RedactOrder | None:
    """One ``[[redact]]`` table; faults are noted, and None returned where it can't be used."""
    before = len(table.faults)
    table.only(_REDACT_KEYS, what="[[redact]]")
    entry = table.integer("entry", required=True, hint="entry = 12")
    reason = table.text("reason", required=True, hint='reason = "third-party"')
    boxes = _numbers(table, "boxes", hint="boxes = [[10, 20, 90, 30]]")
    polygons = _numbers(table, "polygons", hint="polygons = [[[10, 20], [90, 20], [50, 60]]]")
    if any(len(box) != 4 or not all(isinstance(one, int) for one in box) for box in boxes):
        table.fault("a box is x, y, width, height in pixels", name="boxes",
                    hint="boxes = [[10, 20, 90, 30]]")  # fmt: skip
    if any(
        len(polygon) < 3
        or any(not isinstance(point, tuple) or len(point) != 2 for point in polygon)
        for polygon in polygons
    ):
        table.fault("a polygon is three or more points x, y in pixels", name="polygons",
                    hint="polygons = [[[10, 20], [90, 20], [50, 60]]]")  # fmt: skip
    if not boxes and not polygons and len(table.faults) == before:
        table.fault("a [[redact]] needs boxes or polygons", hint="boxes = [[10, 20, 90, 30]]")
    by, at = table.text("by", hint='by = "…"'), read_time(table, "at")
    if entry is None or reason is None or len(table.faults) > before:
        return None
    return RedactOrder(
        entry=entry, boxes=boxes, polygons=polygons, reason=reason, by=by, at=at, line=table.line
    )


def _numbers(table: TableReader, name: str, *, hint: str) -> tuple:  # type: ignore[type-arg]
    """Nested lists of whole numbers as nested tuples; a fault where anything else is in them."""

    def frozen(value: object, depth: int) -> object:
        if isinstance(value, list) and depth < 3:
            return tuple(frozen(one, depth + 1) for one in value)
        if isinstance(value, int) and not isinstance(value, bool) and depth >= 2:
            return value
        raise ValueError

    value = table.table.get(name, [])
    try:
        found = frozen(value, 0)
    except ValueError:
        found = None
    if not isinstance(found, tuple):
        table.fault(f"{name} is a list of lists of whole numbers", name=name, hint=hint)
        return ()
    return found
