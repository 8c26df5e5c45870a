from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from evidpack.errors import IntakeError
from evidpack.model.fields import RecordKind
from evidpack.model.records import Record
from tests.intake.untidy import CLOCKS, HEAD, taken, write

DAY = (
    HEAD
    + CLOCKS
    + """[[log]]
glob = "logs/*.json*"
record = "reading"
format = "json"
clock = "meter"
[log.fields]
capture = "id"
time = { column = "at", format = "rfc3339" }
speed = { column = "meas.v", unit = "km/h" }
pulse_times_s = { column = "meas.t", unit = "ms" }
"""
)
ROW = '{"id": "C1", "at": "2026-05-14T09:12:33", "meas": {"v": 71.50, "t": [0, 10.0]}}'
LOG = "export/logs/a.json"


def _records(tmp_path: Path, text: str | bytes, *, day: str = DAY) -> list[Record]:
    write(tmp_path / LOG, text)
    kinds = (RecordKind.READING, RecordKind.UNREADABLE)
    return [one for one in taken(tmp_path, day).records if one.kind in kinds]


def _with(extra: str, *, form: str = "json") -> str:
    return DAY.replace('format = "json"', f'format = "{form}"\n{extra}')


def test_a_file_without_a_list_is_one_record_with_numbers_as_exported(tmp_path: Path) -> None:
    (record,) = _records(tmp_path, "\n" + ROW)
    assert record.raw == {
        "id": "C1",
        "at": "2026-05-14T09:12:33",
        "meas.v": "71.50",
        "meas.t": "[0, 10.0]",
    }
    assert record.values["speed_kmh"] == 71.5
    assert record.values["pulse_times_s"] == [0, 0.01]
    assert record.source.line == 2


def test_rows_in_a_list_have_their_lines_and_places(tmp_path: Path) -> None:
    text = f'{{"other": [{{"a": 1}}],\n "day": {{"rows": [{ROW}, {ROW},\n\n  {ROW}]}}}}'
    records = _records(tmp_path, text, day=_with('rows = "day.rows"'))
    assert [(one.source.line, one.source.place) for one in records] == [(2, 0), (2, 1), (4, 0)]


def test_a_list_at_the_top_is_the_list_of_rows(tmp_path: Path) -> None:
    assert len(_records(tmp_path, f"[{ROW},{ROW}]")) == 2


def test_a_cell_may_be_counted_from_the_top_of_the_file(tmp_path: Path) -> None:
    day = _with('rows = "rows"') + 'meter = "/device.serial"\n'
    (record,) = _records(tmp_path, f'{{"device": {{"serial": "L1"}}, "rows": [{ROW}]}}', day=day)
    assert (record.values["meter"], record.raw["/device.serial"]) == ("L1", "L1")


def test_objects_in_a_list_are_numbered_cells(tmp_path: Path) -> None:
    (record,) = _records(tmp_path, ROW.replace('"id"', '"f": [{"n": 1}, {"n": null}], "id"'))
    assert (record.raw["f.0.n"], record.raw["f.1.n"]) == ("1", "")


def test_each_line_of_json_lines_is_read_alone(tmp_path: Path) -> None:
    records = _records(tmp_path, f"{ROW}\nnot json\n\n{ROW}\r\n", day=_with("", form="jsonl"))
    assert [(one.kind.value, one.source.line) for one in records] == [
        ("reading", 1),
        ("unreadable", 2),
        ("reading", 4),
    ]
    assert str(records[1].values["reason"]).startswith("not JSON")
    assert str(records[1].values["excerpt"]).strip() == "not json"


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        (ROW.replace("71.50", '"x"'), "speed: 'x' is not a number"),
        (ROW.replace("71.50", "NaN"), "speed: 'NaN' is not a number"),
        (ROW.replace("71.50", "1e999"), "speed: '1E+999' is out of bounds"),
        (ROW.replace("71.50", "null"), "speed (column 'meas.v') is missing"),
        (ROW.replace("71.50", "9" * 5000), "is not a number"),
        (ROW.replace('"id"', '"id": 1, "id"'), "the name 'id' stands twice"),
        (ROW.replace('"C1"', '"\\ud800"'), "bytes that are not in the declared encoding"),
        (ROW.replace('"C1"', '"a\\u0000b"'), "NUL character"),
        (ROW + "]", "something stands after the end"),
        (ROW[:-2], "not JSON"),
        ("[" * 100_000, "nested too deep"),
        ('{"a":' * 100_000, "nested too deep"),
        ('{"a":' * 40 + "1" + "}" * 40, "nested too deep"),
        ("[1]", "a row is an object"),
        ('"text"', "a row is an object"),
        ("", "not JSON"),
        ('{"meas.v": 1, "meas": {"v": 2}}', "two cells come out under the name 'meas.v'"),
        (json.dumps({f"c{n}": n for n in range(2000)}), "more than 1024 cells"),
        (json.dumps({"id": "x" * 300_000}), "a cell is longer than"),
    ],
    ids=lambda value: value[:24] if len(value) > 40 else value,
)
def test_what_cannot_be_read_is_kept_with_its_reason(
    tmp_path: Path, text: str, reason: str
) -> None:
    records = _records(tmp_path, text)
    assert records[-1].kind is RecordKind.UNREADABLE
    assert reason in str(records[-1].values["reason"])
    assert records[-1].values["line"] == 1
    assert len(str(records[-1].values["excerpt"])) <= 4096


def test_rows_before_a_break_are_kept(tmp_path: Path) -> None:
    records = _records(tmp_path, f"[{ROW},\n{ROW},\n{{broken")
    assert [(one.kind.value, one.source.line) for one in records] == [
        ("reading", 1),
        ("reading", 2),
        ("unreadable", 3),
    ]


def test_a_row_with_a_double_name_does_not_hide_those_after_it(tmp_path: Path) -> None:
    records = _records(tmp_path, f'[{ROW},\n{{"x": {{"id": 1, "id": 2}}}},\n{ROW}]')
    assert [one.kind.value for one in records] == ["reading", "unreadable", "reading"]
    assert records[1].values["reason"] == "the name 'id' stands twice in one object"


@pytest.mark.parametrize(
    ("text", "reason"),
    [('{"rows": 1}', "no list of rows"), ("{}", "no 'rows' on the way"), ("[]", "no object")],
)
def test_a_file_without_the_declared_list_says_so(tmp_path: Path, text: str, reason: str) -> None:
    (record,) = _records(tmp_path, text, day=_with('rows = "rows"'))
    assert reason in str(record.values["reason"])


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_each_encoding_gives_the_same_row(tmp_path: Path, encoding: str) -> None:
    declared = {"utf-8-sig": "utf-8"}.get(encoding, encoding)
    day = _with(f'encoding = "{declared}"')
    (record,) = _records(tmp_path, ROW.replace("C1", "Cé1").encode(encoding), day=day)
    assert record.values["capture"] == "Cé1"


def test_a_json_file_over_the_limit_is_refused(tmp_path: Path) -> None:
    from io import BytesIO

    from evidpack.intake.logs_json import read_json

    rows = read_json(BytesIO(), None, path="x.json", size=64 * 1024 * 1024 + 1)  # type: ignore[arg-type]
    with pytest.raises(IntakeError, match="too large") as caught:
        next(rows)
    assert caught.value.path == "x.json"


_json = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.text(max_size=5)),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.text("ab.", max_size=3), inner, max_size=3)
    ),
    max_leaves=10,
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(st.lists(_json, max_size=5), st.sampled_from([None, 0, 2]))
def test_every_member_of_a_list_becomes_one_record(
    tmp_path: Path, rows: list[object], indent: int | None
) -> None:
    records = _records(tmp_path, json.dumps(rows, indent=indent))
    assert len(records) == len(rows)
    assert len({(one.source.line, one.source.place) for one in records}) == len(rows)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=100)
@given(st.binary(max_size=60))
def test_any_bytes_give_records_or_an_intake_error(tmp_path: Path, data: bytes) -> None:
    where, kinds = LOG, {RecordKind.UNREADABLE}
    try:
        kinds = {one.kind for one in _records(tmp_path, data)}
    except IntakeError as error:
        where = str(error.path)
    assert where == LOG
    assert kinds <= {RecordKind.UNREADABLE}
