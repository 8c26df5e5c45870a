"""The days that the golden bundles were made of: small, invented, each for what it shows."""

from __future__ import annotations

import os
import re
import shutil
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

from PIL import Image, ImageDraw

from evidpack.demo.boxes import Film, film_file
from tests.small_day import write_small_day

SECOND = Path(__file__).parents[2] / "fixtures_invented" / "second"
_ODD_NAMES = (b"50% off\\.txt", b"\xff\xfe.bin", b"CON.txt", b"Notes.TXT", b"tab\there.txt")
_MANY = 22


def clean_day(folder: Path) -> Path:
    """The second export with one of its captures: nothing in it is adverse."""
    shutil.copytree(SECOND, folder)
    for number in range(2, 7):
        shutil.rmtree(folder / "export" / "mezuroj" / f"K-000{number}")
    day = folder / "day.toml"
    text = day.read_text(encoding="utf-8")
    for old, new in (("captures = 6", "captures = 1"), ("image_last = 1\n", "image_last = 996\n")):
        assert old in text
        text = text.replace(old, new)
    for number in range(2, 7):
        text = re.sub(
            rf'\[\[review\]\]\ncapture = "K-000{number}".*?(?=\n\[\[(?!data_strip)|\Z)',
            "", text, flags=re.DOTALL,
        )  # fmt: skip
    day.write_text(text, encoding="utf-8")
    return day


def adverse_day(folder: Path) -> Path:
    """The small day: an unreadable row, no closing tests, a certificate that lacks much."""
    return write_small_day(folder)


def day_with_odd_names(folder: Path) -> Path:
    """Names that may not stand in an archive, one of them no UTF-8."""
    day = write_small_day(folder)
    for name in _ODD_NAMES:
        path = os.fsencode(folder / "export") + b"/" + name
        Path(os.fsdecode(path)).write_bytes(b"odd\n")
    return day


def day_with_a_clip(folder: Path) -> Path:
    """Speeds in km/h, and a clip of three frames."""
    day = write_small_day(folder)
    text = day.read_text(encoding="utf-8").replace('unit = "mph"', 'unit = "km/h"')
    text = text.replace(
        '[[items]]\nglob = "*.txt"',
        '[[items]]\nglob = "clips/*"\nkind = "clip"\n'
        "name_pattern = '(?P<capture>C\\d+)\\.mp4'\n\n[[items]]\nglob = \"*.txt\"",
    )
    day.write_text(text, encoding="utf-8")
    frames = [_picture(("red", "green", "blue")[number]) for number in range(3)]
    film = Film(
        frames=frames, size=(70, 45), scale=600, ticks=24,
        created=datetime(2026, 5, 14, 8, 15, tzinfo=UTC),
    )  # fmt: skip
    (folder / "export" / "clips").mkdir()
    (folder / "export" / "clips" / "C1.mp4").write_bytes(film_file(film))
    return day


def day_of_many(folder: Path) -> Path:
    """Many captures, most of them without a still."""
    day = write_small_day(folder)
    rows = "".join(
        f"C{number},14/05/2026,09:{15 + number // 2:02d}:{number % 2 * 30:02d},"
        f"{38 + number * 7 % 15},{150 + number * 13 % 90}.5\n"
        for number in range(1, _MANY + 1)
    )
    (folder / "export" / "readings.csv").write_text("Ref,Date,Time,Speed,Range\n" + rows)
    return day


def day_with_large_stills(folder: Path) -> Path:
    """The small day with stills of which a redaction leaves tiles open."""
    day = write_small_day(folder)
    for name in ("C1_0001.jpg", "C2_0002.png"):
        image = Image.radial_gradient("L").resize((200, 150)).convert("RGB")
        image.save(folder / "export" / "stills" / name)
    return day


def _picture(colour: str) -> bytes:
    image = Image.new("RGB", (70, 45), "white")
    ImageDraw.Draw(image).rectangle((10, 10, 50, 30), fill=colour)
    out = BytesIO()
    image.save(out, "JPEG")
    return out.getvalue()
