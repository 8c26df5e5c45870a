"""Builds small untidy exports, all invented, for the tests of intake."""

from __future__ import annotations

from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

from PIL import Image

from evidpack.intake.intake import Intake, take_in
from evidpack.intake.office import OfficeFiles
from evidpack.intake.source import FileEntry, FolderSource

NOW = datetime(2026, 5, 14, 18, 0, tzinfo=UTC)

HEAD = """format = "evidpack-day-1"
[day]
reference = "TRU-2026-05-14-A"
unit = "Thistlemoor Roads Unit"
date = 2026-05-14
zone = "Europe/London"
export = "export"
"""
SESSION = """[[session]]
id = "S1"
meter = "LM-0042"
site = "TH-07"
start = "2026-05-14T09:00:00"
end = "2026-05-14T12:00:00"
operators = [{ id = "OP-7", role = "operator" }]
"""
CLOCKS = """[[clock]]
name = "meter"
zone = "Europe/London"
resolution_s = 1
[[clock]]
name = "camera"
zone = ""
"""
READINGS = """[[log]]
glob = "logs/readings.csv"
record = "reading"
format = "csv"
clock = "meter"
[log.fields]
capture = "Ref"
time = { columns = ["Date", "Time"], format = "%d/%m/%Y %H:%M:%S" }
speed = { column = "Speed", unit = "mph" }
range = { column = "Range", unit = "m", optional = true }
"""
STILLS = r"""[[items]]
glob = "stills/*.jpg"
kind = "still"
clock = "camera"
name_pattern = '(?P<capture>C\d+)_(?P<image_number>\d+)\.jpg'
"""
CAPTURES = '[captures]\njoin = "identifier"\n'
TYPED = 'typed_by = "A. Clerk"\ntyped_from = "the paper itself"\n'


def write(path: Path, data: str | bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data.encode("utf-8") if isinstance(data, str) else data)


def taken(folder: Path, day: str) -> Intake:
    """Takes in folder/export as described by `day`."""
    write(folder / "day.toml", day)
    (folder / "export").mkdir(exist_ok=True)
    office = OfficeFiles.gather(folder / "day.toml")
    return take_in(export=FolderSource(office.export_folder), office=office, now=NOW)


def picture(*, exif: dict[int, object] | None = None, form: str = "JPEG") -> bytes:
    """A small picture with EXIF tags in the Exif sub-folder."""
    block = Image.Exif()
    block.get_ifd(0x8769).update(exif or {})
    block[0x8769] = block.get_ifd(0x8769)
    stream = BytesIO()
    Image.new("RGB", (64, 48), (90, 90, 90)).save(stream, form, exif=block)
    return stream.getvalue()


class MemorySource:
    """Files in memory as a FileSource, as a bundle would offer them: no folder, no times of a
    disk, and in any order."""

    def __init__(
        self, files: dict[str, bytes], modified: dict[str, datetime], empty: tuple[str, ...] = ()
    ) -> None:
        self._files = files
        self._modified = modified
        self._empty = empty

    def entries(self) -> list[FileEntry]:
        return [
            FileEntry(path=path, size=len(data), modified=self._modified[path])
            for path, data in reversed(self._files.items())
        ]

    def empty_folders(self) -> tuple[str, ...]:
        return self._empty

    def open(self, path: str) -> BytesIO:
        return BytesIO(self._files[path])
