"""Which tables of a unit folder belong to a day, and the others blanked."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from evidpack.errors import DescriptionError
from evidpack.intake.toml_lines import TomlText, read_toml


def same_name(text: Any) -> str:
    """A serial or identifier as compared: case, spaces and hyphens ignored, zeros never."""
    return str(text).casefold().replace(" ", "").replace("-", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Needed:
    """The meters, their types, operators and sites of a day, and the certificates that day.toml
    lists (None: all that concern these).
    """

    meters: frozenset[str]
    types: frozenset[str]
    operators: frozenset[str]
    sites: frozenset[str]
    certificates: frozenset[str] | None

    @classmethod
    def of_day(
        cls,
        day: Mapping[str, Any],
        unit_files: Iterable[Mapping[str, Any]],
        certificates: Iterable[str] | None,
    ) -> Needed:
        """What the sessions of a day name."""
        sessions = list(_tables(day, "session"))
        meters = _names(sessions, "meter")
        all_meters = [table for values in (day, *unit_files) for table in _tables(values, "meter")]
        return cls(
            meters=meters,
            types=_names([one for one in all_meters if _name(one, "serial") in meters], "type"),
            operators=_names(
                [one for session in sessions for one in _tables(session, "operators")], "id"
            ),
            sites=_names(sessions, "site"),
            certificates=None if certificates is None else frozenset(map(same_name, certificates)),
        )

    def wants(self, kind: str, table: Mapping[str, Any]) -> bool:
        """Whether a table concerns the day. One that does not say whom it concerns does."""
        if kind == "certificate":
            return self._wants_certificate(table)
        key, names = {
            "meter": ("serial", self.meters),
            "operator": ("id", self.operators),
            "site": ("id", self.sites),
            "limit_order": ("site", self.sites),
            "meter_event": ("meter", self.meters),
        }.get(kind, ("", frozenset()))
        name = _name(table, key)
        return name is None or name in names

    def _wants_certificate(self, table: Mapping[str, Any]) -> bool:
        if self.certificates is not None:
            return _name(table, "number") in self.certificates
        key, names = {
            "calibration": ("serial", self.meters),
            "operator": ("holder", self.operators),
            "approval": ("type", self.types),
        }.get(str(table.get("certificate")), ("", frozenset()))
        name = _name(table, key)
        return name is None or name in names


def blank_unused(data: bytes, text: TomlText, needed: Needed) -> bytes:
    """The file with every ``[[table]]`` that the day does not use turned into empty lines."""
    lines = data.splitlines(keepends=True)
    starts = [_with_comment(lines, header.line) for header in text.headers]
    blanked = _blanked(lines, starts, text, needed)
    try:
        read_toml(blanked, path=text.path)
    except DescriptionError:
        # The "comment" above a header was the end of a long string.
        starts = [header.line for header in text.headers]
        blanked = _blanked(lines, starts, text, needed)
    return blanked


def _blanked(lines: list[bytes], starts: list[int], text: TomlText, needed: Needed) -> bytes:
    lines = list(lines)
    starts = [*starts, len(lines) + 1]
    for number, header in enumerate(text.headers):
        kind, *rest = header.path
        tables = text.values.get(str(kind))
        if not rest or not isinstance(rest[0], int) or not isinstance(tables, list):
            continue
        if needed.wants(str(kind), tables[rest[0]]):
            continue
        for line in range(starts[number], starts[number + 1]):
            lines[line - 1] = _line_end(lines[line - 1])
    return b"".join(lines)


def _with_comment(lines: list[bytes], line: int) -> int:
    """A comment right above a header belongs to it."""
    while line > 1 and lines[line - 2].lstrip().startswith(b"#"):
        line -= 1
    return line


def _line_end(line: bytes) -> bytes:
    return line[len(line.rstrip(b"\r\n")) :]


def _tables(values: Mapping[str, Any], name: str) -> list[Mapping[str, Any]]:
    found = values.get(name)
    return [one for one in found if isinstance(one, Mapping)] if isinstance(found, list) else []


def _name(table: Mapping[str, Any], key: str) -> str | None:
    value = table.get(key)
    return same_name(value) if isinstance(value, str) and value.strip() else None


def _names(tables: Iterable[Mapping[str, Any]], key: str) -> frozenset[str]:
    return frozenset(name for table in tables if (name := _name(table, key)) is not None)
