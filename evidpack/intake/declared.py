"""Keys that several tables of a description share: a glob, a zone."""

from __future__ import annotations

from evidpack.intake.faults import TableReader
from evidpack.intake.file_patterns import Glob, PatternError
from evidpack.intake.zones import UnknownZoneError, load_zone


def require_zone(table: TableReader, name: str, zone: str | None) -> None:
    """Notes a fault where a text is no zone."""
    try:
        load_zone(zone or "")
    except UnknownZoneError:
        table.fault(
            f"{zone!r} is not a zone",
            name=name,
            hint='"Europe/London", "UTC", "+01:00", or "" where it is not known',
        )


def read_glob(table: TableReader) -> Glob | None:
    """The table's `glob`; a fault is noted."""
    text = table.text("glob", required=True, hint='glob = "stills/**/*.jpg"')
    if text is None:
        return None
    try:
        return Glob(text)
    except PatternError as error:
        table.fault(str(error), name="glob", hint='glob = "stills/**/*.jpg"')
        return None
