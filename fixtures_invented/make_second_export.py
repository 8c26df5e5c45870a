"""Writes the second invented export into the folder `second` beside this file.

    python fixtures_invented/make_second_export.py [FOLDER]

It stands alone: it needs Pillow and reportlab and imports nothing of the package, so that what
the package reads was written by other code.  Everything in it is invented.
"""

# ruff: noqa: INP001, S311 - a script of its own; an invented day, not a secret
from __future__ import annotations

import csv
import io
import json
import math
import random
import shutil
import sys
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont
from reportlab.lib.pagesizes import A4
from reportlab.pdfgen.canvas import Canvas

RNG = random.Random("second invented export")
LOCAL = timezone(timedelta(hours=1))  # Europe/Vienna on 11 March 2026
SERIAL = "KL-9-004412"
TYPE = "Klarvido 9"
SITE = "V3"
LIMIT_KMH = 70
OFFSET_M, HEIGHT_M = 3.2, 1.4
METER_OFFSET_S, CAMERA_OFFSET_S = 0.4, -0.3  # constant errors of the clocks
FIRST_IMAGE, IMAGES = 996, 1000  # numbers run from 0 to 999
PAPERS = "paperoj"

# true km/h, range at the last pulse in metres, colour; one line a capture
TRAFFIC = (
    (86.3, 88.4, "#8a1f2b"),
    (93.8, 104.0, "#2b4a7c"),
    (84.2, 73.7, "#c9c9c4"),
    (101.6, 121.9, "#2f2f33"),
    (88.0, 95.2, "#3c6b4a"),
    (97.1, 110.6, "#b98a2f"),
)


def at(hour: int, minute: int, second: float = 0) -> datetime:
    """A true instant of the day from local time."""
    return datetime(2026, 3, 11, hour - 1, minute, tzinfo=UTC) + timedelta(seconds=second)


def meter_time(instant: datetime) -> datetime:
    """What the meter's clock showed, to 0.1 s, local time."""
    shown = (instant + timedelta(seconds=METER_OFFSET_S)).astimezone(LOCAL)
    return shown.replace(microsecond=shown.microsecond // 100_000 * 100_000)


def camera_time(instant: datetime) -> datetime:
    """What the camera's clock showed, whole seconds, UTC."""
    return (instant + timedelta(seconds=CAMERA_OFFSET_S)).astimezone(UTC).replace(microsecond=0)


def dotted(moment: datetime) -> str:
    """11.03.2026 09:14:22,3"""
    return f"{moment:%d.%m.%Y %H:%M:%S},{moment.microsecond // 100_000}"


def comma(value: float, places: int) -> str:
    """A number with a decimal comma."""
    return f"{value:.{places}f}".replace(".", ",")


class Capture:
    """One capture with its pulses; the meter shows the slope of the ranges as whole km/h."""

    def __init__(self, number: int) -> None:
        kmh, range_m, self.colour = TRAFFIC[number]
        self.code = f"K-{number + 1:04d}"
        self.image = (FIRST_IMAGE + number) % IMAGES
        # the still comes 1.6 s later and falls on a fraction that the camera does not show
        self.at = at(9, 20, 674 * number + 14.9)
        self.mps = kmh / 3.6
        along = math.sqrt(range_m**2 - OFFSET_M**2 - HEIGHT_M**2)
        self.times_ms = [12 * place for place in range(25)]
        end = self.times_ms[-1] / 1000
        self.ranges = [
            round(
                math.hypot(along + self.mps * (end - ms / 1000), OFFSET_M, HEIGHT_M)
                + RNG.gauss(0, 0.03),
                2,
            )
            for ms in self.times_ms
        ]
        self.range_m = round(range_m, 1)
        self.kmh = round(-slope(self.times_ms, self.ranges) * 3600)
        self.plate = f"{RNG.choice('IOQ')}{RNG.choice('IOQ')}{RNG.randrange(10)}={RNG.randrange(100):02d}{RNG.choice('IOQ')}"

    @property
    def still(self) -> str:
        """File name of the still."""
        return f"{self.code}_{self.image:03d}.jpg"

    @property
    def still_at(self) -> datetime:
        """True time of the still."""
        return self.at + timedelta(seconds=1.6)


def slope(xs: Sequence[float], ys: Sequence[float]) -> float:
    """Least-squares slope of y on x."""
    x_mean, y_mean = sum(xs) / len(xs), sum(ys) / len(ys)
    return sum((x - x_mean) * (y - y_mean) for x, y in zip(xs, ys, strict=True)) / sum(
        (x - x_mean) ** 2 for x in xs
    )


def write_capture(folder: Path, capture: Capture) -> None:
    """The folder of one capture: a JSON file and a still."""
    folder.mkdir(parents=True)
    record = {
        "kodo": capture.code,
        "seanco": "A",
        "aparato": {"tipo": TYPE, "seria": "KL9 004412"},
        "tempo": dotted(meter_time(capture.at)),
        "opinio": dotted(meter_time(capture.at - timedelta(seconds=2.7))),
        "rapido": f"{capture.kmh} km/h",
        "limo": f"{LIMIT_KMH} km/h",
        "distanco": comma(capture.range_m, 1),
        "direkto": "al ni",
        "pulsoj": {
            "tempoj_ms": "/".join(str(one) for one in capture.times_ms),
            "distancoj": "/".join(comma(one, 2) for one in capture.ranges),
        },
        "tabulo": capture.plate,
        "bildo": capture.image,
    }
    text = json.dumps(record, ensure_ascii=False, indent=1)
    (folder / f"{capture.code}.json").write_bytes(text.encode("utf-8"))
    (folder / capture.still).write_bytes(draw_still(capture))


def draw_still(capture: Capture) -> bytes:
    """A street in winter light, 640 × 400, with EXIF that gives no offset."""
    picture = Image.new("RGB", (640, 400), "#b9c2c8")
    draw = ImageDraw.Draw(picture)
    for place in range(9):  # houses
        left = place * 80 - 20
        top = 70 + (place * 37) % 50
        shade = 150 + (place * 53) % 60
        draw.rectangle((left, top, left + 74, 215), fill=(shade, shade - 12, shade - 28))
        for floor in range(2):
            for window in range(3):
                x, y = left + 9 + window * 22, top + 22 + floor * 40
                draw.rectangle((x, y, x + 12, y + 20), fill="#5a6670")
    draw.rectangle((0, 205, 640, 360), fill="#8e938f")
    draw.polygon([(285, 205), (355, 205), (620, 360), (20, 360)], fill="#62666a")
    for step in range(7):
        near = 205 + 155 * (step / 7) ** 1.6
        draw.line((320, near, 320, near + 4 + 2 * step), fill="#d8d8d0", width=1 + step // 2)
    ahead_m = capture.range_m - 1.6 * capture.mps
    _draw_vehicle(draw, capture, 2600 / ahead_m)
    draw.rectangle((0, 360, 640, 400), fill="#101418")
    face = ImageFont.load_default(17)
    shown = dotted(meter_time(capture.at))
    strip = (f"{capture.kmh} km/h", f"{comma(capture.range_m, 1)} m", shown, SITE,
             f"{capture.image:03d}")  # fmt: skip
    for text, left in zip(strip, (14, 120, 220, 470, 560), strict=True):
        draw.text((left, 370), text, fill="#f0f0e8", font=face)
    exif = Image.Exif()
    inner = exif.get_ifd(0x8769)
    inner[0x9003] = camera_time(capture.still_at).strftime("%Y:%m:%d %H:%M:%S")
    inner[0xA431] = SERIAL
    inner[0xA420] = RNG.randbytes(16).hex()
    exif[0x0110] = TYPE
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=82, exif=exif.tobytes())
    return out.getvalue()


def _draw_vehicle(draw: ImageDraw.ImageDraw, capture: Capture, scale: float) -> None:
    x, ground = 320 - 1.2 * scale, 205 + 2.05 * scale
    half = 0.9 * scale
    draw.ellipse((x - 1.1 * half, ground - 8, x + 1.1 * half, ground + 6), fill="#3a3d40")
    draw.rectangle((x - half * 0.95, ground - 0.3 * scale, x - half * 0.7, ground), fill="#18181a")
    draw.rectangle((x + half * 0.7, ground - 0.3 * scale, x + half * 0.95, ground), fill="#18181a")
    draw.polygon(
        [(x - half * 0.85, ground - 0.85 * scale), (x - half * 0.62, ground - 1.4 * scale),
         (x + half * 0.62, ground - 1.4 * scale), (x + half * 0.85, ground - 0.85 * scale)],
        fill="#27313a",
    )  # fmt: skip
    body = (x - half, ground - 0.9 * scale, x + half, ground - 0.18 * scale)
    draw.rounded_rectangle(body, radius=0.15 * scale, fill=capture.colour)
    for side in (-1, 1):
        lamp = x + side * half * 0.74
        draw.ellipse(
            (lamp - 4, ground - 0.72 * scale, lamp + 4, ground - 0.58 * scale), fill="#f6f2dc"
        )
    draw.rectangle(
        (x - 0.27 * scale, ground - 0.4 * scale, x + 0.27 * scale, ground - 0.27 * scale),
        fill="#f0f0ea",
    )
    draw.text((x, ground - 0.335 * scale), capture.plate, fill="#101014",
              font=ImageFont.load_default(max(6, 0.12 * scale)), anchor="mm")  # fmt: skip
    y = ground - 0.8 * scale
    draw.line((x - 30, y, x + 30, y), fill="#ff5040")
    draw.line((x, y - 24, x, y + 16), fill="#ff5040")


def write_csv(path: Path, columns: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """UTF-16 with a byte-order mark, semicolons."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=";", lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows(rows)
    path.write_bytes(b"\xff\xfe" + out.getvalue().encode("utf-16-le"))


PROOFS = ("memprovo", "vidigilo", "celado horizontala", "celado vertikala", "konata distanco",
          "nula rapido")  # fmt: skip


def write_logs(folder: Path) -> None:
    """Device tests, and one log of clock checks for each clock."""
    folder.mkdir()
    rows = []
    for hour, minute, measured in ((9, 2, 30.0), (10, 40, 30.1)):
        for place, proof in enumerate(PROOFS):
            shown = meter_time(at(hour, minute, 48 * place + 5.2))
            distance = proof == "konata distanco"
            rows.append(
                (f"{shown:%d.%m.%Y}", f"{shown:%H:%M:%S},{shown.microsecond // 100_000}", proof,
                 "bone", comma(measured, 1) if distance else "", "30,00" if distance else "",
                 "0" if proof == "nula rapido" else "", "kl-9-004412", "A", "F-12")
            )  # fmt: skip
    columns = ("Dato", "Horo", "Provo", "Rezulto", "Mezurita (m)", "Vera (m)", "Montrita (km/h)",
               "Aparato", "Seanco", "Funkciigisto")  # fmt: skip
    write_csv(folder / "provoj.csv", columns, rows)
    columns = ("Montris", "Vera tempo", "Necerteco (s)", "Agordita")
    for name, shows, offset_s in (
        ("aparato", meter_time, METER_OFFSET_S),
        ("kamerao", camera_time, CAMERA_OFFSET_S),
    ):
        rows = []
        for hour, minute in ((8, 50), (10, 55)):
            true = at(hour, minute, 10.0 - offset_s)  # read off when the clock's tenths were 0
            rows.append((dotted(shows(true)), dotted(true.astimezone(LOCAL)), "0,2", "ne"))
        write_csv(folder / f"horlogo_{name}.csv", columns, rows)


def write_paper(path: Path, title: str, lines: Sequence[str]) -> None:
    """One page, the built-in Helvetica."""
    sheet = Canvas(str(path), pagesize=A4, invariant=1)
    sheet.setTitle(title)
    sheet.setFont("Helvetica-Bold", 16)
    sheet.drawString(60, 770, title)
    sheet.setFont("Helvetica", 10)
    for place, line in enumerate((*lines, "", "Inventita. Invented for tests.")):
        sheet.drawString(60, 735 - 16 * place, line)
    sheet.save()


def write_papers(folder: Path, captures: Sequence[Capture]) -> None:
    """Certificates and the day report."""
    folder.mkdir()
    write_paper(folder / "kalibrado.pdf", "Kalibrada atestilo K-2025-311", (
        f"Aparato: {TYPE}, seria {SERIAL}, programo 4.02", "Dato: 2025-09-30",
        "Laboratorio: Mezurejo Nenielando", "Eraro: +0,3 km/h; necerteco (k = 2): 0,6 km/h",
        "Tolero: -3 km/h, +2 km/h",
    ))  # fmt: skip
    write_paper(folder / "aprobo.pdf", "Tipaprobo T-55", (
        f"Tipo: {TYPE}", "Distanco: 25 m ... 400 m", "Rapido: 20 km/h ... 250 km/h",
    ))  # fmt: skip
    write_paper(folder / "funkciigisto.pdf", "Atestilo F-12/2024", (
        "Zofia Nenie-Vidita, F-12", f"Tipo: {TYPE}", "Valida: 2024-05-01 ... 2027-04-30",
    ))  # fmt: skip
    write_paper(folder / "taga_raporto.pdf", "Taga raporto, 2026-03-11", (
        f"Seanco A, loko {SITE}, {len(captures)} mezuroj",
        f"Bildoj: {captures[0].image:03d} ... {captures[-1].image:03d}",
        "Subskribis: Zofia Nenie-Vidita, 11:40",
    ))  # fmt: skip


def day_toml(captures: Sequence[Capture]) -> str:
    """The description, with reviews and data strips typed by a named reviewer."""
    typed = ['typed_by = "M. Nenies"', 'typed_from = "the stills, seen on a screen"', ""]
    parts = [DAY]
    for capture in captures:
        parts += [
            "[[review]]", f'capture = "{capture.code}"', 'reviewer = "M. Nenies"',
            'time = "2026-03-11T13:10:00"', "vehicles = 1", "on_target = true", *typed,
        ]  # fmt: skip
        shown = meter_time(capture.at)
        parts += [
            "[[data_strip]]", f'still = "{capture.still}"', f"speed_kmh = {capture.kmh}",
            f"range_m = {capture.range_m}",
            f'time = "{shown:%Y-%m-%dT%H:%M:%S}.{shown.microsecond // 100_000}"',
            f'site = "{SITE}"', *typed,
        ]  # fmt: skip
    parts += [
        "[[report]]", 'session = "A"', 'version = "1"', f"captures = {len(captures)}",
        f"image_first = {captures[0].image}", f"image_last = {captures[-1].image}",
        'signed_by = "Zofia Nenie-Vidita"', 'signed = "2026-03-11T11:40:00"',
        f'document = "{PAPERS}/taga_raporto.pdf"', 'typed_by = "M. Nenies"',
        'typed_from = "day report of 11 March 2026"', "",
    ]  # fmt: skip
    return "\n".join(parts)


DAY = r"""# Invented for tests: no such unit, person, meter or place exists.
format = "evidpack-day-1"

[day]
reference = "VNN-2026-03-11"
unit = "Vojpatrolo Nenielando"
date = 2026-03-11
zone = "Europe/Vienna"
export = "export"
unit_folder = "unit"

[[session]]
id = "A"
meter = "KL-9-004412"
site = "V3"
start = "2026-03-11T08:55:00"
end = "2026-03-11T10:50:00"
operators = [{ id = "F-12", role = "operator" }]

[[clock]]
name = "aparato"
zone = "Europe/Vienna"
resolution_s = 0.1

[[clock]]
name = "kamerao"                     # never set to local time
zone = "UTC"
resolution_s = 1

[[counter]]
name = "bildo"
modulus = 1000
first = 0

[captures]
join = "file-name"

[[items]]
glob = "mezuroj/*/*.jpg"
kind = "still"
clock = "kamerao"
counter = "bildo"
name_pattern = '(?P<capture>K-\d{4})_(?P<image_number>\d{3})\.jpg'

[[items]]
glob = "paperoj/taga_raporto.pdf"
kind = "report"

[[items]]
glob = "paperoj/*.pdf"
kind = "certificate"

[[log]]
glob = "mezuroj/*/*.json"
record = "reading"
format = "json"
decimal = ","
clock = "aparato"
[log.fields]
capture = "kodo"
session = "seanco"
meter = "aparato.seria"
time = { column = "tempo", format = "%d.%m.%Y %H:%M:%S,%f" }
opinion_time = { column = "opinio", format = "%d.%m.%Y %H:%M:%S,%f" }
speed = { column = "rapido", unit = "km/h" }
limit = { column = "limo", unit = "km/h" }
range = { column = "distanco", unit = "m" }
direction = { column = "direkto", map = { "al ni" = "approaching", "for" = "receding" } }
pulse_times_s = { column = "pulsoj.tempoj_ms", separator = "/", unit = "ms" }
pulse_ranges_m = { column = "pulsoj.distancoj", separator = "/", unit = "m" }
plate = "tabulo"
image_number = "bildo"

[[log]]
glob = "aparato/provoj.csv"
record = "device_test"
format = "csv"
encoding = "utf-16"
delimiter = ";"
decimal = ","
clock = "aparato"
[log.fields]
session = "Seanco"
meter = "Aparato"
operator = "Funkciigisto"
time = { columns = ["Dato", "Horo"], format = "%d.%m.%Y %H:%M:%S,%f" }
result = { column = "Rezulto", map = { bone = "pass", malbone = "fail" } }
measured = { column = "Mezurita (m)", unit = "m" }
surveyed = { column = "Vera (m)", unit = "m" }
shown_speed = { column = "Montrita (km/h)", unit = "km/h" }
[log.fields.test]
column = "Provo"
[log.fields.test.map]
"memprovo" = "self"
"vidigilo" = "display"
"celado horizontala" = "alignment-horizontal"
"celado vertikala" = "alignment-vertical"
"konata distanco" = "distance"
"nula rapido" = "zero"

[[log]]
glob = "aparato/horlogo_aparato.csv"
record = "clock_check"
format = "csv"
encoding = "utf-16"
delimiter = ";"
decimal = ","
clock = "aparato"
[log.fields]
clock = { value = "aparato" }
time = { column = "Montris", format = "%d.%m.%Y %H:%M:%S,%f" }
reference_time = { column = "Vera tempo", format = "%d.%m.%Y %H:%M:%S,%f" }
uncertainty_s = { column = "Necerteco (s)", unit = "s" }
resynchronised = { column = "Agordita", map = { jes = "true", ne = "false" } }

[[log]]
glob = "aparato/horlogo_kamerao.csv"
record = "clock_check"
format = "csv"
encoding = "utf-16"
delimiter = ";"
decimal = ","
clock = "kamerao"
[log.fields]
clock = { value = "kamerao" }
time = { column = "Montris", format = "%d.%m.%Y %H:%M:%S,%f" }
reference_time = { column = "Vera tempo", format = "%d.%m.%Y %H:%M:%S,%f", zone = "Europe/Vienna" }
uncertainty_s = { column = "Necerteco (s)", unit = "s" }
resynchronised = { column = "Agordita", map = { jes = "true", ne = "false" } }
"""

UNIT = """# Invented for tests: no such unit, person, meter or place exists.
[[meter]]
serial = "KL-9-004412"
type = "Klarvido 9"
firmware = "4.02"
typed_by = "M. Nenies"
typed_from = "label and start-up screen"

[[operator]]
id = "F-12"
name = "Zofia Nenie-Vidita"
typed_by = "M. Nenies"
typed_from = "certificate F-12/2024"

[[certificate]]
certificate = "calibration"
number = "K-2025-311"
serial = "KL-9-004412"
type = "Klarvido 9"
firmware = "4.02"
calibrated = 2025-09-30
issued = 2025-10-02
laboratory = "Mezurejo Nenielando"
traceability = "time and length traceable to national standards"
conditions = "21 C, 50 % relative humidity"
method = "simulated targets, fixed range"
speed_error_kmh = 0.3
speed_error_found_kmh = 0.4
speed_uncertainty_kmh = 0.6
tolerance_low_kmh = -3
tolerance_high_kmh = 2
document = "paperoj/kalibrado.pdf"
typed_by = "M. Nenies"
typed_from = "certificate K-2025-311"

[[certificate]]
certificate = "approval"
number = "T-55"
type = "Klarvido 9"
valid_from = 2019-06-01
range_min_m = 25
range_max_m = 400
speed_min_kmh = 20
speed_max_kmh = 250
document = "paperoj/aprobo.pdf"
typed_by = "M. Nenies"
typed_from = "approval T-55"

[[certificate]]
certificate = "operator"
number = "F-12/2024"
holder = "F-12"
type = "Klarvido 9"
issued = 2024-05-01
valid_from = 2024-05-01
valid_until = 2027-04-30
document = "paperoj/funkciigisto.pdf"
typed_by = "M. Nenies"
typed_from = "certificate F-12/2024"

[[site]]
id = "V3"
name = "Strato Nenie 14"
limit_kmh = 70
direction = "southbound"
offset_m = 3.2
height_m = 1.4
authorised_from = 2025-01-01
typed_by = "M. Nenies"
typed_from = "site list of 2025"

[[limit_order]]
site = "V3"
number = "L-70/1999"
limit_kmh = 70
from = 1999-04-01
signs_seen = 2026-03-11
typed_by = "M. Nenies"
typed_from = "order L-70/1999; operator's log"
"""


def main(folder: Path) -> None:
    """Writes the export, its unit folder and day.toml."""
    shutil.rmtree(folder, ignore_errors=True)
    export = folder / "export"
    captures = [Capture(number) for number in range(len(TRAFFIC))]
    for capture in captures:
        write_capture(export / "mezuroj" / capture.code, capture)
    write_logs(export / "aparato")
    write_papers(export / PAPERS, captures)
    (folder / "unit").mkdir()
    (folder / "unit" / "unuo.toml").write_bytes(UNIT.encode("utf-8"))
    (folder / "day.toml").write_bytes(day_toml(captures).encode("utf-8"))


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / "second")
