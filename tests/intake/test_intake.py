from __future__ import annotations

import os
import random
import time
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest

from evidpack.container.names import safe_name
from evidpack.errors import EvidpackError, ExportChangedError, IntakeError
from evidpack.intake.intake import (
    Intake,
    normalise_cells,
    take_in,
    take_in_undescribed,
)
from evidpack.intake.office import OfficeFiles
from evidpack.intake.source import FileSource, FolderSource
from evidpack.model.fields import RecordKind
from evidpack.model.records import ItemKind
from tests.intake.untidy import (
    CAPTURES,
    CLOCKS,
    HEAD,
    NOW,
    READINGS,
    SESSION,
    STILLS,
    TYPED,
    MemorySource,
    picture,
    taken,
    write,
)

DAY = (
    HEAD.replace('export = "export"\n', 'export = "export"\nunit_folder = "unit"\n')
    + SESSION
    + CLOCKS
    + STILLS
    + READINGS
    + CAPTURES
    + '[[items]]\nglob = "clips/*"\nkind = "clip"\nclock = "camera"\n'
)
ROWS = (
    "C1,14/05/2026,09:12:33,71,245.3\n"
    "C2,14/05/2026,09:13:33,fast,1\n"
    "C3,25/10/2026,01:30:00,64,100\n"
    "C4,29/03/2026,01:30:00,64,100\n"
)


def _untidy(folder: Path) -> None:
    write(folder / "day.toml", DAY)
    write(
        folder / "notes.toml",
        f'[[deletion]]\nimage_first = 2\nimage_last = 3\nreason = "x"\nby = "y"\n{TYPED}',
    )
    write(folder / "runs.jsonl", "{}\n")
    write(
        folder / "unit/m.toml",
        f'[[meter]]\nserial = "LM-0042"\ntype = "LM"\n{TYPED}'
        f'[[meter]]\nserial = "LM-0043"\ntype = "LM"\n{TYPED}',
    )
    write(folder / "export/logs/readings.csv", "Ref,Date,Time,Speed,Range\n" + ROWS)
    write(folder / "export/stills/C1_0001.jpg", picture(exif={0x9003: "2026:05:14 09:12:34"}))
    write(folder / "export/stills/C9_0002.jpg", b"broken")
    write(folder / "export/clips/all.mp4", b"\0\0\0\x18ftyp")
    write(folder / "export/odd name?.bin", b"\0")
    (folder / "export/void").mkdir()


def _from_disk(folder: Path) -> tuple[Intake, FileSource, OfficeFiles]:
    office = OfficeFiles.gather(folder / "day.toml")
    export = FolderSource(office.export_folder, safe_name=safe_name)
    return take_in(export=export, office=office, now=NOW), export, office


def _copy(source: FileSource) -> MemorySource:
    """The files as a bundle offers them."""
    files: dict[str, bytes] = {}
    modified: dict[str, datetime] = {}
    for entry in source.entries():
        with source.open(entry.path) as stream:
            files[entry.path] = stream.read()
        modified[entry.path] = entry.modified
    return MemorySource(files, modified, tuple(source.empty_folders()))


def test_files_of_a_bundle_give_the_records_of_the_folder(tmp_path: Path) -> None:
    _untidy(tmp_path)
    first, export, office = _from_disk(tmp_path)
    second = take_in(export=_copy(export), office=_copy(office), now=NOW)
    assert first.records == second.records
    assert [(one.path, one.kind, one.size, one.modified) for one in first.items] == [
        (one.path, one.kind, one.size, one.modified) for one in second.items
    ]
    assert first.day.description == second.day.description


@pytest.fixture
def elsewhere() -> Iterator[None]:
    before = os.environ.get("TZ")
    os.environ["TZ"] = "Pacific/Auckland"
    time.tzset()
    yield
    if before is None:
        del os.environ["TZ"]
    else:
        os.environ["TZ"] = before
    time.tzset()


def test_neither_zone_nor_place_nor_times_of_files_change_a_record(
    tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    _untidy(tmp_path / "a")
    first = _from_disk(tmp_path / "a")[0]
    request.getfixturevalue("elsewhere")
    _untidy(tmp_path / "deep/b")
    for path in (tmp_path / "deep").rglob("*"):
        os.utime(path, (1, 1))
    second = _from_disk(tmp_path / "deep/b")[0]
    assert first.records == second.records


def test_no_record_holds_a_path_of_the_machine(tmp_path: Path) -> None:
    _untidy(tmp_path)
    for record in _from_disk(tmp_path)[0].records:
        assert str(tmp_path) not in repr(record)


def test_the_export_is_as_it_was(tmp_path: Path) -> None:
    _untidy(tmp_path)
    before = {path: path.stat().st_mtime_ns for path in tmp_path.rglob("*")}
    _from_disk(tmp_path)
    assert {path: path.stat().st_mtime_ns for path in tmp_path.rglob("*")} == before


def test_every_file_is_an_item_and_every_row_a_record(tmp_path: Path) -> None:
    _untidy(tmp_path)
    intake = _from_disk(tmp_path)[0]
    kinds = {item.path: item.kind for item in intake.items}
    assert kinds == {
        "export/clips/all.mp4": ItemKind.CLIP,
        "export/logs/readings.csv": ItemKind.LOG,
        "export/odd name_.bin": ItemKind.UNDESCRIBED,
        "export/stills/C1_0001.jpg": ItemKind.STILL,
        "export/stills/C9_0002.jpg": ItemKind.STILL,
        "office/day.toml": ItemKind.DESCRIPTION,
        "office/notes.toml": ItemKind.NOTES,
        "office/runs.jsonl": ItemKind.RUN_LOG,
        "office/unit/m.toml": ItemKind.UNIT,
    }
    assert [item.original_name for item in intake.items if item.original_name] == ["odd name?.bin"]
    rows = [one for one in intake.records if one.source.path == "export/logs/readings.csv"]
    assert [(one.kind.value, one.source.line) for one in rows] == [
        ("reading", 2),
        ("capture", 2),
        ("unreadable", 3),
        ("reading", 4),
        ("capture", 4),
        ("reading", 5),
        ("capture", 5),
    ]
    assert [one.values["path"] for one in intake.day.of(RecordKind.EMPTY_FOLDER)] == ["export/void"]
    assert [one.values["serial"] for one in intake.day.of(RecordKind.METER)] == ["LM-0042"]
    assert intake.day.description.log_clocks == {
        "export/clips/all.mp4": "camera",
        "export/logs/readings.csv": "meter",
        "export/stills/C1_0001.jpg": "camera",
        "export/stills/C9_0002.jpg": "camera",
    }


def test_records_stand_in_the_order_of_the_ledger(tmp_path: Path) -> None:
    from evidpack.proof.entries import ordered_records

    _untidy(tmp_path)
    intake = _from_disk(tmp_path)[0]
    entry_of = {item.path: number for number, item in enumerate(intake.items)}
    shuffled = list(intake.records)
    random.Random(7).shuffle(shuffled)
    assert [record for _, record in ordered_records(shuffled, entry_of)] == list(intake.records)
    places = [
        (one.source.path, one.source.line, one.kind, one.source.place) for one in intake.records
    ]
    assert len(set(places)) == len(places)


def test_times_of_clock_changes_are_never_resolved_in_silence(tmp_path: Path) -> None:
    _untidy(tmp_path)
    stamps = {
        str(one.values["capture"]): one.stamp("time")
        for one in _from_disk(tmp_path)[0].day.of(RecordKind.READING)
    }
    # tzdata 2026.6; PEP 495.
    assert [str(instant) for instant in stamps["C3"].instants] == [  # type: ignore[union-attr]
        "2026-10-25 01:30:00+01:00",
        "2026-10-25 01:30:00+00:00",
    ]
    assert stamps["C4"].status.value == "nonexistent"  # type: ignore[union-attr]
    assert stamps["C4"].instants == ()  # type: ignore[union-attr]


def test_opened_cells_normalise_to_the_sealed_values(tmp_path: Path) -> None:
    _untidy(tmp_path)
    intake = _from_disk(tmp_path)[0]
    assert intake.description is not None
    checked = 0
    for record in intake.records:
        if record.kind in (RecordKind.READING, RecordKind.STILL) and record.raw:
            answers = normalise_cells(
                intake.description, record.kind, record.source.path, record.raw
            )
            (answer,) = answers
            assert answer.items() <= record.values.items()
            assert answer
            checked += 1
    assert checked == 4


def test_a_withheld_cell_leaves_out_only_what_needs_it(tmp_path: Path) -> None:
    _untidy(tmp_path)
    intake = _from_disk(tmp_path)[0]
    assert intake.description is not None
    path = "export/logs/readings.csv"
    for withheld, missing in (("Ref", "capture"), ("Date", "time"), ("Speed", "speed_mph")):
        (record, *_) = intake.day.of(RecordKind.READING)
        raw = {name: cell for name, cell in record.raw.items() if name != withheld}
        (answer,) = normalise_cells(intake.description, RecordKind.READING, path, raw)
        assert answer == {name: value for name, value in record.values.items() if name != missing}


def test_a_cell_that_was_altered_normalises_to_something_else(tmp_path: Path) -> None:
    _untidy(tmp_path)
    intake = _from_disk(tmp_path)[0]
    assert intake.description is not None
    record = intake.day.of(RecordKind.READING)[0]
    raw = {**record.raw, "Speed": "72"}
    (answer,) = normalise_cells(intake.description, record.kind, record.source.path, raw)
    assert answer["speed_mph"] == 72 != record.values["speed_mph"]


def test_the_order_of_rows_changes_no_value(tmp_path: Path) -> None:
    def values(name: str, rows: list[str]) -> list[str]:
        _untidy(tmp_path / name)
        write(
            tmp_path / name / "export/logs/readings.csv",
            "Ref,Date,Time,Speed,Range\n" + "".join(rows),
        )
        found = _from_disk(tmp_path / name)[0]
        kinds = (RecordKind.READING, RecordKind.CAPTURE, RecordKind.STILL)
        return sorted(
            repr(sorted(map(repr, one.values.items())))
            for one in found.records
            if one.kind in kinds
        )

    rows = ROWS.splitlines(keepends=True)
    assert values("a", rows) == values("b", rows[::-1])


def test_an_undescribed_day_holds_its_files_and_empty_folders(tmp_path: Path) -> None:
    _untidy(tmp_path)
    office = MemorySource({"office/sealing.json": b"{}"}, {"office/sealing.json": NOW})
    intake = take_in_undescribed(
        export=FolderSource(tmp_path / "export", safe_name=safe_name),
        office=office,
        reference="R-1",
        now=NOW,
    )
    assert intake.description is None
    assert {item.kind for item in intake.items} == {ItemKind.UNDESCRIBED, ItemKind.SEALING}
    assert [(one.kind, one.source.path) for one in intake.records] == [
        (RecordKind.EMPTY_FOLDER, "office/sealing.json")
    ]


def test_a_log_that_changes_before_it_is_read_stops_everything(tmp_path: Path) -> None:
    _untidy(tmp_path)
    office = OfficeFiles.gather(tmp_path / "day.toml")
    export = FolderSource(office.export_folder, safe_name=safe_name)
    write(tmp_path / "export/logs/readings.csv", "Ref\n")
    with pytest.raises(ExportChangedError):
        take_in(export=export, office=office, now=NOW)


def test_a_disk_that_fails_names_the_file(tmp_path: Path) -> None:
    _untidy(tmp_path)
    _, export, office = _from_disk(tmp_path)

    class Failing(MemorySource):
        def open(self, path: str) -> object:  # type: ignore[override]
            raise OSError(5, "Input/output error", "/media/card/x")

    copy = _copy(export)
    failing = Failing(copy._files, copy._modified)
    with pytest.raises(IntakeError, match="Input/output error") as caught:
        take_in(export=failing, office=office, now=NOW)  # type: ignore[arg-type]
    assert str(caught.value.path).startswith("export/")


def test_thirty_thousand_rows_are_taken_in_bounded_time(tmp_path: Path) -> None:
    rows = "".join(
        f"C{n},14/05/2026,{n // 3600 % 24:02d}:{n // 60 % 60:02d}:{n % 60:02d},71,245.3\n"
        for n in range(30_000)
    )
    write(tmp_path / "export/logs/readings.csv", "Ref,Date,Time,Speed,Range\n" + rows)
    start = time.process_time()
    intake = taken(tmp_path, HEAD + CLOCKS + READINGS)
    assert len(intake.day.of(RecordKind.READING)) == 30_000
    assert time.process_time() - start < 30


def test_a_fixture_of_random_damage_ends_in_records_or_in_our_own_error(tmp_path: Path) -> None:
    """Every office and log file, damaged in one place: never a traceback."""
    _untidy(tmp_path)
    _, export, office = _from_disk(tmp_path)
    exports, offices = _copy(export), _copy(office)
    damage = random.Random(11)
    outcomes, pathless = {"taken": 0, "refused": 0}, 0
    for _ in range(400):
        files = {**exports._files, **offices._files}
        path = damage.choice(sorted(files))
        data = bytearray(files[path])
        at = damage.randrange(len(data) + 1)
        data[at : at + damage.randrange(3)] = damage.randbytes(damage.randrange(3))
        copies = [
            MemorySource(
                {name: bytes(data) if name == path else old for name, old in source._files.items()},
                source._modified,
            )
            for source in (exports, offices)
        ]
        try:
            take_in(export=copies[0], office=copies[1], now=NOW)
        except EvidpackError as error:
            pathless += not error.path
            outcomes["refused"] += 1
        else:
            outcomes["taken"] += 1
    assert min(outcomes.values()) > 20
    assert pathless == 0
