"""Step 8 of a pack: opened cells give opened values under the released profile."""

from __future__ import annotations

from evidpack.intake.description import DayDescription
from evidpack.model.values import JsonValue
from evidpack.proof.accounting import AccountingLine, Became
from evidpack.proof.commitments import Entry
from evidpack.verifying.pack_contents import RevealedEntry
from evidpack.verifying.pack_recheck import _differences
from evidpack.verifying.released_profile import profile_description
from tests.small_day import _DAY

READING: dict[str, JsonValue] = {
    "record_kind": "reading",
    "source_entry": 2,
    "source_line": 2,
    "place": 0,
    "capture": "C1",
    "meter": "ZZ-0001",
    "range_m": 182.4,
    "speed_mph": 41,
    "time": "2026-05-14T09:15:00+01:00",
    "raw:Ref": "C1",
    "raw:Date": "14/05/2026",
    "raw:Time": "09:15:00",
    "raw:Speed": "41",
    "raw:Range": "182.4",
}


def profile() -> DayDescription:
    found = profile_description({"office/day.toml": _DAY.encode()})
    assert found is not None
    return found


def faults(values: dict[str, JsonValue], *closed: str, path: str | None = None) -> list[str]:
    opened = {name: value for name, value in values.items() if name not in closed}
    one = RevealedEntry(
        line=AccountingLine(
            entry=10, kind="record", became=Became.RELEASED, reason="x", closed=tuple(closed)
        ),
        sealed=Entry(kind="record", fields=dict.fromkeys(values, "00" * 32)),
        opened=opened,
    )
    paths = {} if path is None else {2: path}
    return [fault.message for fault in _differences(one, profile(), paths)]


def test_a_row_that_normalises_to_its_values_has_no_fault() -> None:
    assert faults(READING) == []
    assert faults(READING, path="export/readings.csv") == []


def test_a_value_that_its_cell_does_not_give_is_found() -> None:
    assert faults(READING | {"speed_mph": 71}) == [
        "the opened cells do not give the opened values under the released profile"
    ]
    assert faults(READING | {"time": "2026-05-14T09:15:00Z"})


def test_a_value_that_no_cell_gives_is_found() -> None:
    assert faults(READING | {"plate": "QQ1"})


def test_closed_cells_and_what_they_give_are_passed_over() -> None:
    assert faults(READING, "raw:Speed", "speed_mph") == []
    assert faults(READING, "raw:Date", "raw:Time", "time") == []


def test_another_value_is_found_though_something_is_closed() -> None:
    assert faults(READING | {"range_m": 99}, "raw:Speed", "speed_mph")


def test_a_row_of_a_file_that_no_table_reads_is_found() -> None:
    assert faults(READING, path="export/notes.txt")


def test_without_a_profile_nothing_is_read_again() -> None:
    assert profile_description({}) is None
    assert (
        profile_description({"office/profile.toml": b'[[clock]]\nname = "m"\nzone = ""\n'}) is None
    )
