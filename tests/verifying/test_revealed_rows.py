"""Readable tables of opened fields: the same fields, the same bytes, and nothing that runs."""

from __future__ import annotations

import csv
import io
from html import escape

import pytest

from evidpack.model.values import JsonValue
from evidpack.verifying.revealed_rows import DERIVED_NOTE, Row, rendered_rows


def row(entry: int = 1, **opened: JsonValue) -> Row:
    return Row(entry=entry, exhibit=7, opened=opened, closed=())


def table(data: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(data.decode(), newline="")))


def test_records_and_findings_have_a_table_each() -> None:
    found = rendered_rows(
        [row(record_kind="reading", speed_mph=41), row(2, check="10", sentence="Well.")]
    )
    assert sorted(found) == [
        "data/derived/finding.csv",
        "data/derived/finding.html",
        "data/derived/reading.csv",
        "data/derived/reading.html",
    ]
    assert table(found["data/derived/reading.csv"]) == [
        ["entry", "exhibit", "speed_mph"],
        ["1", "7", "41"],
    ]


def test_raw_cells_stand_behind_normalised_values_and_absent_ones_are_empty() -> None:
    found = rendered_rows(
        [
            row(1, record_kind="reading", **{"raw:A": "x", "b": None, "z": [1.5, 2]}),
            row(2, record_kind="reading", a=True),
        ]
    )
    assert table(found["data/derived/reading.csv"]) == [
        ["entry", "exhibit", "a", "b", "z", "raw:A"],
        ["1", "7", "", "", "[1.5,2]", "x"],
        ["2", "7", "true", "", "", ""],
    ]


def test_closed_fields_are_shown_as_closed() -> None:
    one = Row(entry=1, exhibit=7, opened={"record_kind": "reading"}, closed=("plate",))
    found = rendered_rows([one])
    assert table(found["data/derived/reading.csv"])[1] == ["1", "7", "(closed)"]


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("=1+1", "'=1+1"),
        ("@x", "'@x"),
        ("-x", "'-x"),
        ("+x", "'+x"),
        ("-12.5", "-12.5"),
        ("+3", "+3"),
        ("plain", "plain"),
        ('a"b,c', 'a"b,c'),
        ("two\nlines", "two\nlines"),
    ],
)
def test_nothing_in_a_cell_is_run_by_a_spreadsheet(text: str, shown: str) -> None:
    found = rendered_rows([row(record_kind="note", text=text)])
    assert table(found["data/derived/note.csv"])[1][2] == shown


def test_html_is_escaped_and_says_that_it_is_derived() -> None:
    found = rendered_rows([row(record_kind="note", **{"<b>": "<script>alert(1)</script>&"})])
    html = found["data/derived/note.html"].decode()
    assert "<script>" not in html
    assert "&lt;script&gt;" in html
    assert "&lt;b&gt;" in html
    assert escape(DERIVED_NOTE) in html


def test_a_kind_that_could_name_another_file_gives_no_name() -> None:
    found = rendered_rows([row(record_kind="../../evil")])
    assert sorted(found) == ["data/derived/finding.csv", "data/derived/finding.html"]
