"""A day of a dozen small files, described by hand, for tests that seal many times.

Everything in it is invented. It is written as plain files and knows nothing of evidpack.
"""

from __future__ import annotations

from pathlib import Path

from PIL import Image, ImageDraw

_DAY = """\
format = "evidpack-day-1"

[day]
reference = "SMALL-2026-05-14"
unit = "Puddlewick Test Unit"
date = 2026-05-14
zone = "Europe/London"
export = "export"
unit_folder = "unit"

[[session]]
id = "S1"
meter = "ZZ-0001"
site = "PW-1"
start = "2026-05-14T09:00:00"
end = "2026-05-14T10:00:00"
operators = [{ id = "op-1", role = "operator" }]
typed_by = "office"
typed_from = "export/notes.txt"

[[clock]]
name = "meter"
zone = "Europe/London"
resolution_s = 1

[[counter]]
name = "image"
modulus = 10000
first = 1

[[items]]
glob = "stills/*"
kind = "still"
clock = "meter"
counter = "image"
name_pattern = '(?P<capture>C\\d+)_(?P<image_number>\\d+)\\.(?:jpg|png)'

[[items]]
glob = "*.txt"
kind = "document"

[[log]]
glob = "readings.csv"
record = "reading"
format = "csv"
encoding = "utf-8"
delimiter = ","
decimal = "."
clock = "meter"
[log.fields]
capture = "Ref"
time = { columns = ["Date", "Time"], format = "%d/%m/%Y %H:%M:%S" }
speed = { column = "Speed", unit = "mph" }
range = { column = "Range", unit = "m" }
meter = { value = "ZZ-0001" }

[[log]]
glob = "tests.csv"
record = "device_test"
format = "csv"
encoding = "utf-8"
delimiter = ","
decimal = "."
clock = "meter"
[log.fields]
time = { column = "When", format = "%Y-%m-%d %H:%M:%S" }
test = { column = "Test" }
result = { column = "Result", map = { OK = "pass", BAD = "fail" } }
meter = { value = "ZZ-0001" }
session = { value = "S1" }

[captures]
join = "identifier"
"""

_UNIT = """\
[[meter]]
serial = "ZZ-0001"
type = "Invented Meter"
firmware = "1.0"
typed_by = "office"
typed_from = "paper file"

[[operator]]
id = "op-1"
name = "A. Nobody"
typed_by = "office"
typed_from = "paper file"

[[certificate]]
certificate = "calibration"
number = "CAL-1"
serial = "ZZ-0001"
type = "Invented Meter"
firmware = "1.0"
calibrated = 2026-01-10
typed_by = "office"
typed_from = "paper file"

[[site]]
id = "PW-1"
name = "Puddlewick Lane"
typed_by = "office"
typed_from = "paper file"
"""

_READINGS = """\
Ref,Date,Time,Speed,Range
C1,14/05/2026,09:15:00,41,182.4
C2,14/05/2026,09:20:30,44,201.0
C3,14/05/2026,09:31:07,not a speed,188.2
"""

_TESTS = """\
When,Test,Result
2026-05-14 09:02:00,self,OK
2026-05-14 09:02:30,display,OK
2026-05-14 09:03:00,alignment-horizontal,OK
2026-05-14 09:03:30,alignment-vertical,OK
2026-05-14 09:04:00,zero,OK
2026-05-14 09:55:00,self,OK
"""


def write_small_day(folder: Path) -> Path:
    """Write the day into `folder` and return the path of its day.toml."""
    export = folder / "export"
    (export / "stills").mkdir(parents=True)
    (export / "nothing here").mkdir()
    (folder / "unit").mkdir()
    (folder / "day.toml").write_text(_DAY, encoding="utf-8")
    (folder / "unit" / "unit.toml").write_text(_UNIT, encoding="utf-8")
    (export / "readings.csv").write_text(_READINGS, encoding="utf-8")
    (export / "tests.csv").write_text(_TESTS, encoding="utf-8")
    (export / "notes.txt").write_text("Set up at the lane. All invented.\n", encoding="utf-8")
    (export / "odd.bin").write_bytes(bytes(range(256)))
    _still(export / "stills" / "C1_0001.jpg", "grey")
    _still(export / "stills" / "C2_0002.png", "teal")
    return folder / "day.toml"


def _still(path: Path, colour: str) -> None:
    image = Image.new("RGB", (70, 45), "white")
    ImageDraw.Draw(image).rectangle((10, 10, 50, 30), fill=colour)
    image.save(path)
