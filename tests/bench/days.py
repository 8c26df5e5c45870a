"""The days that are measured: made of pseudo-random bytes and real pictures, all invented."""

from __future__ import annotations

import csv
import io
import random
from datetime import datetime, timedelta
from pathlib import Path

from PIL import Image

_DAY = """\
format = "evidpack-day-1"

[day]
reference = "{reference}"
unit = "Puddlewick Bench Unit"
date = 2026-05-14
zone = "Europe/London"
export = "export"

[[session]]
id = "S1"
meter = "ZZ-0001"
site = "PW-1"
start = "2026-05-14T00:00:00"
end = "2026-05-14T23:59:59"
operators = [{{ id = "op-1", role = "operator" }}]
typed_by = "bench"
typed_from = "nothing"

[[meter]]
serial = "ZZ-0001"
type = "Invented Meter"
firmware = "1.0"
typed_by = "bench"
typed_from = "nothing"

[[clock]]
name = "meter"
zone = "Europe/London"
resolution_s = 0.01

[[counter]]
name = "image"
modulus = 10000000
first = 1

[[items]]
glob = "stills/*.jpg"
kind = "still"
clock = "meter"
counter = "image"
name_pattern = '(?P<capture>C\\d+)_(?P<image_number>\\d+)\\.jpg'

[[items]]
glob = "clips/*.mp4"
kind = "clip"

[[items]]
glob = "files/**/*.bin"
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
time = {{ columns = ["Date", "Time"], format = "%d/%m/%Y %H:%M:%S" }}
speed = {{ column = "Speed", unit = "mph" }}
range = {{ column = "Range", unit = "m" }}
meter = {{ value = "ZZ-0001" }}

[captures]
join = "identifier"
"""


def write_day(folder: Path, *, reference: str, readings: int) -> Path:
    """day.toml and a log with so many readings, spread over the day. Returns day.toml's path."""
    export = folder / "export"
    export.mkdir(parents=True, exist_ok=True)
    start = datetime(2026, 5, 14, 0, 0, 1)
    step = timedelta(seconds=86_000 / max(1, readings))
    with (export / "readings.csv").open("w", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream)
        writer.writerow(["Ref", "Date", "Time", "Speed", "Range"])
        for number in range(1, readings + 1):
            moment = start + step * number
            writer.writerow(
                [f"C{number}", f"{moment:%d/%m/%Y}", f"{moment:%H:%M:%S}", 30 + number % 60,
                 f"{100 + number % 8000 / 10:.1f}"]
            )  # fmt: skip
    (folder / "day.toml").write_text(_DAY.format(reference=reference), encoding="utf-8")
    return folder / "day.toml"


def add_stills(folder: Path, count: int, *, size: tuple[int, int], quality: int) -> None:
    """Real JPEGs; each has a comment of its own, so that no two files are the same."""
    stills = folder / "export" / "stills"
    stills.mkdir(parents=True, exist_ok=True)
    rng = random.Random(7)
    noise = rng.randbytes(size[0] // 8 * (size[1] // 8) * 3)
    small = Image.frombytes("RGB", (size[0] // 8, size[1] // 8), noise)
    picture = small.resize(size, Image.Resampling.BICUBIC)
    encoded = []
    for turn in range(8):
        data = io.BytesIO()
        picture.rotate(turn).save(data, "JPEG", quality=quality)
        encoded.append(data.getvalue())
    for number in range(1, count + 1):
        jpeg = encoded[number % 8]
        comment = b"\xff\xfe\x00\x0c" + f"{number:010d}".encode()
        (stills / f"C{number}_{number}.jpg").write_bytes(jpeg[:2] + comment + jpeg[2:])


def add_clips(folder: Path, count: int, *, size: int) -> None:
    """Files of pseudo-random bytes, written so that nothing is sparse."""
    clips = folder / "export" / "clips"
    clips.mkdir(parents=True, exist_ok=True)
    block = bytearray(random.Random(8).randbytes(4_000_000))
    for number in range(1, count + 1):
        with (clips / f"clip_{number}.mp4").open("wb") as stream:
            left = size
            while left:
                block[:8] = left.to_bytes(8, "big")
                left -= stream.write(block[: min(left, len(block))])


def add_small_files(folder: Path, count: int, *, size: int) -> None:
    """Many small files in folders of a thousand."""
    rng = random.Random(9)
    for number in range(count):
        place = folder / "export" / "files" / f"{number // 1000:03d}"
        place.mkdir(parents=True, exist_ok=True)
        (place / f"{number:06d}.bin").write_bytes(rng.randbytes(size))
