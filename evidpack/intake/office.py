"""Gathers what the office adds to a day: day.toml, its profile, notes, run log and unit files.

They are read once into memory, as they will be sealed: the tables of the unit folder that this
day does not use are blanked to empty lines, so that line numbers stay and nobody else's data is
sealed with the day.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path, PurePosixPath
from typing import Any, BinaryIO, Final, NoReturn

from evidpack.errors import DescriptionError, IntakeError, UsageError
from evidpack.intake.description import (
    DAY_FILE,
    NOTES_FILE,
    PROFILE_FILE,
    RUNS_FILE,
    UNIT_FOLDER,
    DayTable,
    OfficeText,
    load_description,
    read_day_table,
)
from evidpack.intake.faults import Faults, TableReader
from evidpack.intake.folder_listing import disk_errors
from evidpack.intake.profile import PROFILE_KEYS
from evidpack.intake.source import FileEntry, as_stream, moment
from evidpack.intake.toml_lines import TomlText, read_toml
from evidpack.intake.unit_tables import Needed, blank_unused, same_name, tables
from evidpack.limits import MAX_DESCRIPTION_BYTES, MAX_RUN_LOG_BYTES

_NOTES: Final = "notes.toml"
_RUNS: Final = "runs.jsonl"


@dataclass(frozen=True, slots=True, kw_only=True)
class OfficeFile:
    """One office file in memory."""

    entry: FileEntry
    data: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class OfficeFiles:
    """The office files of a day: a `FileSource` in memory.

    `export_folder` is where the export lies, `day_path` is day.toml itself.
    """

    files: Mapping[str, OfficeFile]
    export_folder: Path
    day_path: Path

    @classmethod
    def gather(cls, day_path: Path) -> OfficeFiles:
        """Reads what day.toml names. Raises UsageError, IntakeError or DescriptionError."""
        if not day_path.is_file():
            raise UsageError("there is no such day.toml", path=str(day_path))
        found = [_read(day_path, DAY_FILE, MAX_DESCRIPTION_BYTES)]
        toml = read_toml(found[0].data, path=str(day_path))
        faults = Faults()
        day = read_day_table(TableReader(toml, (), toml.values, faults))
        folder = day_path.parent
        profile = _profile_path(folder, toml)
        if profile is not None:
            found.append(_read(profile, PROFILE_FILE, MAX_DESCRIPTION_BYTES))
        for name, path, limit in (
            (_NOTES, NOTES_FILE, MAX_DESCRIPTION_BYTES),
            (_RUNS, RUNS_FILE, MAX_RUN_LOG_BYTES),
        ):
            if (folder / name).is_file():
                found.append(_read(folder / name, path, limit))
        if day is None:
            _raise_all(found)
        export = _export_folder(folder, day, toml, day_path)
        found += _unit_files(folder, day, toml, skip=profile, export=export)
        files = {file.entry.path: file for file in found}
        return cls(files=files, export_folder=export, day_path=day_path)

    def with_file(self, path: str, data: bytes, modified: datetime) -> OfficeFiles:
        """These files and one more, such as ``office/rules.toml``."""
        entry = FileEntry(path=path, size=len(data), modified=modified)
        return replace(self, files={**self.files, path: OfficeFile(entry=entry, data=data)})

    def entries(self) -> tuple[FileEntry, ...]:
        """Every file, in the order of its path."""
        return tuple(self.files[path].entry for path in sorted(self.files))

    def empty_folders(self) -> tuple[str, ...]:
        """None: empty folders of the office are not kept."""
        return ()

    def open(self, path: str) -> BinaryIO:
        """The bytes of one file. Raises IntakeError where there is none."""
        if path not in self.files:
            raise IntakeError("no such office file", path=path)
        return as_stream(self.files[path].data)


def _raise_all(files: list[OfficeFile]) -> NoReturn:
    """Raises every fault of a description whose ``[day]`` can't be used."""
    load_description(
        {
            file.entry.path: OfficeText(
                path=file.entry.path, shown=file.entry.place, data=file.data
            )
            for file in files
        }
    )
    raise AssertionError  # a wrong [day] is always a fault


def _read(path: Path, sealed: str, limit: int) -> OfficeFile:
    with disk_errors(str(path)), path.open("rb") as stream:
        data = stream.read(limit + 1)
        modified = moment(path.stat().st_mtime_ns)
    if len(data) > limit:
        raise IntakeError(
            "the file is too large",
            path=str(path),
            expected=f"at most {limit} bytes",
            observed=f"more than {limit} bytes",
        )
    entry = FileEntry(path=sealed, size=len(data), modified=modified, shown=str(path))
    return OfficeFile(entry=entry, data=data)


def _profile_path(folder: Path, toml: TomlText) -> Path | None:
    named = toml.values.get("profile")
    if not isinstance(named, str):
        return None
    path = folder / named
    if not path.is_file():
        raise DescriptionError(
            f"the profile {named!r} is not there",
            path=toml.path,
            line=toml.line("profile"),
            hint='profile = "unit/profile.toml", relative to day.toml',
        )
    return path


def _export_folder(folder: Path, day: DayTable, toml: TomlText, day_path: Path) -> Path:
    export = folder / day.export
    if not export.is_dir():
        raise DescriptionError(
            f"the export folder {day.export!r} is not there",
            path=toml.path,
            line=toml.line("day", "export"),
            hint='export = "export", relative to day.toml',
        )
    if day_path.resolve().is_relative_to(export.resolve()):
        raise DescriptionError(
            "day.toml lies inside the export, which is never written to",
            path=toml.path,
            line=toml.line("day", "export"),
            hint="put day.toml beside the export folder, not into it",
        )
    return export


def _unit_files(
    folder: Path, day: DayTable, toml: TomlText, *, skip: Path | None, export: Path
) -> list[OfficeFile]:
    if day.unit_folder is None:
        return []
    unit = folder / day.unit_folder
    if not unit.is_dir():
        raise DescriptionError(
            f"the unit folder {day.unit_folder!r} is not there",
            path=toml.path,
            line=toml.line("day", "unit_folder"),
            hint='unit_folder = "unit", relative to day.toml',
        )
    found: list[tuple[OfficeFile, TomlText]] = []
    for path in sorted(unit.glob("*.toml")):
        if skip is not None and path.resolve() == skip.resolve():
            continue
        file = _read(path, UNIT_FOLDER + path.name, MAX_DESCRIPTION_BYTES)
        text = read_toml(file.data, path=str(path))
        if not _is_something_else(text.values):
            found.append((file, text))
    _require_listed(day, toml, [toml, *(text for _, text in found)])
    needed = Needed.of_day(
        toml.values,
        [text.values for _, text in found],
        day.certificates,
        lambda certificate: _lies_in(export, certificate.get("document")),
    )
    return [_blanked(file, text, needed) for file, text in found]


def _require_listed(day: DayTable, toml: TomlText, texts: Iterable[TomlText]) -> None:
    """Raises DescriptionError for a number in ``[day].certificates`` that nobody typed."""
    typed: set[str] = set()
    for text in texts:
        typed |= {same_name(one.get("number")) for one in tables(text.values, "certificate")}
    for number in day.certificates or ():
        if same_name(number) not in typed:
            raise DescriptionError(
                f"no certificate has the number {number!r}",
                path=toml.path,
                line=toml.line("day", "certificates"),
                hint=f'[[certificate]]\ncertificate = "calibration"\nnumber = "{number}"',
            )


def _lies_in(export: Path, document: Any) -> bool:
    """Whether the document of a certificate is a file of the day's export."""
    if not isinstance(document, str) or not document.strip():
        return False
    parts = PurePosixPath(document.strip())
    if parts.is_absolute() or ".." in parts.parts:
        return False
    try:
        return (export / parts).is_file()
    except (OSError, ValueError):  # a name that no file can have
        return False


def _is_something_else(values: Mapping[str, Any]) -> bool:
    """A profile of another fleet, or a rule set, that happens to lie in the unit folder."""
    return bool(values.keys() & PROFILE_KEYS) or "format" in values or "rules" in values


def _blanked(file: OfficeFile, text: TomlText, needed: Needed) -> OfficeFile:
    data = blank_unused(file.data, text, needed)
    return OfficeFile(entry=replace(file.entry, size=len(data)), data=data)
