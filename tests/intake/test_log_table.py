"""Reading a log by the thousand rows gives the records of reading it row by row."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from random import Random
from unittest import mock

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.intake import logs_csv, text_lines
from evidpack.intake.faults import Faults, TableReader
from evidpack.intake.log_spec import LogSpec, read_log
from evidpack.intake.logs import read_log_file
from evidpack.intake.source import FileEntry
from evidpack.intake.toml_lines import read_toml
from evidpack.model.day import Clock
from evidpack.model.records import Record
from evidpack.model.tables import RecordChain

PATH = "export/log.csv"
HEADER = "Ref,Date,Time,Speed,Dir,Pulses,Off\n"
CLOCKS = {"meter": Clock(name="meter", zone="Europe/London", resolution_s=1)}
READINGS = """[[log]]
glob = "log.csv"
record = "reading"
format = "csv"
clock = "meter"
empty = ["-", "n/a"]
[log.fields]
capture = "Ref"
time = { columns = ["Date", "Time"], format = "%d/%m/%Y %H:%M:%S" }
speed = { column = "Speed", unit = "mph" }
direction = { column = "Dir", map = { A = "approaching", R = "receding", "?" = "" } }
pulse_times_s = { column = "Pulses", unit = "ms", separator = ";" }
discarded = { column = "Off", optional = true }
session = { column = "Nowhere", optional = true }
meter = { value = "LM-0042" }
"""
TESTS = """[[log]]
glob = "log.csv"
record = "device_test"
format = "csv"
clock = "meter"
where = { column = "Off", is = ["T", ""] }
[log.fields]
time = { columns = ["Date", "Time"], format = "%d/%m/%Y %H:%M:%S" }
test = { value = "self" }
result = { column = "Dir", map = { A = "pass", R = "" } }
"""
ONLY_YES = READINGS.replace(
    'clock = "meter"', 'clock = "meter"\nwhere = { column = "Off", is = ["yes", "x"] }'
)
ONLY_NO = READINGS.replace(
    'clock = "meter"', 'clock = "meter"\nwhere = { column = "Off", is = ["no", "x"] }'
)


def specs(*texts: str) -> tuple[LogSpec, ...]:
    toml = read_toml("".join(texts).encode(), path="x")
    faults = Faults()
    found = [
        read_log(TableReader(toml, ("log", place), table, faults), CLOCKS)
        for place, table in enumerate(toml.values["log"])
    ]
    assert not len(faults)
    return tuple(spec for spec in found if spec is not None)


class OneFile:
    """A source of one file in memory."""

    def __init__(self, data: bytes) -> None:
        self.data = data
        modified = datetime(2026, 5, 14, tzinfo=UTC)
        self.entry = FileEntry(path=PATH, size=len(data), modified=modified)

    def entries(self) -> tuple[FileEntry, ...]:
        return (self.entry,)

    def empty_folders(self) -> tuple[str, ...]:
        return ()

    def open(self, path: str) -> io.BytesIO:
        assert path == PATH
        return io.BytesIO(self.data)


def records(data: bytes, tables: tuple[LogSpec, ...]) -> list[Record]:
    source = OneFile(data)
    found = read_log_file(source.entry, tables, source)
    every = [*RecordChain(found.tables), *found.others]
    return sorted(every, key=lambda one: (one.source.line or 0, one.kind.value))


@contextmanager
def row_by_row() -> Iterator[None]:
    with mock.patch.object(logs_csv, "_next_block", return_value=None):
        yield


_plain = st.tuples(
    st.sampled_from(["C1", "C2", " C3 ", ""]),
    st.sampled_from(["14/05/2026", "25/10/2026", "29/03/2026", "31/02/2026", "-", ""]),
    st.sampled_from(["09:00:00", "09:00:59", " 09:00:01", "01:30:00", "1:2:3", "9", ""]),
    st.sampled_from(["71", "71.5", "71 mph", "-", "", "fast", "1e400", "0071", "9" * 17]),
    st.sampled_from(["A", "R", "?", "", "n/a", "up"]),
    st.sampled_from(["0;10;20", "[0, 1]", "", "0;;1"]),
    st.sampled_from(["yes", "no", "T", "", "x", "maybe"]),
)
_odd = st.sampled_from(
    [
        "\n", "\r\n", "\r", '"', 'C1,"x\ny",,,,,\n', '"C1","14/05/2026","09:00:00","71",A,,\n',
        "C1,14/05/2026\n", ",,,,,,,,\n", "C\0,,,,,,\n", "\x0b\u2028é,14/05/2026,09:00:00,7,A,,\n",
        '"never closed,14/05/2026,09:00:00,71,A,,\n', "C\udcff,,,,,,\n",
    ]
)  # fmt: skip
_lines = st.lists(
    st.one_of(_plain.map(",".join).map(lambda row: f"{row}\n"), _odd), max_size=25
).map("".join)


@given(_lines, st.sampled_from([(READINGS,), (READINGS, TESTS), (ONLY_YES, ONLY_NO, TESTS)]))
def test_blocks_and_rows_give_the_same_records(text: str, tables: tuple[str, ...]) -> None:
    data = (HEADER + text).encode("utf-8", "surrogateescape")
    for characters in (1, 64, 256_000):
        with mock.patch.object(text_lines, "_BLOCK_CHARACTERS", characters):
            found = records(data, specs(*tables))
        with row_by_row():
            assert found == records(data, specs(*tables))


def test_a_tidy_log_is_read_in_blocks_and_an_untidy_row_costs_its_block_alone() -> None:
    good = "C1,14/05/2026,09:00:00,71,A,0;10,yes\n"
    taken: list[int] = []
    kept = logs_csv._next_block

    def counting(*arguments: object) -> logs_csv.RowBlock | None:
        block = kept(*arguments)  # type: ignore[arg-type]
        taken.append(0 if block is None else len(block.lines))
        return block

    data = (HEADER + good * 20 + '"C\n1",14/05/2026,09:00:00,71,A,,\n' + good * 20).encode()
    with (
        mock.patch.object(logs_csv, "_next_block", counting),
        mock.patch.object(text_lines, "_BLOCK_CHARACTERS", 10 * len(good)),
    ):
        found = records(data, specs(READINGS))
    assert [one.source.line for one in found] == [*range(2, 23), *range(24, 44)]
    assert sum(taken) == 30
    assert 0 in taken


@pytest.mark.parametrize("end", ["", "\n", "\r\n"])
def test_the_last_line_needs_no_end(end: str) -> None:
    row = "C1,14/05/2026,09:00:00,71,A,,no"
    (found,) = records((HEADER + row + end).encode(), specs(READINGS))
    assert (found.kind.value, found.raw["Off"], found.values["discarded"]) == (
        "reading", "no", False,
    )  # fmt: skip


def test_a_row_that_no_block_can_read_says_why_with_its_own_text() -> None:
    rows = "C1,14/05/2026,09:00:00,71,A,,\nC2,14/05/2026,09:00:00,fast,up,,\n"
    good, bad = records((HEADER + rows).encode(), specs(READINGS))
    assert (good.source.line, bad.source.line) == (2, 3)
    assert bad.values == {
        "file": PATH,
        "line": 3,
        "reason": "speed: 'fast' is not a number; direction: 'up' is none of those mapped: ?, A, R",
        "record": "reading",
        "excerpt": "C2,14/05/2026,09:00:00,fast,up,,",
    }


@given(_lines, st.randoms(use_true_random=False))
def test_the_cells_of_any_row_can_be_asked_for_in_any_order(text: str, random: Random) -> None:
    data = (HEADER + text).encode("utf-8", "surrogateescape")
    source = OneFile(data)
    with mock.patch.object(text_lines, "_BLOCK_CHARACTERS", 64):
        found = read_log_file(source.entry, specs(ONLY_YES, TESTS), source).tables
    with row_by_row():
        expected = read_log_file(source.entry, specs(ONLY_YES, TESTS), source).tables
    for one, other in zip(found, expected, strict=True):
        rows = list(range(len(one)))
        random.shuffle(rows)
        assert [one[row].raw for row in rows] == [other[row].raw for row in rows]


def test_columns_named_in_day_toml_may_share_a_name_and_the_last_counts() -> None:
    named = READINGS.replace(
        'clock = "meter"',
        'clock = "meter"\nskip_lines = 1\n'
        'columns = ["Ref", "Date", "Time", "Speed", "Ref", "Dir", "Pulses"]',
    )
    row = "C1,14/05/2026,09:00:00,71,C9,A,\n"
    for source in (row, row.replace("C9", '"C9"')):
        (found,) = records((HEADER + source).encode(), specs(named))
        assert (found.values["capture"], found.raw["Ref"], found.raw["Pulses"]) == ("C9", "C9", "")
        with row_by_row():
            assert [found] == records((HEADER + source).encode(), specs(named))
