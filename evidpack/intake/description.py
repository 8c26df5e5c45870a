"""day.toml and the files beside it, as one checked description."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from typing import Final

from evidpack.intake.dates import FIRST_YEAR, LAST_YEAR, RFC3339, CellError, compile_date
from evidpack.intake.declared import require_zone
from evidpack.intake.faults import Faults, TableReader
from evidpack.intake.log_spec import LogSpec
from evidpack.intake.profile import PROFILE_KEYS, Profile, read_profile
from evidpack.intake.rows import RowReader
from evidpack.intake.toml_lines import GUESS, TomlText, guesses, read_toml
from evidpack.intake.typed import TypedReader
from evidpack.intake.zones import UnknownZoneError, load_zone, stamper
from evidpack.model.fields import MAPPED_KINDS
from evidpack.model.records import Record

FORMAT: Final = "evidpack-day-1"
DAY_FILE: Final = "office/day.toml"
PROFILE_FILE: Final = "office/profile.toml"
NOTES_FILE: Final = "office/notes.toml"
RUNS_FILE: Final = "office/runs.jsonl"
RULES_FILE: Final = "office/rules.toml"
SEALING_FILE: Final = "office/sealing.json"
UNIT_FOLDER: Final = "office/unit/"

_KINDS: Final = frozenset(kind.value for kind in MAPPED_KINDS)
_DAY_KEYS: Final = frozenset(
    {"reference", "unit", "date", "zone", "export", "unit_folder", "certificates"}
)
_REFERENCE: Final = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9.-]{0,62}[A-Za-z0-9])?", re.ASCII)
_DAY_HINT: Final = (
    '[day]\nreference = "TRU-2026-05-14-A"\nunit = "Thistlemoor Roads Unit"\ndate = 2026-05-14\n'
    'zone = "Europe/London"\nexport = "export"'
)


@dataclass(frozen=True, slots=True, kw_only=True)
class OfficeText:
    """One office file: where it is sealed, the name to show in errors, and its bytes."""

    path: str
    shown: str
    data: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class DayTable:
    """The ``[day]`` table. `export` and `unit_folder` are relative to day.toml."""

    reference: str
    unit: str
    date: date
    zone: str
    export: str
    unit_folder: str | None
    certificates: tuple[str, ...] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DayDescription:
    """Everything that the office says of a day."""

    day: DayTable
    profile: Profile
    typed: tuple[Record, ...]


def load_description(files: Mapping[str, OfficeText]) -> DayDescription:
    """Reads day.toml, its profile, notes.toml and the unit's files, by their sealed paths.

    Raises DescriptionFaultsError with every fault, each with its line and a correct example;
    a guess that begins with ``confirm:`` is a fault.
    """
    if DAY_FILE not in files:
        faults = Faults()
        faults.add("there is no day.toml", path=DAY_FILE, line=None, hint=_DAY_HINT)
        faults.raise_any()
    texts = {
        path: read_toml(file.data, path=file.shown)
        for path, file in files.items()
        if path in (DAY_FILE, PROFILE_FILE, NOTES_FILE) or path.startswith(UNIT_FOLDER)
    }
    _refuse_guesses(texts.values())
    faults = Faults()
    tops = {path: TableReader(text, (), text.values, faults) for path, text in texts.items()}
    day = read_day_table(tops[DAY_FILE])
    for path, top in tops.items():
        _require_known_tables(path, top)
    profile = read_profile(tuple(tops[path] for path in (DAY_FILE, PROFILE_FILE) if path in tops))
    _require_constants(profile, tops[DAY_FILE])
    typed = TypedReader(stamp=stamper(_zone_of(day)))
    records = [
        record
        for path in sorted(tops)
        if path != PROFILE_FILE
        for record in typed.records(tops[path], source_path=path)
    ]
    faults.raise_any()
    if day is None:  # a missing [day] is a fault, so this is not reached
        raise AssertionError
    return DayDescription(day=day, profile=profile, typed=tuple(records))


def _refuse_guesses(texts: Iterable[TomlText]) -> None:
    faults = Faults()
    for text in texts:
        for guess in guesses(text):
            faults.add(
                f"a guess is not confirmed: {guess.text!r}",
                path=guess.path,
                line=guess.line,
                hint=f"look at the export, then take {GUESS!r} out or put what is right: "
                f'"{guess.text.removeprefix(GUESS).strip()}"',
            )
    faults.raise_any()


def read_day_table(top: TableReader) -> DayTable | None:
    """Reads ``format``, ``profile`` and ``[day]``; faults are noted."""
    form = top.text("format", required=True, hint=f'format = "{FORMAT}"')
    if form is not None and form != FORMAT:
        top.fault(
            f"the format is {form!r}, and this version reads {FORMAT!r}",
            name="format",
            hint=f'format = "{FORMAT}"',
        )
    top.text("profile", hint='profile = "unit/profile.toml"')
    table = TableReader(top.toml, ("day",), top.table.get("day", {}), top.faults)
    if "day" not in top.table:
        top.faults.add("[day] is missing", path=top.toml.path, line=1, hint=_DAY_HINT)
        return None
    table.only(_DAY_KEYS, what="[day]")
    reference = table.text("reference", required=True, hint='reference = "TRU-2026-05-14-A"')
    if reference is not None and (not _REFERENCE.fullmatch(reference) or ".." in reference):
        table.fault(
            "reference may hold letters, digits, hyphen and dot, at most 64, no dot at an end",
            name="reference",
            hint='reference = "TRU-2026-05-14-A"',
        )
    unit = table.text("unit", required=True, hint='unit = "Thistlemoor Roads Unit"')
    zone = table.text("zone", required=True, hint='zone = "Europe/London"')
    require_zone(table, "zone", zone)
    export = table.text("export", required=True, hint='export = "export"')
    day = _read_date(table)
    certificates = table.texts("certificates", hint='certificates = ["TC-118"]')
    unit_folder = table.text("unit_folder", hint='unit_folder = "unit"')
    if reference is None or unit is None or zone is None or export is None or day is None:
        return None
    return DayTable(
        reference=reference,
        unit=unit.strip(),
        date=day,
        zone=zone,
        export=export,
        unit_folder=unit_folder,
        certificates=certificates,
    )


def _read_date(table: TableReader) -> date | None:
    value = table.table.get("date")
    if isinstance(value, date) and not isinstance(value, datetime):
        value = value.isoformat()  # to the same bounds as one in quotes
    try:
        if isinstance(value, str):
            return compile_date(RFC3339)(value.strip())
    except CellError:
        pass
    table.fault(
        f"date must be a day of the years {FIRST_YEAR} to {LAST_YEAR}",
        name="date",
        hint="date = 2026-05-14",
    )
    return None


def _zone_of(day: DayTable | None) -> tzinfo | None:
    try:
        return load_zone(day.zone) if day is not None else None
    except UnknownZoneError:
        return None


def _require_known_tables(path: str, top: TableReader) -> None:
    if path == PROFILE_FILE:
        top.only({*PROFILE_KEYS, "format"}, what="a profile")
    elif path == DAY_FILE:
        top.only({*PROFILE_KEYS, *_KINDS, "format", "profile", "day"}, what="day.toml")
    else:
        top.only({*_KINDS, "format"}, what="a file of notes or of the unit")


def _require_constants(profile: Profile, top: TableReader) -> None:
    """Notes a constant value in a profile that does not fit its field."""
    for table in profile.tables:
        if not isinstance(table, LogSpec):
            continue
        try:
            RowReader(table)
        except UnknownZoneError:
            continue  # noted where the zone is declared
        except CellError as error:
            top.faults.add(
                f"a constant value of a [[log]] does not fit its field: {error}",
                path=table.path,
                line=table.line,
                hint='result = { value = "pass" }',
            )
