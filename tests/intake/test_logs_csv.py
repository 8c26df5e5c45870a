from __future__ import annotations

import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.errors import IntakeError
from evidpack.model.fields import RecordKind
from evidpack.model.records import Record
from tests.intake.untidy import CLOCKS, HEAD, READINGS, taken, write

HEADER = "Ref,Date,Time,Speed,Range\n"
GOOD = "C1,14/05/2026,09:12:33,71,245.3\n"
LOG = "export/logs/readings.csv"


def _records(
    tmp_path: Path, data: str | bytes, *, day: str = HEAD + CLOCKS + READINGS
) -> list[Record]:
    write(tmp_path / LOG, data)
    kinds = (RecordKind.READING, RecordKind.UNREADABLE)
    return [one for one in taken(tmp_path, day).records if one.kind in kinds]


def _declared(extra: str) -> str:
    return HEAD + CLOCKS + READINGS.replace('format = "csv"', f'format = "csv"\n{extra}')


def test_a_row_keeps_its_cells_and_its_line(tmp_path: Path) -> None:
    (record,) = _records(tmp_path, HEADER + GOOD)
    assert record.raw == {
        "Ref": "C1",
        "Date": "14/05/2026",
        "Time": "09:12:33",
        "Speed": "71",
        "Range": "245.3",
    }
    assert record.values == {
        "capture": "C1",
        "time": "2026-05-14T09:12:33+01:00",
        "speed_mph": 71,
        "range_m": 245.3,
    }
    assert (record.source.path, record.source.line) == (LOG, 2)


def test_a_row_over_several_lines_has_the_number_of_its_first(tmp_path: Path) -> None:
    text = HEADER + '"C\n1",14/05/2026,09:12:33,71,\n\n' + GOOD + '"C\r\n3",x,x,x,x\n' + GOOD
    records = _records(tmp_path, text)
    assert [record.source.line for record in records] == [2, 5, 6, 8]
    assert records[0].values["capture"] == "C\n1"
    assert records[2].kind is RecordKind.UNREADABLE


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("C2,14/05/2026,09:12:33,,1", "speed (column 'Speed') is missing"),
        ("C2,14/05/2026,09:12:33,fast,1", "speed: 'fast' is not a number"),
        (
            "C2,31/02/2026,09:12:33,71,1",
            "time: '31/02/2026 09:12:33' is no day or time that exists",
        ),
        (
            "C2,05/14/2026,09:12:33,71,1",
            "time: '05/14/2026 09:12:33' is no day or time that exists",
        ),
        ("C2,,,71,1", "time (columns Date, Time) is missing"),
        ("C2,14/05/2026,09:12:33,71", "4 cells, where the header names 5"),
        ("C2,14/05/2026,09:12:33,71,1,2,3", "7 cells, where the header names 5"),
        ("C2,14/05/2026,09:12:33,7\x001,1", "it holds a NUL character"),
        ('C2,14/05/2026,"09:12:33"x,71,1', "a quote stands where none may stand"),
        (",,,,", "speed (column 'Speed') is missing; time (columns Date, Time)"),
        ("-- end of log --", "1 cells, where the header names 5"),
    ],
)
def test_a_row_that_cannot_be_read_is_kept_with_its_reason(
    tmp_path: Path, row: str, reason: str
) -> None:
    before, odd, after = _records(tmp_path, HEADER + GOOD + row + "\n" + GOOD)
    assert odd.kind is RecordKind.UNREADABLE
    assert reason in str(odd.values["reason"])
    assert (odd.values["file"], odd.values["line"], odd.values["record"]) == (LOG, 3, "reading")
    assert odd.values["excerpt"] == row
    assert (before.kind, after.kind) == (RecordKind.READING, RecordKind.READING)
    assert after.source.line == 4


def test_surplus_cells_are_kept_in_the_raw_row(tmp_path: Path) -> None:
    (odd,) = _records(tmp_path, HEADER + "C2,a,b,c,d,e,f\n")
    assert (odd.raw["Range"], odd.raw["surplus 1"], odd.raw["surplus 2"]) == ("d", "e", "f")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_each_encoding_gives_the_same_cells(tmp_path: Path, encoding: str) -> None:
    text = HEADER.replace("Ref", "Réf") + GOOD.replace("C1", "Cé1")
    declared = {"utf-8-sig": "utf-8"}.get(encoding, encoding)
    day = _declared(f'encoding = "{declared}"').replace('"Ref"', '"Réf"')
    (record,) = _records(tmp_path, text.encode(encoding), day=day)
    assert record.raw["Réf"] == "Cé1"


def test_utf16_without_a_mark_must_say_which_half_comes_first(tmp_path: Path) -> None:
    data = (HEADER + GOOD).encode("utf-16-be")
    with pytest.raises(IntakeError, match="no byte order mark") as caught:
        _records(tmp_path, data, day=_declared('encoding = "utf-16"'))
    assert (caught.value.path, caught.value.line) == (LOG, 1)
    assert "utf-16-be" in str(caught.value.hint)
    (record,) = _records(tmp_path, data, day=_declared('encoding = "utf-16-be"'))
    assert record.values["speed_mph"] == 71


def test_a_mark_of_another_encoding_is_an_error_that_says_which(tmp_path: Path) -> None:
    with pytest.raises(IntakeError, match="byte order mark") as caught:
        _records(tmp_path, (HEADER + GOOD).encode("utf-16"))
    assert (caught.value.expected, caught.value.observed) == ("utf-8", "utf-16")


def test_utf16_declared_as_utf8_is_noticed_at_the_header(tmp_path: Path) -> None:
    with pytest.raises(IntakeError, match="names of the columns can't be read") as caught:
        _records(tmp_path, (HEADER + GOOD).encode("utf-16-le"))
    assert caught.value.line == 1


def test_a_byte_that_is_not_in_the_encoding_spoils_its_row_alone(tmp_path: Path) -> None:
    data = (
        (HEADER + GOOD + GOOD + GOOD)
        .encode()
        .replace(b"C1", b"C\xe9", 2)
        .replace(b"C\xe9", b"C1", 1)
    )
    records = _records(tmp_path, data)
    assert [one.kind.value for one in records] == ["reading", "unreadable", "reading"]
    assert "not in the declared encoding" in str(records[1].values["reason"])
    assert str(records[1].values["excerpt"]).startswith("C\\xe9,14/05")
    assert records[1].raw["Ref"] == "C\\xe9"


def test_cut_off_utf16_spoils_its_row_alone(tmp_path: Path) -> None:
    data = (HEADER + GOOD + GOOD).encode("utf-16")[:-3]
    first, second = _records(tmp_path, data, day=_declared('encoding = "utf-16"'))
    assert (first.kind, second.kind) == (RecordKind.READING, RecordKind.UNREADABLE)


@pytest.mark.parametrize(
    ("data", "message"),
    [
        ("Ref,Ref,Date,Time,Speed\n", "columns have the same name: 'Ref'"),
        ("Ref,Date,Time\n", "no column is named 'Speed'"),
        ("Ref;Date;Time;Speed\n", "no column is named 'Ref', 'Date', 'Time', 'Speed'"),
        (",".join(f"c{n}" for n in range(2000)) + "\n", "too many columns"),
        ("Ref,D\0ate,Time,Speed\n", "names of the columns can't be read"),
    ],
)
def test_a_header_that_cannot_be_used_is_an_error_with_its_line(
    tmp_path: Path, data: str, message: str
) -> None:
    with pytest.raises(IntakeError, match=message) as caught:
        _records(tmp_path, data + "x\n")
    assert (caught.value.path, caught.value.line) == (LOG, 1)


def test_a_column_marked_optional_may_be_missing(tmp_path: Path) -> None:
    (record,) = _records(tmp_path, "Ref,Date,Time,Speed\nC1,14/05/2026,09:12:33,71\n")
    assert record.kind is RecordKind.READING
    assert "range_m" not in record.values


def test_an_empty_file_is_kept_as_unreadable(tmp_path: Path) -> None:
    (record,) = _records(tmp_path, "")
    assert record.kind is RecordKind.UNREADABLE
    assert "no line with names of columns" in str(record.values["reason"])


def test_lines_above_the_header_are_passed_over_and_counted(tmp_path: Path) -> None:
    day = _declared("skip_lines = 2")
    (record,) = _records(tmp_path, f'Device "X\nFirmware 1\n{HEADER}{GOOD}', day=day)
    assert record.source.line == 4


def test_columns_may_be_named_where_the_file_names_none(tmp_path: Path) -> None:
    day = _declared('columns = ["Ref", "Date", "Time", "Speed", "Range"]')
    (record,) = _records(tmp_path, GOOD, day=day)
    assert (record.values["capture"], record.source.line) == ("C1", 1)


def test_semicolons_and_decimal_commas(tmp_path: Path) -> None:
    day = _declared('delimiter = ";"\ndecimal = ","')
    text = (HEADER + GOOD).replace(",", ";").replace("245.3", "245,3")
    (record,) = _records(tmp_path, text, day=day)
    assert record.values["range_m"] == 245.3


def test_texts_that_mean_nothing_are_declared(tmp_path: Path) -> None:
    day = _declared('empty = ["n/a", "--"]')
    (record,) = _records(tmp_path, HEADER + GOOD.replace("245.3", "n/a"), day=day)
    assert "range_m" not in record.values
    assert record.raw["Range"] == "n/a"


def test_a_quote_that_is_never_closed_costs_its_own_line_alone(tmp_path: Path) -> None:
    records = _records(tmp_path, HEADER + GOOD + '"C2,x\n' + GOOD * 5)
    assert [one.kind.value for one in records] == ["reading", "unreadable", *["reading"] * 5]
    assert records[1].values["reason"] == "a quote is never closed"
    assert [one.source.line for one in records] == list(range(2, 9))


@pytest.mark.parametrize("block", ['"C2,x\n', '"C2\n' + "y\n" * 1_500, '"C2""\n""\n'])
def test_open_quotes_without_end_take_time_in_proportion(tmp_path: Path, block: str) -> None:
    count = 30_000 // block.count("\n")
    start = time.process_time()
    records = _records(tmp_path, HEADER + block * count + "\n" + GOOD)
    assert time.process_time() - start < 20
    lines = [one.source.line for one in records]
    assert lines == sorted(set(lines))
    assert records[-1].kind is RecordKind.READING
    assert records[-1].source.line == 2 + block.count("\n") * count + 1
    assert {one.kind for one in records[:-1]} == {RecordKind.UNREADABLE}


def test_a_cell_over_the_limit_is_cut_in_the_record(tmp_path: Path) -> None:
    huge = "x" * (256 * 1024 + 1)
    odd, good = _records(tmp_path, HEADER + huge + ",1,1,1,1\n" + GOOD)
    assert "a cell is longer than 262144 characters" in str(odd.values["reason"])
    assert len(str(odd.values["excerpt"])) == 4096
    assert good.source.line == 3


def test_a_line_without_end_is_cut_and_passed_over(tmp_path: Path) -> None:
    odd, good = _records(tmp_path, HEADER + "," * (3 * 1024 * 1024) + "\n" + GOOD)
    assert "the line is longer than" in str(odd.values["reason"])
    assert (good.kind, good.source.line) == (RecordKind.READING, 3)


def test_where_sends_the_rows_of_one_file_to_several_tables(tmp_path: Path) -> None:
    tests = """[[log]]
glob = "logs/readings.csv"
record = "device_test"
format = "csv"
clock = "meter"
where = { column = "Ref", is = ["T"] }
[log.fields]
time = { columns = ["Date", "Time"], format = "%d/%m/%Y %H:%M:%S" }
test = { value = "self" }
result = { column = "Speed", map = { OK = "pass" } }
"""
    readings = READINGS.replace(
        'clock = "meter"', 'clock = "meter"\nwhere = { column = "Ref", is = ["C1"] }'
    )
    write(tmp_path / LOG, HEADER + "T,14/05/2026,09:00:00,OK,\n" + GOOD + "?,,,,\n")
    records = taken(tmp_path, HEAD + CLOCKS + readings + tests).records
    found = [(one.kind.value, one.source.line) for one in records if one.source.path == LOG]
    assert found == [
        ("device_test", 2),
        ("reading", 3),
        ("capture", 3),
        ("unreadable", 4),
    ]


_cells = st.text('ab,;"\n\r é1', max_size=6)


@given(st.lists(st.lists(_cells, min_size=5, max_size=5), min_size=1, max_size=6))
def test_what_the_csv_module_writes_comes_back_cell_by_cell(rows: list[list[str]]) -> None:
    import csv
    import io

    from evidpack.intake.faults import Faults, TableReader
    from evidpack.intake.log_spec import read_log
    from evidpack.intake.logs_csv import read_rows
    from evidpack.intake.toml_lines import read_toml
    from evidpack.model.day import Clock

    toml = read_toml(READINGS.encode(), path="x")
    clock = Clock(name="meter", zone="UTC", resolution_s=1)
    table = TableReader(toml, ("log", 0), toml.values["log"][0], Faults())
    spec = read_log(table, {"meter": clock})
    assert spec is not None
    stream = io.StringIO()
    csv.writer(stream, quoting=csv.QUOTE_ALL).writerows([HEADER.strip().split(","), *rows])
    data = stream.getvalue().encode()
    found = [list(row.raw.values()) for row in read_rows(io.BytesIO(data), spec, path="x", size=9)]
    assert found == rows
