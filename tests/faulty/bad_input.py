"""Input that can't be: what is put into which file, and how it must be answered."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from tests.faulty.edits import Edit, add, both, cut, rewrite, swap, take_away
from tests.faulty.fault import DAY
from tests.faulty.second_day import ALL, TESTS, TYPED, UNIT, of_calibration, reading, still

READINGS = "export/logs/readings.csv"
ROW = 6  # capture 5 of the demonstration day; the header is line 1
COLUMNS = (
    "Ref", "Session", "Meter", "Date", "Time", "Opinion", "Speed mph", "Range m", "Limit mph",
    "Direction", "Pulse times ms", "Pulse ranges m", "Plate", "Image", "Discarded", "Remark",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class BadInput:
    """One bad input. `error`: the end of the path and the line that our error must name, else the
    day is read and one adverse finding must hold all of `says` (an error: its message). `kept`: a
    text that must stand in a record of what could not be read.
    """

    name: str
    says: tuple[str, ...]
    edit: Edit
    base: str = "second"
    error: tuple[str, int | None] | None = None
    kept: str | None = None


def _cell(column: str, text: str) -> Edit:
    """Another text in a cell of capture 5."""
    place = COLUMNS.index(column) - 1
    pattern = rf"(?m)^(C005,(?:[^,]*,){{{place}}})([^,\r\n]*)"
    return rewrite(READINGS, pattern, lambda found: found[1] + text)


def _unread(name: str, column: str, text: str, why: str) -> BadInput:
    """A cell that makes its row unreadable: file, line and reason are said, the cell is kept."""
    return BadInput(
        name=name,
        says=(f"Line {ROW} of {READINGS} could not be read", why),
        edit=_cell(column, text),
        base="demo",
        kept=text,
    )


def _written(path: str, data: bytes) -> Edit:
    def edit(folder: Path) -> None:
        (folder / path).write_bytes(data)

    return edit


def _with_tail(path: str, data: bytes) -> Edit:
    def edit(folder: Path) -> None:
        (folder / path).write_bytes((folder / path).read_bytes() + data)

    return edit


CELLS = (
    _unread("speed not a number", "Speed mph", "nan", "speed: 'nan' is not a number"),
    _unread("speed infinite", "Speed mph", "inf", "speed: 'inf' is not a number"),
    _unread("speed beyond all bounds", "Speed mph", "1e999", "is out of bounds"),
    _unread("range in words", "Range m", "far", "range: 'far' is not a number"),
    _unread("a pulse not a number", "Pulse ranges m", "nan;1;2", "pulse_ranges_m: 'nan'"),
    _unread("an hour that is none", "Time", "25:00:00.00", "no day or time that exists"),
    _unread("a day that is none", "Date", "31/02/2026", "no day or time that exists"),
    _unread("a leap second", "Time", "09:30:60.00", "names second 60"),
    _unread("a direction nobody mapped", "Direction", "UP", "'UP' is none of those mapped"),
    _unread("half an image", "Image", "1.5", "image_number: '1.5' is not a whole number"),
    _unread("a cell too many", "Remark", "x,y", "17 cells, where the header names 16"),
    BadInput(name="a negative speed", says=("Capture 5 shows -56 mph", "outside 10 mph"),
             edit=_cell("Speed mph", "-56"), base="demo"),
    BadInput(name="a negative range", says=("-155.6 m", "outside 20 to 600 m"),
             edit=_cell("Range m", "-155.6"), base="demo"),
    BadInput(name="a negative image number", says=("image -1 for capture 5", "9985"),
             edit=_cell("Image", "-1"), base="demo"),
    BadInput(name="a negative distance", says=("measured -30.1 m", "60.1 m off"),
             edit=swap(TESTS, "30,1;30,00", "-30,1;30,00")),
    BadInput(name="pulses before the first", says=("don't belong together",),
             edit=_cell("Pulse times ms", "0;-10;-20"), base="demo"),
)  # fmt: skip

ROWS = (
    BadInput(name="a row cut short", says=(f"Line {ROW} of {READINGS}", "2 cells"),
             edit=rewrite(READINGS, r"(?m)^(C005,S1).*$", lambda found: found[1]), base="demo",
             kept="C005"),
    BadInput(name="a renamed column", says=("no column is named 'Ref'",),
             edit=rewrite(READINGS, r"^Ref,", lambda found: "Rif,"), base="demo",
             error=("export/logs/readings.csv", 1)),
    BadInput(name="an empty log", says=("readings.csv could not be read", "names of columns"),
             edit=_written(READINGS, b""), base="demo"),
    BadInput(name="a log of its header alone", says=("counts 20", "holds 0"),
             edit=rewrite(READINGS, r"(?s)\n.*", lambda found: "\n"), base="demo"),
    BadInput(name="half a character", says=("Line 14 of export/aparato/provoj.csv",),
             edit=_with_tail(TESTS, b"\x41")),
    BadInput(name="NaN in JSON", says=(reading(3), "range: 'NaN' is not a number"),
             edit=swap(reading(3), '"distanco": "73,7"', '"distanco": NaN')),
    BadInput(name="a name twice in JSON", says=(reading(3), "'bildo' stands twice"),
             edit=swap(reading(3), '"bildo": 998', '"bildo": 998, "bildo": 999')),
    BadInput(name="JSON cut off", says=(reading(3), "not JSON"),
             edit=rewrite(reading(3), r'(?s),\n "tabulo".*', lambda found: "")),
)  # fmt: skip

TYPED_IN = (
    BadInput(name="an error that is no number", says=("speed_error_kmh: is out of bounds",),
             edit=swap(UNIT, "speed_error_kmh = 0.3", "speed_error_kmh = nan"),
             error=("unit/unuo.toml", 27)),
    BadInput(name="an infinite offset", says=("offset_m: is out of bounds",),
             edit=swap(UNIT, "offset_m = 3.2", "offset_m = inf"), error=("unit/unuo.toml", 66)),
    BadInput(name="a counter of nothing", says=("modulus must be a whole number from 2",),
             edit=swap(DAY, "modulus = 1000\n", "modulus = 0\n"), error=("day.toml", 32)),
    BadInput(name="a negative resolution", says=("resolution_s must be above 0",),
             edit=swap(DAY, "resolution_s = 0.1", "resolution_s = -0.1"), error=("day.toml", 23)),
    BadInput(name="TOML cut off", says=("not TOML",), error=("unit/unuo.toml", 38),
             edit=swap(UNIT, 'number = "T-55"', 'number = "T-55')),
    BadInput(name="not UTF-8", says=("is not UTF-8",), edit=_with_tail(DAY, b"\xff\xfe"),
             error=("day.toml", 250)),
    BadInput(name="a negative count", says=("counts -6", "holds 6"),
             edit=swap(DAY, "captures = 6\n", "captures = -6\n")),
    BadInput(name="a session that ends before it begins", says=("Session A ends", "before it begins"),
             edit=swap(DAY, 'end = "2026-03-11T10:50:00"', 'end = "2026-03-11T08:50:00"')),
    BadInput(name="an uncertainty below 0", says=("contradicts itself", "-0.6 km/h"),
             edit=swap(UNIT, "speed_uncertainty_kmh = 0.6", "speed_uncertainty_kmh = -0.6")),
    BadInput(name="an operator's end before the beginning", says=("2024-05-01 to 2023-04-30",),
             edit=swap(UNIT, "valid_until = 2027-04-30", "valid_until = 2023-04-30")),
    BadInput(name="a test before the meter was there", says=("dated 1999-03-11", "self"),
             edit=both(swap(TESTS, "11.03.2026;09:02:05,6;memprovo;bone;;;;kl-9-004412;A;F-12\r\n",
                            ""),
                       add(DAY, '\n[[device_test]]\nsession = "A"\nmeter = "KL-9-004412"\n'
                           'time = "1999-03-11T09:00:00"\ntest = "self"\nresult = "pass"\n'
                           + TYPED))),
)  # fmt: skip

CERTIFICATES = (
    BadInput(name="two certificates of one number that differ",
             says=("K-2025-311 and K-2025-311", "contradict each other"),
             edit=rewrite(UNIT, r'\[\[certificate\]\]\ncertificate = "calibration"\n(?:[^\[]+\n)+',
                          lambda found: found[0] + "\n" + found[0].replace("0.4", "0.5"))),
    BadInput(name="two certificates of one day that differ",
             says=("K-2025-311 and K-2025-312", "contradict each other"),
             edit=rewrite(UNIT, r'\[\[certificate\]\]\ncertificate = "calibration"\n(?:[^\[]+\n)+',
                          lambda found: found[0] + "\n"
                          + found[0].replace("311", "312").replace("0.3", "0.2"))),
    BadInput(name="a certificate issued before it was calibrated",
             says=("issued on 2025-09-02, before the calibration of 2025-09-30",),
             edit=swap(UNIT, "issued = 2025-10-02", "issued = 2025-09-02")),
    BadInput(name="no serial on the certificate", says=("K-2025-311 is for no serial",),
             edit=of_calibration('serial = "KL-9-004412"\n', "")),
    BadInput(name="two operators, one of them uncertified", says=("operator F-30",),
             edit=swap(DAY, "operators = [{ id",
                       'operators = [{ id = "F-30", role = "operator" }, { id')),
    BadInput(name="two operators with a gap between them", says=("captures 3–4", "session A"),
             edit=both(swap(DAY, '{ id = "F-12", role = "operator" }',
                            '{ id = "F-12", until = "2026-03-11T09:35:00" }, '
                            '{ id = "F-12b", from = "2026-03-11T10:00:00" }'),
                       rewrite(UNIT, r'\[\[certificate\]\]\ncertificate = "operator"\n'
                               r"(?:[^\[]+\n)+",
                               lambda found: found[0] + "\n"
                               + found[0].replace('"F-12"', '"F-12b"').replace("F-12/", "F-13/")))),
)  # fmt: skip

FILES = (
    BadInput(name="no export", says=("the export folder 'exprot' is not there",),
             edit=swap(DAY, 'export = "export"', 'export = "exprot"'), error=("day.toml", 9)),
    BadInput(name="no unit folder", says=("the unit folder 'units' is not there",),
             edit=swap(DAY, 'unit_folder = "unit"', 'unit_folder = "units"'),
             error=("day.toml", 10)),
    BadInput(name="no profile", says=("the profile 'unit/p.toml' is not there",),
             edit=swap(DAY, "\n[day]", '\nprofile = "unit/p.toml"\n[day]'), error=("day.toml", 4)),
    BadInput(name="a listed certificate that nobody typed", says=("no certificate has the number",),
             edit=swap(DAY, 'unit_folder = "unit"\n',
                       'unit_folder = "unit"\ncertificates = ["K-1"]\n'),
             error=("day.toml", 11)),
    BadInput(name="no day.toml", says=("no such day.toml",), edit=take_away(DAY),
             error=("day.toml", None)),
    BadInput(name="no tests", says=("No device test is on record for session A",),
             edit=take_away(TESTS)),
    BadInput(name="no readings", says=("counts 6", "holds 0"),
             edit=take_away(*(reading(one) for one in ALL))),
    BadInput(name="no document", says=("paperoj/aprobo.pdf",),
             edit=take_away("export/paperoj/aprobo.pdf")),
    BadInput(name="an empty still", says=(f"{still(3)} could not be read",),
             edit=_written(still(3), b"")),
    BadInput(name="a still cut off", says=(f"{still(3)} could not be read", "ends too early"),
             edit=cut(still(3), 9000)),
    BadInput(name="an empty unit folder", says=("no calibration certificate",),
             edit=_written(UNIT, b"")),
)  # fmt: skip

BAD_INPUT = (*CELLS, *ROWS, *TYPED_IN, *CERTIFICATES, *FILES)
