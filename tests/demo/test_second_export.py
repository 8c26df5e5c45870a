"""The second invented export, as committed, read with general libraries."""

# ruff: noqa: DTZ007 - exported stamps have no offset
from __future__ import annotations

import ast
import json
import re
import statistics
import subprocess
import sys
import tomllib
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from pypdf import PdfReader

from tests.demo.reading_back import rows

_ROOM = Path(__file__).parents[2] / "fixtures_invented"
_SECOND = _ROOM / "second"
_SCRIPT = _ROOM / "make_second_export.py"
_EXPORT = _SECOND / "export"


@pytest.fixture(scope="module")
def readings() -> list[dict[str, Any]]:
    files = sorted(_EXPORT.glob("mezuroj/*/*.json"))
    return [json.loads(path.read_text(encoding="utf-8")) for path in files]


def test_the_script_stands_alone() -> None:
    tree = ast.parse(_SCRIPT.read_text(encoding="utf-8"))
    names = {a.name for n in ast.walk(tree) if isinstance(n, ast.Import) for a in n.names}
    names |= {n.module or "" for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)}
    roots = {name.split(".")[0] for name in names} - set(sys.stdlib_module_names)
    assert roots == {"PIL", "reportlab"}


def test_the_script_gives_what_is_committed(tmp_path: Path) -> None:
    subprocess.run([sys.executable, str(_SCRIPT), str(tmp_path / "again")], check=True)
    again = {p.relative_to(tmp_path / "again") for p in tmp_path.rglob("*") if p.is_file()}
    assert again == {p.relative_to(_SECOND) for p in _SECOND.rglob("*") if p.is_file()}
    for path in again:
        if path.suffix not in {".jpg", ".pdf"}:  # those depend on library versions
            assert (tmp_path / "again" / path).read_bytes() == (_SECOND / path).read_bytes(), path


def test_it_is_small() -> None:
    assert sum(p.stat().st_size for p in _SECOND.rglob("*") if p.is_file()) < 1_500_000


def test_logs_are_utf_16_with_semicolons_and_decimal_commas() -> None:
    logs = sorted((_EXPORT / "aparato").glob("*.csv"))
    assert len(logs) == 3
    for path in logs:
        assert path.read_bytes()[:2] == b"\xff\xfe"
        found = rows(path, encoding="utf-16", delimiter=";")
        assert found
        assert all(None not in row and None not in row.values() for row in found)
        assert re.search(r"\d,\d", path.read_text(encoding="utf-16"))


def test_each_still_has_a_time_without_offset(readings: list[dict[str, Any]]) -> None:
    for reading in readings:
        (still,) = (_EXPORT / "mezuroj" / reading["kodo"]).glob("*.jpg")
        assert still.stem == f"{reading['kodo']}_{reading['bildo']:03d}"
        with Image.open(still) as picture:
            picture.load()
            inner = picture.getexif().get_ifd(0x8769)
        assert 0x9011 not in inner
        assert 0x9291 not in inner
        taken = datetime.strptime(inner[0x9003], "%Y:%m:%d %H:%M:%S")
        read = datetime.strptime(reading["tempo"].replace(",", "."), "%d.%m.%Y %H:%M:%S.%f")
        assert 0 < (taken - read).total_seconds() + 3600 < 2  # the camera keeps UTC


def test_shown_speeds_follow_from_the_pulses(readings: list[dict[str, Any]]) -> None:
    assert len(readings) == 6
    for reading in readings:
        times = [float(part) / 1000 for part in reading["pulsoj"]["tempoj_ms"].split("/")]
        ranges = [float(p.replace(",", ".")) for p in reading["pulsoj"]["distancoj"].split("/")]
        kmh = -statistics.linear_regression(times, ranges).slope * 3.6
        assert int(reading["rapido"].removesuffix(" km/h")) == pytest.approx(kmh, abs=0.5)


def test_image_numbers_roll_over_without_a_gap(readings: list[dict[str, Any]]) -> None:
    assert [reading["bildo"] for reading in readings] == [996, 997, 998, 999, 0, 1]


def test_no_mark_could_be_issued(readings: list[dict[str, Any]]) -> None:
    for reading in readings:
        assert re.fullmatch(r"[IOQ]{2}\d=\d{2}[IOQ]", reading["tabulo"])


def test_papers_exist_and_say_that_they_are_invented() -> None:
    unit = tomllib.loads((_SECOND / "unit" / "unuo.toml").read_text(encoding="utf-8"))
    for table in unit["certificate"]:
        text = PdfReader(_EXPORT / table["document"]).pages[0].extract_text()
        assert table["number"] in text
        assert "Invented" in text


def test_the_readme_says_that_it_is_invented_and_how_it_was_made() -> None:
    text = (_ROOM / "README.md").read_text(encoding="utf-8")
    assert "invented" in text
    assert "make_second_export.py" in text
    assert "equals sign" in text
