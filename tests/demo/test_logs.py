# ruff: noqa: DTZ007 - exported stamps have no offset
from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest
from PIL import Image

from tests.demo.reading_back import rows

_LOCAL = "%d/%m/%Y %H:%M:%S.%f"


def _time(row: dict[str, str], name: str) -> datetime:
    return datetime.strptime(f"{row['Date']} {row[name]}", _LOCAL)


@pytest.mark.parametrize(
    "name",
    ["readings", "device_tests", "clock_checks", "data_strips", "reviews", "frame_times"],
)
def test_logs_are_rfc_4180(export: Path, name: str) -> None:
    data = (export / "logs" / f"{name}.csv").read_bytes()
    assert data.endswith(b"\r\n")
    assert data.count(b"\n") == data.count(b"\r\n")
    for row in rows(export / "logs" / f"{name}.csv"):
        assert None not in row
        assert None not in row.values()


def test_opinions_come_before_readings(export: Path) -> None:
    for row in rows(export / "logs" / "readings.csv"):
        assert 1 < (_time(row, "Time") - _time(row, "Opinion")).total_seconds() < 6


def test_every_test_passes_before_and_after_each_session(export: Path) -> None:
    readings = rows(export / "logs" / "readings.csv")
    tests = rows(export / "logs" / "device_tests.csv")
    for session in ("S1", "S2"):
        times = [_time(row, "Time") for row in readings if row["Session"] == session]
        mine = [row for row in tests if row["Session"] == session]
        before = {row["Test"] for row in mine if _time(row, "Time") < min(times)}
        after = {row["Test"] for row in mine if _time(row, "Time") > max(times)}
        assert len(mine) == 12
        assert before == after
        assert len(before) == 6
    assert {row["Outcome"] for row in tests} == {"OK"}
    assert all(abs(float(r["Measured m"]) - 50) <= 0.3 for r in tests if r["Measured m"])


def test_clocks_are_checked_around_both_sessions_and_drift_steadily(export: Path) -> None:
    checks = rows(export / "logs" / "clock_checks.csv")
    for clock in ("meter", "camera", "video"):
        mine = [row for row in checks if row["Clock"] == clock]
        references = [datetime.fromisoformat(row["Reference time"]) for row in mine]
        offsets = [
            (datetime.fromisoformat(row["Shown"]) - reference).total_seconds()
            for row, reference in zip(mine, references, strict=True)
        ]
        assert [row["Set right"] for row in mine] == ["yes", "no", "no", "no"]
        assert all(abs(offset) < 1 for offset in offsets)
        assert max(offsets[1:]) - min(offsets[1:]) < 0.05
        assert (references[1] - references[0]).days < 14


def test_stills_follow_readings_once_clocks_are_put_right(export: Path) -> None:
    checks = rows(export / "logs" / "clock_checks.csv")

    def offset(clock: str) -> float:
        row = [one for one in checks if one["Clock"] == clock][2]
        shown = datetime.fromisoformat(row["Shown"])
        return (shown - datetime.fromisoformat(row["Reference time"])).total_seconds()

    for row in rows(export / "logs" / "readings.csv"):
        still = export / "stills" / f"{row['Ref']}_{row['Image']}.jpg"
        with Image.open(still) as picture:
            inner = picture.getexif().get_ifd(0x8769)
        stamp = datetime.strptime(f"{inner[0x9003]}.{inner[0x9291]}", "%Y:%m:%d %H:%M:%S.%f")
        apart = (stamp - _time(row, "Time")).total_seconds() - offset("camera") + offset("meter")
        assert apart == pytest.approx(0.9, abs=0.06), row["Ref"]


def test_every_capture_is_reviewed_as_one_vehicle_on_target(export: Path) -> None:
    readings = [row["Ref"] for row in rows(export / "logs" / "readings.csv")]
    reviews = rows(export / "logs" / "reviews.csv")
    assert [row["Ref"] for row in reviews] == readings
    assert {(row["Vehicles in beam"], row["On target"]) for row in reviews} == {("1", "yes")}
    assert [row["Same vehicle as"] for row in reviews if row["Same vehicle as"]] == ["C011"]
