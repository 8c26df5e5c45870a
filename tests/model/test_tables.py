"""Records in columns are the records that they would be one by one."""

from __future__ import annotations

from array import array
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.model.columns import Columns
from evidpack.model.fields import RecordKind
from evidpack.model.records import Record, Source
from evidpack.model.tables import (
    NO_INSTANT,
    MergedRecords,
    RecordChain,
    RecordTable,
    in_order,
    instant_of,
    microseconds_of,
)

TIMES = ("2026-05-14T09:00:00+01:00", None, "2026-05-14T08:00:00.250000+00:00")


class Cells:
    def row(self, row: int) -> list[str]:
        return [["C1", "9"], ["C2", ""], ["C3", "8.25"]][row]


def table(path: str = "export/b.csv", kind: RecordKind = RecordKind.READING) -> RecordTable:
    return RecordTable(
        kind=kind,
        path=path,
        lines=array("q", [2, 3, 7]),
        header=("Ref", "Time"),
        cells=Cells(),
        columns={"capture": ["C1", "C2", "C3"], "time": TIMES},
        instants={"time": [instant_of(time) for time in TIMES]},
    )


def alone(path: str, line: int, kind: RecordKind = RecordKind.READING) -> Record:
    return Record(kind=kind, source=Source(path=path, line=line), values={"capture": "X"})


def order(record: Record) -> tuple[str, int]:
    return record.source.path, record.source.line or 0


def test_a_row_equals_the_record_made_by_itself() -> None:
    expected = [
        Record(
            kind=RecordKind.READING,
            source=Source(path="export/b.csv", line=line),
            raw={"Ref": name, "Time": cell},
            values={"capture": name} if time is None else {"capture": name, "time": time},
        )
        for line, name, cell, time in zip(
            (2, 3, 7), ("C1", "C2", "C3"), ("9", "", "8.25"), TIMES, strict=True
        )
    ]
    assert list(table()) == expected
    assert expected == list(table())
    assert table()[-1] == expected[2]
    assert table()[0] != expected[1]
    assert list(table()[1:]) == expected[1:]
    assert table()[1].text("time") is None
    assert repr(table()[0]).startswith("RowRecord(kind=")


@pytest.mark.parametrize("place", [3, -4])
def test_a_table_ends_where_its_rows_end(place: int) -> None:
    with pytest.raises(IndexError):
        table()[place]
    with pytest.raises(IndexError):
        RecordChain([table()])[place]


def test_tables_and_other_records_stand_in_the_order_of_their_sources() -> None:
    others = [alone("export/a.csv", 4), alone("export/c.csv", 1)]
    found = in_order([table("export/d.csv"), table()], others, order=order)
    assert isinstance(found, RecordChain)
    assert [str(one.source) for one in found] == [
        "export/a.csv:4",
        *(f"export/b.csv:{line}" for line in (2, 3, 7)),
        "export/c.csv:1",
        *(f"export/d.csv:{line}" for line in (2, 3, 7)),
    ]
    assert (found[4].source.path, found[-1].source.line) == ("export/c.csv", 7)


def test_records_of_one_file_from_two_tables_are_sorted_one_by_one() -> None:
    found = in_order([table(), table()], [alone("export/b.csv", 3)], order=order)
    assert [one.source.line for one in found] == [2, 2, 3, 3, 3, 7, 7]


def test_records_of_two_kinds_are_merged_row_by_row() -> None:
    merged = MergedRecords(
        [[alone("export/b.csv", 5)], table(), table(kind=RecordKind.CAPTURE)], order=order
    )
    found = [(one.source.line, one.kind.value) for one in merged]
    assert found == [
        (2, "reading"), (2, "capture"), (3, "reading"), (3, "capture"), (5, "reading"),
        (7, "reading"), (7, "capture"),
    ]  # fmt: skip
    assert len(merged) == 7
    assert merged == tuple(merged)
    assert merged != tuple(merged)[1:]


def test_a_column_says_the_same_of_tables_and_of_records() -> None:
    together = RecordChain([table(), [alone("export/c.csv", 1)]])
    for records in (together, tuple(together)):
        columns = Columns(records)
        assert list(columns.get("capture") or ()) == ["C1", "C2", "C3", "X"]
        assert list(columns.get("time") or ()) == [*TIMES, None]
        assert columns.get("plate") is None
        assert list(columns.instants("time")) == [instant_of(time) for time in (*TIMES, None)]
        assert set(columns.instants("signed")) == {NO_INSTANT}
        assert [path for path, count in columns.paths() for _ in range(count)] == [
            path for path, _, _ in columns.sources()
        ]


def test_columns_stand_beside_each_other_where_their_rows_are_the_same_lines() -> None:
    readings = table()
    beside = RecordTable(
        kind=RecordKind.CAPTURE, path=readings.path, lines=readings.lines, columns={}, instants={}
    )
    assert Columns(beside).stands_beside(Columns(readings))
    assert not Columns(table()).stands_beside(Columns(readings))
    assert not Columns(tuple(beside)).stands_beside(Columns(readings))
    assert not Columns(RecordChain([beside, beside])).stands_beside(Columns(readings))


_aware = st.datetimes(
    min_value=datetime(1900, 1, 1),
    max_value=datetime(2999, 12, 31),
    timezones=st.integers(-1439, 1439).map(lambda minutes: timezone(timedelta(minutes=minutes))),
)


@given(_aware)
def test_microseconds_are_exact(instant: datetime) -> None:
    found = microseconds_of(instant)
    assert datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=found) == instant
    assert instant_of(instant.isoformat()) == found
    # What the standard library gives as seconds is this number divided, rounded once.
    assert found / 1_000_000 == instant.timestamp()
