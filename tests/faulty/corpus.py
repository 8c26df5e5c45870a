"""The faults: what is edited in the files of the second invented day, and what must be found."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

BASE = Path(__file__).parents[2] / "fixtures_invented" / "second"
DAY, UNIT = "day.toml", "unit/unuo.toml"
TESTS = "export/aparato/provoj.csv"
CAMERA_CLOCK = "export/aparato/horlogo_kamerao.csv"
CAPTURES = "export/mezuroj"
TYPED = 'typed_by = "M. Nenies"\ntyped_from = "a letter"\n'

Edit = Callable[[Path], None]


def reading(number: int) -> str:
    """The path of the JSON file of a capture."""
    return f"{CAPTURES}/K-{number:04d}/K-{number:04d}.json"


def still(number: int) -> str:
    """The path of the still of a capture."""
    return f"{CAPTURES}/K-{number:04d}/K-{number:04d}_{(995 + number) % 1000:03d}.jpg"


def swap(path: str, old: str, new: str, *, times: int = 1) -> Edit:
    """Replace text that stands in the file exactly `times` times; UTF-16 in the meter's CSV."""
    encoding = "utf-16-le" if path.endswith(".csv") else "latin-1"

    def edit(folder: Path) -> None:
        data = (folder / path).read_bytes()
        found = data.count(old.encode(encoding))
        if found != times:
            raise ValueError(f"{path}: {old!r} stands there {found} times, expected {times}")
        (folder / path).write_bytes(data.replace(old.encode(encoding), new.encode(encoding)))

    return edit


def add(path: str, text: str) -> Edit:
    """Append text to a file, which is made where it does not exist."""

    def edit(folder: Path) -> None:
        with (folder / path).open("ab") as stream:
            stream.write(text.encode())

    return edit


def both(*edits: Edit) -> Edit:
    """One fault that shows in several places."""

    def edit(folder: Path) -> None:
        for one in edits:
            one(folder)

    return edit


def take_away(*paths: str) -> Edit:
    """Delete files."""

    def edit(folder: Path) -> None:
        for path in paths:
            (folder / path).unlink()

    return edit


def event(kind: str, day: str) -> Edit:
    """Something done to the meter."""
    head = f'\n[[meter_event]]\nmeter = "KL-9-004412"\ndate = {day}\nevent = "{kind}"\n'
    return add(UNIT, head + TYPED)


def camera_ahead(hours: int) -> Edit:
    """The camera's clock so many hours ahead, in its checks and in the EXIF of every still."""

    def edit(folder: Path) -> None:
        for pattern, encoding, paths in (
            (r"(11\.03\.2026 )(\d\d)(:\d\d:\d\d,0;)", "utf-16-le", [CAMERA_CLOCK]),
            (r"(2026:03:11 )(\d\d)(:)", "latin-1", [still(one) for one in range(1, 7)]),
        ):
            for path in paths:
                text = (folder / path).read_bytes().decode(encoding)
                text, found = re.subn(
                    pattern, lambda m: f"{m[1]}{int(m[2]) + hours:02d}{m[3]}", text
                )
                if not found:
                    raise ValueError(f"{path}: no time stands there")
                (folder / path).write_bytes(text.encode(encoding))

    return edit


def frames(numbers: list[int], step_ms: int) -> Edit:
    """Frame times of a clip, in a log of their own; frame n is n steps after the first."""
    lines = ["klipo,bildo,tempo"]
    for number in numbers:
        second, ms = divmod(number * step_ms, 1000)
        lines.append(f"K-0001.vid,{number},2026-03-11 09:20:{15 + second:02d}.{ms:03d}")
    described = (
        '[[items]]\nglob = "mezuroj/*/*.vid"\nkind = "clip"\nclock = "aparato"\n'
        "name_pattern = '(?P<capture>K-\\d{4})\\.vid'\n\n"
        '[[log]]\nglob = "aparato/filmo.csv"\nrecord = "frame_time"\nformat = "csv"\n'
        'encoding = "utf-8"\ndelimiter = ","\nclock = "aparato"\n[log.fields]\n'
        'clip = "klipo"\nframe = "bildo"\n'
        'time = { column = "tempo", format = "%Y-%m-%d %H:%M:%S.%f" }\n\n'
    )
    return both(
        add(DAY, "\n" + described),
        add(f"{CAPTURES}/K-0001/K-0001.vid", "an invented clip, not a film"),
        add("export/aparato/filmo.csv", "\n".join(lines) + "\n"),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One fault, and the check and outcome that must answer it."""

    name: str
    wrong: str
    edit: Edit
    check: str
    outcome: str = "fail"


def _f(name: str, check: str, outcome: str, wrong: str, edit: Edit) -> Fault:
    return Fault(name=name, wrong=wrong, edit=edit, check=check, outcome=outcome)


_LAST_REPORT = 'typed_from = "day report of 11 March 2026"'

FAULTS = (
    _f("other-firmware", "1", "fail", "the certificate is for another firmware",
       swap(UNIT, 'firmware = "4.02"\ncalibrated', 'firmware = "4.01"\ncalibrated')),
    _f("other-type", "1", "fail", "the certificate is for another type of meter",
       swap(UNIT, 'type = "Klarvido 9"\nfirmware = "4.02"\ncalibrated',
            'type = "Klarvido 8"\nfirmware = "4.02"\ncalibrated')),
    _f("certificate-other-serial", "1", "fail", "the certificate is typed for another serial",
       swap(UNIT, 'serial = "KL-9-004412"\ntype = "Klarvido 9"\nfirmware = "4.02"\ncalibrated',
            'serial = "KL-9-004421"\ntype = "Klarvido 9"\nfirmware = "4.02"\ncalibrated')),
    _f("certificate-sister-meter", "1", "fail",
       "the certificate handed in is the one of the unit's other meter",
       both(swap(UNIT, 'serial = "KL-9-004412"\ntype = "Klarvido 9"\nfirmware = "4.02"\ncalibrated',
                 'serial = "KL-9-004413"\ntype = "Klarvido 9"\nfirmware = "4.02"\ncalibrated'),
            add(UNIT, '\n[[meter]]\nserial = "KL-9-004413"\ntype = "Klarvido 9"\n'
                'firmware = "4.02"\n' + TYPED))),
    _f("certificate-listed-other-serial", "1", "fail",
       "the certificate that the day lists is for another serial",
       both(swap(UNIT, 'serial = "KL-9-004412"\ntype = "Klarvido 9"\nfirmware = "4.02"\ncalibrated',
                 'serial = "KL-9-004421"\ntype = "Klarvido 9"\nfirmware = "4.02"\ncalibrated'),
            swap(DAY, 'unit_folder = "unit"\n', 'unit_folder = "unit"\n'
                 'certificates = ["K-2025-311", "T-55", "F-12/2024"]\n'))),
    _f("operator-other-person", "3", "fail", "the operator's certificate is another person's",
       swap(UNIT, 'holder = "F-12"', 'holder = "F-21"')),
    _f("other-serial", "1", "fail", "a reading was taken with another meter",
       swap(reading(3), "KL9 004412", "KL9 004419")),
    _f("over-age", "2", "fail", "the calibration is over a year old",
       both(swap(UNIT, "2025-09-30", "2025-03-10"), swap(UNIT, "2025-10-02", "2025-03-12"))),
    _f("firmware-changed", "2", "query", "the firmware was changed since the calibration",
       event("firmware-changed", "2026-01-15")),
    _f("seal-broken", "2", "fail", "the tamper seal was broken since the calibration",
       event("tamper-seal-broken", "2026-01-15")),
    _f("repaired", "2", "fail", "the meter was repaired since the calibration",
       event("repair", "2026-02-03")),
    _f("repaired-that-day", "2", "query", "the meter was repaired on the day itself",
       event("repair", "2026-03-11")),
    _f("error-out-of-tolerance", "2b", "fail", "the certificate shows an error out of tolerance",
       swap(UNIT, "speed_error_kmh = 0.3", "speed_error_kmh = 2.9")),
    _f("error-near-tolerance", "2b", "query", "the error is in tolerance by less than U",
       swap(UNIT, "speed_error_kmh = 0.3", "speed_error_kmh = 1.8")),
    _f("no-traceability", "2b", "query", "the certificate does not state traceability",
       swap(UNIT, 'traceability = "time and length traceable to national standards"\n', "")),
    _f("operator-lapsed", "3", "fail", "the operator's certificate lapsed",
       swap(UNIT, "valid_until = 2027-04-30", "valid_until = 2026-03-10")),
    _f("operator-not-yet", "3", "fail", "the operator was certified only later",
       both(swap(UNIT, "valid_from = 2024-05-01", "valid_from = 2026-03-12"),
            swap(UNIT, "issued = 2024-05-01", "issued = 2026-03-12"))),
    _f("operator-other-type", "3", "fail", "the operator is certified for another type",
       swap(UNIT, 'holder = "F-12"\ntype = "Klarvido 9"', 'holder = "F-12"\ntype = "Klarvido 8"')),
    _f("self-test-failed", "4", "fail", "the closing self test failed",
       swap(TESTS, "10:40:05,6;memprovo;bone", "10:40:05,6;memprovo;malbone")),
    _f("no-alignment", "4", "fail", "the alignment check before the session is not shown",
       swap(TESTS, "11.03.2026;09:03:41,6;celado horizontala;bone;;;;kl-9-004412;A;F-12\r\n", "")),
    _f("no-set-up-display", "4", "fail", "the display test before the session is not shown",
       swap(TESTS, "11.03.2026;09:02:53,6;vidigilo;bone;;;;kl-9-004412;A;F-12\r\n", "")),
    _f("no-post-session-check", "4", "fail", "no closing self test after the session",
       swap(TESTS, "11.03.2026;10:40:05,6;memprovo;bone;;;;kl-9-004412;A;F-12\r\n", "")),
    _f("closing-test-early", "4", "fail", "the closing display test precedes the last reading",
       swap(TESTS, "10:40:53,6", "10:10:53,6")),
    _f("zero-test", "4", "fail", "the closing zero test showed a speed",
       swap(TESTS, "10:44:05,6;nula rapido;bone;;;0", "10:44:05,6;nula rapido;bone;;;3")),
    _f("distance-off", "5", "fail", "the fixed distance is 0.4 m off",
       swap(TESTS, "30,1;30,00", "30,4;30,00")),
    _f("clock-hour-out", "6", "fail", "the camera's clock is an hour out, as after a clock change",
       camera_ahead(1)),
    _f("clock-other-zone", "6", "fail", "the camera's clock stands on another country's zone",
       camera_ahead(5)),
    _f("reading-after-signature", "7", "fail", "the report was signed before the last reading",
       swap(DAY, 'signed = "2026-03-11T11:40:00"', 'signed = "2026-03-11T10:00:00"')),
    _f("opinion-late", "7", "fail", "the opinion was formed after the reading",
       swap(reading(2), "11.03.2026 09:31:26,6", "11.03.2026 09:31:39,6")),
    _f("report-before-tests", "7", "query", "the report was signed before the closing tests",
       swap(DAY, 'signed = "2026-03-11T11:40:00"', 'signed = "2026-03-11T10:30:00"')),
    _f("image-missing-first", "8", "fail", "the report expects an image before the first",
       swap(DAY, "image_first = 996", "image_first = 995")),
    _f("image-missing-last", "8", "fail", "the report expects images after the last",
       swap(DAY, "image_last = 1\n", "image_last = 3\n")),
    _f("roll-over-wrong", "8", "fail", "the counter rolls over later than declared",
       swap(DAY, "modulus = 1000\n", "modulus = 1010\n")),
    _f("deletion-of-present", "8", "query", "a deletion note is about an image that is there",
       add(DAY, '\n[[deletion]]\nimage_first = 998\nimage_last = 998\nreason = "blurred"\n'
           'by = "M. Nenies"\n' + TYPED)),
    _f("video-frames-missing", "9", "fail", "frames of the clip are missing",
       frames([*range(20), *range(25, 60)], 40)),
    _f("video-too-slow", "9", "fail", "the clip has only four frames a second",
       frames([*range(20)], 250)),
    _f("capture-lost", "8", "fail", "a reading and its still are gone from the middle",
       both(take_away(reading(3), still(3)), swap(DAY, "captures = 6\n", "captures = 5\n"))),
    _f("still-lost", "8", "fail", "a still is gone from the middle", take_away(still(3))),
    _f("below-minimum-range", "10", "fail", "a reading is nearer than the approval allows",
       swap(UNIT, "range_min_m = 25", "range_min_m = 80")),
    _f("beyond-maximum-range", "10", "fail", "a reading is farther than the approval allows",
       swap(UNIT, "range_max_m = 400", "range_max_m = 115")),
    _f("above-maximum-speed", "10", "fail", "a reading is faster than the approval allows",
       swap(UNIT, "speed_max_kmh = 250", "speed_max_kmh = 100")),
    _f("wrong-direction", "10", "query", "the pulses approach, the record says receding",
       swap(reading(4), '"al ni"', '"for"')),
    _f("slope-disagrees", "10", "query", "the pulses do not give the speed shown",
       both(swap(reading(5), '"88 km/h"', '"95 km/h"'),
            swap(DAY, "speed_kmh = 88\n", "speed_kmh = 95\n"))),
    _f("sawtooth", "10", "fail", "the ranges jump in a sawtooth reset",
       swap(reading(1), "92,18/91,89", "90,66/91,89")),
    _f("strip-speed", "11", "fail", "the still shows another speed than the record",
       swap(DAY, "speed_kmh = 94\n", "speed_kmh = 95\n")),
    _f("strip-range", "11", "fail", "the still shows another range than the record",
       swap(DAY, "range_m = 104.0\n", "range_m = 105.0\n")),
    _f("strip-time", "11", "fail", "the still shows another time than the record",
       swap(DAY, "T09:31:29.3", "T09:31:39.3")),
    _f("strip-site", "11", "fail", "the still shows another place than the record",
       swap(DAY, 'T09:31:29.3"\nsite = "V3"', 'T09:31:29.3"\nsite = "V4"')),
    _f("exif-serial", "11", "query", "one still was taken with another camera",
       swap(still(3), "KL-9-004412", "KL-9-004499")),
    _f("two-vehicles", "13", "query", "two vehicles were in the beam",
       swap(DAY, 'capture = "K-0003"\nreviewer = "M. Nenies"\ntime = "2026-03-11T13:10:00"\n'
            "vehicles = 1", 'capture = "K-0003"\nreviewer = "M. Nenies"\n'
            'time = "2026-03-11T13:10:00"\nvehicles = 2')),
    _f("off-target", "13", "query", "the cross-hair is not on the vehicle",
       swap(DAY, 'capture = "K-0004"\nreviewer = "M. Nenies"\ntime = "2026-03-11T13:10:00"\n'
            "vehicles = 1\non_target = true", 'capture = "K-0004"\nreviewer = "M. Nenies"\n'
            'time = "2026-03-11T13:10:00"\nvehicles = 1\non_target = false')),
    _f("no-vehicle", "13", "query", "no vehicle is in the beam",
       swap(DAY, 'capture = "K-0005"\nreviewer = "M. Nenies"\ntime = "2026-03-11T13:10:00"\n'
            "vehicles = 1", 'capture = "K-0005"\nreviewer = "M. Nenies"\n'
            'time = "2026-03-11T13:10:00"\nvehicles = 0')),
    _f("range-below-offset", "14", "query", "a range is shorter than the meter's distance from the road",
       swap(UNIT, "offset_m = 3.2", "offset_m = 80.0")),
    _f("limit-order-late", "15", "fail", "the limit order came into force after the day",
       both(swap(UNIT, "from = 1999-04-01", "from = 2026-03-12"),
            swap(UNIT, "limit_kmh = 70\ndirection", "limit_kmh = 90\ndirection"))),
    _f("signs-long-ago", "15", "query", "the signs were last seen a year before",
       swap(UNIT, "signs_seen = 2026-03-11", "signs_seen = 2025-03-11")),
    _f("signs-after", "15", "query", "the signs were seen only after the day",
       swap(UNIT, "signs_seen = 2026-03-11", "signs_seen = 2026-03-12")),
    _f("site-not-authorised", "15", "fail", "the site was authorised only after the day",
       swap(UNIT, "authorised_from = 2025-01-01", "authorised_from = 2026-03-12")),
    _f("limit-differs", "15", "fail", "a reading notes another limit than the order",
       swap(reading(6), '"70 km/h"', '"50 km/h"')),
    _f("report-unsigned", "17", "fail", "the report is not signed",
       swap(DAY, 'signed_by = "Zofia Nenie-Vidita"\n', "")),
    _f("two-versions", "17", "query", "there are two versions of the report",
       add(DAY, '\n[[report]]\nsession = "A"\nversion = "2"\ncaptures = 6\nimage_first = 996\n'
           'image_last = 1\nsigned_by = "Zofia Nenie-Vidita"\nsigned = "2026-03-11T11:50:00"\n'
           'document = "paperoj/taga_raporto.pdf"\n' + TYPED)),
    _f("count-wrong", "18", "fail", "the report counts another number of captures",
       swap(DAY, "captures = 6\n", "captures = 7\n")),
    _f("undescribed-file", "18", "query", "a file of the export is not described",
       add("export/stranga.bin", "what is this")),
)  # fmt: skip


def write_base(folder: Path) -> Path:
    """A copy of the second invented day in a new folder; answers the path of its day.toml."""
    shutil.copytree(BASE, folder)
    return folder / DAY


def write_faulty(fault: Fault, folder: Path) -> Path:
    """The base day with one fault in a new folder; answers the path of its day.toml."""
    path = write_base(folder)
    fault.edit(folder)
    return path
