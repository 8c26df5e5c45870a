from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader


def _text(path: Path) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(path).pages)


def _tables(folder: Path, file: str, kind: str) -> list[dict[str, Any]]:
    found = tomllib.loads((folder / file).read_text(encoding="utf-8"))[kind]
    assert isinstance(found, list)
    return found


def test_each_paper_is_one_page_and_says_that_it_is_invented(export: Path) -> None:
    papers = sorted(export.rglob("*.pdf"))
    assert len(papers) == 6
    for path in papers:
        assert len(PdfReader(path).pages) == 1
        assert "Invented for a demonstration" in _text(path)
        assert path.stat().st_size < 60_000


def test_certificates_say_what_was_typed_from_them(demo_folder: Path, export: Path) -> None:
    for table in _tables(demo_folder, "unit/certificates.toml", "certificate"):
        text = _text(export / table["document"])
        assert table["number"] in text
        assert table["type"] in text
        for name in ("serial", "firmware", "laboratory", "traceability", "conditions", "method"):
            if name in table:
                assert str(table[name]) in text, name
        for name in ("speed_error_mph", "speed_error_found_mph", "speed_uncertainty_mph"):
            if name in table:
                assert f"{table[name]} mph" in text, name


def test_the_report_says_what_was_typed_from_it(demo_folder: Path, export: Path) -> None:
    reports = _tables(demo_folder, "day.toml", "report")
    assert [table["session"] for table in reports] == ["S1", "S2"]
    for table in reports:
        text = _text(export / table["document"])
        assert f"session {table['session']}" in text
        assert f"{table['captures']}, of which discarded" in text
        assert f"{table['image_first']:04d} to {table['image_last']:04d}" in text
        assert table["signed_by"] in text
        assert table["signed"][11:16] in text


def test_the_deletion_note_names_the_missing_images(demo_folder: Path, export: Path) -> None:
    (table,) = _tables(demo_folder, "day.toml", "deletion")
    text = _text(export / "reports" / "deletion_note.pdf")
    assert table["reason"] in text
    numbers = {int(path.stem[-4:]) for path in (export / "stills").iterdir()}
    for number in (table["image_first"], table["image_last"]):
        assert f"{number:04d}" in text
        assert number not in numbers


@pytest.mark.parametrize("file", ["meters", "operators", "certificates", "sites"])
def test_every_typed_table_says_who_typed_it_from_what(demo_folder: Path, file: str) -> None:
    values = tomllib.loads((demo_folder / "unit" / f"{file}.toml").read_text(encoding="utf-8"))
    for tables in values.values():
        for table in tables:
            assert table["typed_by"]
            assert table["typed_from"]


def test_marked_distances_fit_the_speed_that_was_shown(demo_folder: Path, export: Path) -> None:
    from tests.demo.reading_back import rows

    shown = {row["Ref"]: int(row["Speed mph"]) for row in rows(export / "logs" / "readings.csv")}
    marks = _tables(demo_folder, "day.toml", "mark")
    assert len(marks) == 3
    for table in marks:
        assert (export / "stills" / table["still"]).is_file()
        mph = table["distance_m"] / table["interval_s"] / 0.44704
        assert mph == pytest.approx(shown[table["capture"]], abs=1.4)
