"""Takes a day in: a described export and its office files become items, records and the day.

The same files give the same items and records, whether they lie in a folder or in a sealed
bundle: nothing here depends on the machine, its clock, its zone or where the files lie.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Final

from evidpack.intake.captures import join_captures
from evidpack.intake.description import (
    DAY_FILE,
    NOTES_FILE,
    PROFILE_FILE,
    RULES_FILE,
    RUNS_FILE,
    SEALING_FILE,
    UNIT_FOLDER,
    DayDescription,
    OfficeText,
    load_description,
)
from evidpack.intake.folder_listing import disk_errors
from evidpack.intake.log_spec import LogSpec
from evidpack.intake.logs import read_log_file
from evidpack.intake.profile import ItemSpec, Profile
from evidpack.intake.rows import RowReader
from evidpack.intake.run_log import read_past_runs
from evidpack.intake.source import FileEntry, FileSource
from evidpack.limits import MAX_DESCRIPTION_BYTES
from evidpack.model.day import Day, Description, sort_records
from evidpack.model.fields import RecordKind
from evidpack.model.records import Item, ItemKind, Record, Source
from evidpack.model.tables import MergedRecords, RecordTable, in_order
from evidpack.model.values import JsonValue

EXPORT: Final = "export/"

_OFFICE_KINDS: Final[dict[str, ItemKind]] = {
    DAY_FILE: ItemKind.DESCRIPTION,
    PROFILE_FILE: ItemKind.PROFILE,
    NOTES_FILE: ItemKind.NOTES,
    RULES_FILE: ItemKind.RULES,
    RUNS_FILE: ItemKind.RUN_LOG,
    SEALING_FILE: ItemKind.SEALING,
}
_KIND_ORDER: Final = {kind: number for number, kind in enumerate(RecordKind)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Intake:
    """A day taken in. `items` stand in the order of their paths, `records` by path, line, kind
    and place. `description` is None for a day sealed undescribed.
    """

    day: Day
    items: tuple[Item, ...]
    records: Sequence[Record]
    description: DayDescription | None


def take_in(*, export: FileSource, office: FileSource, now: datetime) -> Intake:
    """Takes in a described day.

    `export` holds the files under ``export/``, `office` those under ``office/``; `now` is aware.
    Raises DescriptionFaultsError for a wrong description, IntakeError for a file that can't be
    read or a log whose columns are not those described, ExportChangedError.
    """
    office_entries = sorted(office.entries(), key=lambda entry: entry.path)
    description = load_description(_office_texts(office, office_entries))
    profile = description.profile
    entries = sorted(export.entries(), key=lambda entry: entry.path)
    specs = {entry.path: profile.item_spec(entry.path.removeprefix(EXPORT)) for entry in entries}
    read = _Read(others=list(description.typed))
    sizes = Counter(entry.size for entry in entries)
    for entry in entries:
        alone = sizes[entry.size] == 1
        _read_entry(entry, specs[entry.path], export, profile, read, alone=alone)
    read.others += _past_runs(office, office_entries)
    read.others += _empty_folders(export, source_path=DAY_FILE)
    read.others.sort(key=record_order)
    kinds = read.by_kind()
    captures, joined = join_captures(
        kinds.get(RecordKind.READING, ()),
        kinds.get(RecordKind.SESSION, ()),
        read.pictures,
        profile.captures,
    )
    if len(captures):
        kinds[RecordKind.CAPTURE] = captures
    joined.sort(key=record_order)
    kinds.update(sort_records(joined))
    items = _items(entries, office_entries, specs)
    day = Day(
        description=_model_description(description, specs),
        items=items,
        records=kinds,
        now=now,
    )
    parts = (read.others, *read.tables, captures, joined)
    ordered = MergedRecords(parts, order=record_order)
    return Intake(day=day, items=items, records=ordered, description=description)


@dataclass(slots=True, kw_only=True)
class _Read:
    """What was read: tables of rows, pictures before they are joined, and all other records."""

    others: list[Record]
    tables: list[RecordTable] = field(default_factory=list)
    pictures: list[Record] = field(default_factory=list)

    def by_kind(self) -> dict[RecordKind, Sequence[Record]]:
        """All but the pictures by kind, in the order of their sources.

        Readings stay in columns. Of other kinds there are few; they are made once and kept.
        """
        found = dict(sort_records(self.others))
        for kind in {table.kind for table in self.tables}:
            tables = [table for table in self.tables if table.kind is kind]
            together = in_order(tables, found.get(kind, ()), order=record_order)
            found[kind] = together if kind is RecordKind.READING else tuple(together)
        return found


def take_in_undescribed(
    *,
    export: FileSource,
    office: FileSource,
    reference: str,
    now: datetime,
    source_path: str = SEALING_FILE,
) -> Intake:
    """Takes in the files of an export that nobody has described yet: items only.

    `source_path` is the office file that stands as the source of the records of empty folders.
    """
    office_entries = sorted(office.entries(), key=lambda entry: entry.path)
    entries = sorted(export.entries(), key=lambda entry: entry.path)
    items = _items(entries, office_entries, {})
    records = tuple(_empty_folders(export, source_path=source_path))
    description = Description(
        reference=reference,
        unit="",
        date=now.date(),
        zone="UTC",
        clocks={},
        counters={},
        log_clocks={},
    )
    day = Day(description=description, items=items, records=sort_records(records), now=now)
    return Intake(day=day, items=items, records=records, description=None)


def record_order(record: Record) -> tuple[str, int, int, int]:
    """The order of records: path, line, kind, place."""
    source = record.source
    return source.path, source.line or 0, _KIND_ORDER[record.kind], source.place


def normalise_cells(
    description: DayDescription, kind: RecordKind, path: str, raw: Mapping[str, str]
) -> tuple[Mapping[str, JsonValue], ...]:
    """What opened raw cells of one record give under a profile; a cell that is not opened, and
    what needs it, is passed over.

    Usually one answer; several where several ``[[log]]`` tables could have read the row. A record
    that was not read from a log or a still has no answer.
    """
    inside = path.removeprefix(EXPORT)
    profile = description.profile
    if kind is RecordKind.STILL:
        from evidpack.intake.stills import still_values

        spec = profile.item_spec(inside)
        clock = spec.clock if isinstance(spec, ItemSpec) else None
        return (still_values(raw, zone=_zone(profile, clock)),)
    answers: list[Mapping[str, JsonValue]] = []
    for log in profile.log_specs(inside):
        if log.record is not kind:
            continue
        if log.where is not None and log.where.column in raw and not log.where.takes(raw):
            continue
        values, reasons = RowReader(log).values(raw, partly=True)
        if not reasons:
            answers.append(values)
    return tuple(answers)


def _zone(profile: Profile, clock: str | None) -> str | None:
    known = profile.clocks.get(clock) if clock is not None else None
    return known.zone if known is not None else None


def _office_texts(office: FileSource, entries: Iterable[FileEntry]) -> dict[str, OfficeText]:
    texts: dict[str, OfficeText] = {}
    for entry in entries:
        if entry.path.endswith(".toml") and entry.path != RULES_FILE:
            with disk_errors(entry.path), office.open(entry.path) as stream:
                data = stream.read(MAX_DESCRIPTION_BYTES + 1)
            texts[entry.path] = OfficeText(path=entry.path, shown=entry.place, data=data)
    return texts


def _read_entry(
    entry: FileEntry,
    spec: ItemSpec | LogSpec | None,
    export: FileSource,
    profile: Profile,
    read: _Read,
    *,
    alone: bool,
) -> None:
    """Adds the records of one file; those of a still or clip apart from the others. `alone`: no
    other file of the export has its size.
    """
    if spec is None:
        return
    if not isinstance(spec, ItemSpec):
        log = read_log_file(entry, profile.log_specs(entry.path.removeprefix(EXPORT)), export)
        read.tables += log.tables
        read.others += log.others
    elif spec.kind in (ItemKind.STILL, ItemKind.CLIP):
        from evidpack.intake.pictures import picture_records  # a day of logs alone needs no reader

        zone = _zone(profile, spec.clock)
        found = picture_records(entry, spec, export, zone=zone, digest=not alone)
        read.others += found.others
        read.pictures.append(found.picture)


def _past_runs(office: FileSource, entries: Iterable[FileEntry]) -> Iterator[Record]:
    if any(entry.path == RUNS_FILE for entry in entries):
        with disk_errors(RUNS_FILE), office.open(RUNS_FILE) as stream:
            yield from read_past_runs(stream, path=RUNS_FILE)


def _empty_folders(export: FileSource, *, source_path: str) -> Iterator[Record]:
    for place, path in enumerate(sorted(export.empty_folders())):
        yield Record(
            kind=RecordKind.EMPTY_FOLDER,
            source=Source(path=source_path, place=place),
            values={"path": path},
        )


def _items(
    entries: Iterable[FileEntry],
    office_entries: Iterable[FileEntry],
    specs: Mapping[str, ItemSpec | LogSpec | None],
) -> tuple[Item, ...]:
    found: list[Item] = []
    for entry in entries:
        spec = specs.get(entry.path)
        kind = ItemKind.UNDESCRIBED if spec is None else ItemKind.LOG
        if isinstance(spec, ItemSpec):
            kind = spec.kind
        found.append(_item(entry, kind, office=False))
    for entry in office_entries:
        usual = ItemKind.UNIT if entry.path.startswith(UNIT_FOLDER) else ItemKind.UNDESCRIBED
        found.append(_item(entry, _OFFICE_KINDS.get(entry.path, usual), office=True))
    return tuple(sorted(found, key=lambda item: item.path))


def _item(entry: FileEntry, kind: ItemKind, *, office: bool) -> Item:
    return Item(
        path=entry.path,
        kind=kind,
        origin="office" if office else "export",
        size=entry.size,
        modified=entry.modified,
        original_name=entry.original_name,
    )


def _model_description(
    description: DayDescription, specs: Mapping[str, ItemSpec | LogSpec | None]
) -> Description:
    clocks = {
        path: spec.clock
        for path, spec in specs.items()
        if spec is not None and spec.clock is not None
    }
    day = description.day
    return Description(
        reference=day.reference,
        unit=day.unit,
        date=day.date,
        zone=day.zone,
        clocks=description.profile.clocks,
        counters=description.profile.counters,
        log_clocks=clocks,
    )
