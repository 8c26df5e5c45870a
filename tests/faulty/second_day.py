"""Where things lie in the second invented day, and edits of it that several faults share."""

from __future__ import annotations

import re

from tests.faulty.edits import Edit, add, both, later, rewrite, swap
from tests.faulty.fault import DAY

UNIT = "unit/unuo.toml"
TESTS = "export/aparato/provoj.csv"
CAMERA_CLOCK = "export/aparato/horlogo_kamerao.csv"
METER_CLOCK = "export/aparato/horlogo_aparato.csv"
CAPTURES = "export/mezuroj"
TYPED = 'typed_by = "M. Nenies"\ntyped_from = "a letter"\n'
METER = 'serial = "KL-9-004412"\ntype = "Klarvido 9"\nfirmware = "4.02"\n'
CALIBRATION = METER + "calibrated"  # the lines by which the certificate differs from the meter
ALL = range(1, 7)


def reading(number: int) -> str:
    """The path of the JSON file of a capture."""
    return f"{CAPTURES}/K-{number:04d}/K-{number:04d}.json"


def still(number: int) -> str:
    """The path of the still of a capture."""
    return f"{CAPTURES}/K-{number:04d}/K-{number:04d}_{(995 + number) % 1000:03d}.jpg"


def of_calibration(old: str, new: str) -> Edit:
    """One line of the calibration certificate, which stands there for the meter too."""
    return swap(UNIT, CALIBRATION, CALIBRATION.replace(old, new))


def of_certificate(line: str, new: str) -> Edit:
    """A line that stands in the unit's file once."""
    return swap(UNIT, line + "\n", new)


def meter_event(kind: str, day: str) -> Edit:
    """Something done to the meter."""
    head = f'\n[[meter_event]]\nmeter = "KL-9-004412"\ndate = {day}\nevent = "{kind}"\n'
    return add(UNIT, head + TYPED)


def of_capture(table: str, capture: int, old: str, new: str) -> Edit:
    """One line of the review or data strip of a capture in day.toml."""
    name = f"K-{capture:04d}"
    key = f'still = "{still(capture).rpartition("/")[2]}"'
    if table == "review":
        key = f'capture = "{name}"'
    pattern = rf"(\[\[{table}\]\]\n{re.escape(key)}\n(?:[^\[\n]+\n)*?){re.escape(old)}\n"
    return rewrite(DAY, pattern, lambda found: f"{found[1]}{new}\n")


EXIF_TIME = r"(?P<time>2026:03:11 \d\d:\d\d:\d\d)"
EXIF_FORM = "%Y:%m:%d %H:%M:%S"


def camera_ahead(seconds: int) -> Edit:
    """The camera's clock so far ahead, in its checks and in the EXIF of every still."""
    shown = r"(?P<time>11\.03\.2026 \d\d:\d\d:\d\d),\d;11"
    return both(
        later(CAMERA_CLOCK, shown, "%d.%m.%Y %H:%M:%S", seconds),
        *(still_later(one, seconds) for one in ALL),
    )


def still_later(number: int, seconds: int) -> Edit:
    """The EXIF time of a still so many seconds later."""
    return later(still(number), EXIF_TIME, EXIF_FORM, seconds)


CLIP = f"{CAPTURES}/K-0001/K-0001.vid"
FRAMES = "export/aparato/filmo.csv"


def frames(times_ms: dict[int, int] | list[tuple[int, int]]) -> Edit:
    """A clip of the first capture and a log of its frames: number and time of each, milliseconds
    after the first.
    """
    pairs = times_ms.items() if isinstance(times_ms, dict) else times_ms
    lines = ["klipo,bildo,tempo"]
    for number, at in pairs:
        second, ms = divmod(at, 1000)
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
        add(CLIP, "an invented clip, not a film"),
        add(FRAMES, "\n".join(lines) + "\n"),
    )


def even(numbers: list[int], step_ms: int) -> dict[int, int]:
    """Frame n at n steps after the first."""
    return {number: number * step_ms for number in numbers}
