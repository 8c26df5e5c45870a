"""Which tables of a unit folder belong to a day, and the others blanked."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from evidpack.errors import DescriptionError
from evidpack.intake.toml_lines import TomlText, read_toml


def same_name(text: Any) -> str:
    """A serial or identifier as compared: case, spaces and hyphens ignored, zeros never."""
    return str(text).casefold().replace(" ", "").replace("-", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Needed:
    """The meters, their types, operators and sites of a day, and the certificates that day.toml
    lists (None: all that concern these, and those that `given` picks out).

    `strangers` are serials and holders, by kind of certificate, that the unit does not know, where
    a meter or an operator of the day has no certificate: a wrong serial looks like that, and the
    checks must see it.
    """

    meters: frozenset[str]
    types: frozenset[str]
    operators: frozenset[str]
    sites: frozenset[str]
    certificates: frozenset[str] | None
    strangers: Mapping[str, frozenset[str]]
    given: Callable[[Mapping[str, Any]], bool]

    @classmethod
    def of_day(
        cls,
        day: Mapping[str, Any],
        unit_files: Iterable[Mapping[str, Any]],
        certificates: Iterable[str] | None,
        given: Callable[[Mapping[str, Any]], bool],
    ) -> Needed:
        """What the sessions of a day name. `given` says whether a certificate was handed in with
        this day, whoever it is for.
        """
        sessions = list(tables(day, "session"))
        meters = _names(sessions, "meter")
        people = [one for session in sessions for one in tables(session, "operators")]
        operators = _names(people, "id")
        files = (day, *unit_files)
        all_meters = [table for values in files for table in tables(values, "meter")]
        known = _names([one for values in files for one in tables(values, "operator")], "id")
        papers = [table for values in files for table in tables(values, "certificate")]
        return cls(
            meters=meters,
            types=_names([one for one in all_meters if _name(one, "serial") in meters], "type"),
            operators=operators,
            sites=_names(sessions, "site"),
            certificates=None if certificates is None else frozenset(map(same_name, certificates)),
            strangers={
                "calibration": _strangers(
                    papers, "calibration", meters, _names(all_meters, "serial")
                ),
                "operator": _strangers(papers, "operator", operators, known),
            },
            given=given,
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
        kind = str(table.get("certificate"))
        name = _name(table, _SUBJECTS.get(kind, ""))
        names = {
            "calibration": self.meters,
            "operator": self.operators,
            "approval": self.types,
        }.get(kind, frozenset())
        if name is None or name in names or name in self.strangers.get(kind, ()):
            return True
        return self.given(table)


_SUBJECTS: Final = {"calibration": "serial", "operator": "holder", "approval": "type"}


def _strangers(
    papers: Iterable[Mapping[str, Any]], kind: str, wanted: frozenset[str], known: frozenset[str]
) -> frozenset[str]:
    """Whom certificates of one kind are for that the unit does not know; nobody where each of the
    day has a certificate.
    """
    named = _names([one for one in papers if one.get("certificate") == kind], _SUBJECTS[kind])
    return frozenset() if wanted <= named else named - known - wanted


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
        found = text.values.get(str(kind))
        if not rest or not isinstance(rest[0], int) or not isinstance(found, list):
            continue
        if needed.wants(str(kind), found[rest[0]]):
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


def tables(values: Mapping[str, Any], name: str) -> list[Mapping[str, Any]]:
    """The tables of one name in a TOML file; none where the name stands for something else."""
    found = values.get(name)
    return [one for one in found if isinstance(one, Mapping)] if isinstance(found, list) else []


def _name(table: Mapping[str, Any], key: str) -> str | None:
    value = table.get(key)
    return same_name(value) if isinstance(value, str) and value.strip() else None


def _names(found: Iterable[Mapping[str, Any]], key: str) -> frozenset[str]:
    return frozenset(name for table in found if (name := _name(table, key)) is not None)
