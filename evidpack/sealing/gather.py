"""Gathering a day from disk: office files, export, records and findings."""

from __future__ import annotations

import io
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from evidpack.checks.registry import run_checks
from evidpack.container import layout
from evidpack.container.names import safe_name
from evidpack.errors import UsageError
from evidpack.intake.intake import take_in, take_in_undescribed
from evidpack.intake.office import OfficeFiles
from evidpack.intake.source import FileEntry, FolderSource
from evidpack.limits import MAX_DESCRIPTION_BYTES
from evidpack.proof.canonical import canonical_bytes
from evidpack.rules.built_in import built_in
from evidpack.rules.ruleset import load_rule_set
from evidpack.sealing.order import Gathered

DEFAULT_RULES: Final = "general"


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleFile:
    """The bytes of a rule set, and the name by which errors call it."""

    data: bytes
    name: str


def rule_file(path: Path | None) -> RuleFile:
    """A rule set from a file, or the built-in `general` one. Raises UsageError where too large."""
    if path is None:
        return RuleFile(data=built_in(DEFAULT_RULES), name=f"built-in rule set {DEFAULT_RULES}")
    with path.open("rb") as stream:
        data = stream.read(MAX_DESCRIPTION_BYTES + 1)
    if len(data) > MAX_DESCRIPTION_BYTES:
        raise UsageError(
            "the file is larger than it can be",
            path=str(path),
            expected=f"at most {MAX_DESCRIPTION_BYTES} bytes",
            observed="more",
        )
    return RuleFile(data=data, name=str(path))


def sealing_note(*, document_number: str, paper: str) -> bytes:
    """The bytes of office/sealing.json: what the index needs to be made again."""
    return canonical_bytes({"document_number": document_number, "paper": paper})


def gather_day(
    day_path: Path,
    rules: RuleFile,
    *,
    now: datetime,
    note: bytes | None = None,
    later: Path | None = None,
) -> Gathered:
    """Take in a described day and run the checks.

    `note` is office/sealing.json, given when sealing.  `later` is a folder of tables (events,
    certificates) that came after the day, given only when checking.  Raises DescriptionError, IntakeError, or
    UsageError where a path cannot be read.
    """
    office = OfficeFiles.gather(day_path)
    rule_set = load_rule_set(rules.data, path=rules.name)
    office = office.with_file(layout.OFFICE_RULES, rules.data, now)
    if note is not None:
        office = office.with_file(layout.OFFICE_SEALING, note, now)
    if later is not None:
        office = _with_later(office, later, now)
    export = FolderSource(office.export_folder, safe_name=safe_name)
    intake = take_in(export=export, office=office, now=now)
    return Gathered(
        intake=intake,
        export=export,
        office=office,
        rules=rule_set,
        findings=run_checks(intake.day, rule_set, later=later is not None),
    )


def _with_later(office: OfficeFiles, folder: Path, now: datetime) -> OfficeFiles:
    """The tables of each TOML file in the folder, read as further files of the unit."""
    paths = sorted(folder.glob("*.toml"))
    if not paths:
        raise UsageError(
            "no TOML file lies in this folder",
            path=str(folder),
            hint='[[event]]\nevent = "notice served"\ndate = 2026-03-16\n'
            'typed_by = "back office"\ntyped_from = "copy of the notice"',
        )
    for path in paths:
        data = rule_file(path).data
        office = office.with_file(f"{layout.OFFICE_UNIT}later-{path.name}", data, now)
    return office


def gather_undescribed(folder: Path, *, reference: str, now: datetime, note: bytes) -> Gathered:
    """Take in a folder as it is, to be described and checked later."""
    export = FolderSource(folder, safe_name=safe_name)
    office = _NoteOnly(note, now)
    intake = take_in_undescribed(export=export, office=office, reference=reference, now=now)
    return Gathered(intake=intake, export=export, office=office, rules=None, findings=())


class _NoteOnly:
    """The office files of an undescribed day: the sealing note alone."""

    def __init__(self, note: bytes, now: datetime) -> None:
        self._note = note
        self._entry = FileEntry(path=layout.OFFICE_SEALING, size=len(note), modified=now)

    def entries(self) -> tuple[FileEntry, ...]:
        return (self._entry,)

    def empty_folders(self) -> tuple[str, ...]:
        return ()

    def open(self, path: str) -> io.BytesIO:
        del path
        return io.BytesIO(self._note)
