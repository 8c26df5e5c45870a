from __future__ import annotations

from pathlib import Path

import pytest

from evidpack.intake.describe import propose_day
from evidpack.intake.describe_files import group_files, guess_name_pattern
from evidpack.intake.describe_logs import look_at
from evidpack.intake.describe_table import guess_time_format
from evidpack.intake.describe_words import guess_fields, guess_kind, guess_unit
from evidpack.intake.faults import DescriptionFaultsError
from evidpack.intake.file_patterns import NamePattern
from evidpack.intake.intake import Intake
from evidpack.intake.source import FolderSource
from evidpack.intake.toml_lines import guesses, read_toml
from evidpack.model.fields import RecordKind
from tests.intake.untidy import picture, taken, write


def _proposed(folder: Path) -> str:
    (folder / "export").mkdir(exist_ok=True)
    return propose_day(
        FolderSource(folder / "export"),
        reference="confirm: D-1",
        unit_name="confirm: Thistlemoor",
        export_path="export",
        unit_folder=None,
    )


def _confirmed(folder: Path) -> Intake:
    return taken(folder, _proposed(folder).replace("confirm: ", ""))


def test_an_unconfirmed_proposal_is_refused_with_every_line(tmp_path: Path) -> None:
    text = _proposed(tmp_path)
    with pytest.raises(DescriptionFaultsError) as caught:
        taken(tmp_path, text)
    marked = [number for number, line in enumerate(text.splitlines(), 1) if '"confirm: ' in line]
    assert [fault.line for fault in caught.value.faults] == marked
    assert len(guesses(read_toml(text.encode(), path="x"))) == text.count('"confirm: ')


def test_an_empty_export_gives_a_text_that_is_toml(tmp_path: Path) -> None:
    toml = read_toml(_proposed(tmp_path).encode(), path="x")
    assert toml.values["day"]["reference"] == "confirm: D-1"
    assert "log" not in toml.values


def test_an_english_export_is_taken_in_once_confirmed(tmp_path: Path) -> None:
    write(
        tmp_path / "export/logs/readings.csv",
        "Ref,Date,Time,Speed,Range (ft),Outcome\nC001,14/05/2026,09:12:33,71,800,x\n",
    )
    for number in (1, 2):
        write(
            tmp_path / f"export/stills/C001_{number:04d}.jpg",
            picture(exif={0x9003: "2026:05:14 09:12:34"}),
        )
    write(tmp_path / "export/calibration certificate.pdf", b"%PDF-1.4")
    intake = _confirmed(tmp_path)
    (reading,) = intake.day.of(RecordKind.READING)
    assert reading.values == {
        "capture": "C001",
        "time": "2026-05-14T09:12:33+00:00",
        "speed_mph": 71,
        "range_ft": 800,
    }
    (capture,) = intake.day.of(RecordKind.CAPTURE)
    assert len(capture.values["stills"]) == 2  # type: ignore[arg-type]
    assert intake.day.description.counters["image"].modulus == 10_000
    assert {item.kind.value for item in intake.items} >= {"certificate", "still", "log"}


def test_a_german_export_in_utf16_with_decimal_commas(tmp_path: Path) -> None:
    text = (
        "Kennung;Zeitpunkt;Geschwindigkeit (km/h);Entfernung (m)\n"
        "K1;14.05.2026 09:12:33;81,5;245,3\n"
    )
    write(tmp_path / "export/messung.csv", text.encode("utf-16"))
    (reading,) = _confirmed(tmp_path).day.of(RecordKind.READING)
    assert reading.values == {
        "capture": "K1",
        "time": "2026-05-14T09:12:33+00:00",
        "speed_kmh": 81.5,
        "range_m": 245.3,
    }


def test_one_json_file_per_capture_shares_a_table(tmp_path: Path) -> None:
    for number in range(3):
        write(
            tmp_path / f"export/cap/K{number}.json",
            f'{{"id": "K{number}", "speed_kmh": 80, "timestamp": "2026-05-14T09:00:0{number}+02:00"}}',
        )
    text = _proposed(tmp_path)
    assert text.count("[[log]]") == 1
    assert 'glob = "cap/*.json"' in text
    assert len(_confirmed(tmp_path).day.of(RecordKind.READING)) == 3


def test_rows_inside_a_json_file_are_found(tmp_path: Path) -> None:
    row = '{"ref": "K1", "speed_kmh": 80, "timestamp": "2026-05-14T09:00:00+02:00"}'
    write(
        tmp_path / "export/all.json", f'{{"head": {{"x": [1]}}, "day": {{"rows": [{row}, {row}]}}}}'
    )
    assert len(_confirmed(tmp_path).day.of(RecordKind.READING)) == 2


@pytest.mark.parametrize(
    "data", [b"", b"\0\0\0", b"\xff\xfe", b'"', b"{", b"[" * 50_000, b"one line only", b"a,b\n" * 3]
)
@pytest.mark.parametrize("ending", ["csv", "json", "jsonl"])
def test_a_log_that_makes_no_sense_still_gives_toml(
    tmp_path: Path, data: bytes, ending: str
) -> None:
    write(tmp_path / f"export/odd.{ending}", data)
    toml = read_toml(_proposed(tmp_path).encode(), path="x")
    assert "odd" in str(toml.values.get("log", "")) + str(toml.values.get("items", ""))


def test_names_with_quotes_stay_inside_their_strings(tmp_path: Path) -> None:
    write(tmp_path / 'export/a"]\n[day]/x.csv', b"a,b\n1,2\n")
    write(tmp_path / "export/'''.jpg", b"x")
    toml = read_toml(_proposed(tmp_path).encode(), path="x")
    assert toml.values["day"]["export"] == "export"
    assert toml.values["log"][0]["glob"] == 'a"]\n[day]/x.csv'


def test_a_date_that_can_be_read_in_two_ways_is_left_to_a_person() -> None:
    assert guess_time_format(["03/04/2026 09:00:00"]) == "%d/%m/%Y %H:%M:%S"
    assert guess_time_format(["03/04/2026 09:00:00", "03/14/2026 09:00:00"]) == "%m/%d/%Y %H:%M:%S"
    assert guess_time_format(["2026-05-14T09:00:00Z"]) == "rfc3339"
    assert guess_time_format(["1778749200"]) == "unix-seconds"


@pytest.mark.parametrize(
    ("data", "encoding"),
    [("é,b\n".encode(), "utf-8"), ("é,b\n".encode("cp1252"), "cp1252"),
     ("a,b\n".encode("utf-16"), "utf-16"), ("a,b\n".encode("utf-16-le"), "utf-16-le"),
     ("a,b\n".encode("utf-16-be"), "utf-16-be"), ("é,b\n" * 20).encode()[:-2] and (("aé" * 20).encode()[:-1], "utf-8")],
)  # fmt: skip
def test_encodings_are_recognised(data: bytes, encoding: str) -> None:
    sample = look_at(data, ending="csv", whole=True)
    assert sample is not None
    assert sample.encoding == encoding


@pytest.mark.parametrize(
    ("header", "delimiter"),
    [("a;b,c;d\n1;2,5;3\n", ";"), ("a\tb\n1\t2\n", "\t"), ("a|b\n1|2\n", "|"), ("a,b\n1,2\n", ",")],
)
def test_delimiters_are_recognised(header: str, delimiter: str) -> None:
    sample = look_at(header.encode(), ending="csv", whole=True)
    assert sample is not None
    assert sample.delimiter == delimiter


@pytest.mark.parametrize(
    ("path", "columns", "kind"),
    [
        ("logs/device-tests.csv", ["Time", "Name"], RecordKind.DEVICE_TEST),
        ("logs/x.csv", ["Time", "Test", "Result"], RecordKind.DEVICE_TEST),
        ("logs/clock_sync.csv", ["a"], RecordKind.CLOCK_CHECK),
        ("logs/frames.csv", ["a"], RecordKind.FRAME_TIME),
        ("logs/x.csv", ["a", "Vitesse"], RecordKind.READING),
    ],
)
def test_the_kind_of_a_log_is_guessed(path: str, columns: list[str], kind: RecordKind) -> None:
    assert guess_kind(path, columns) is kind


def test_columns_are_guessed_by_their_words() -> None:
    found = guess_fields(
        RecordKind.READING, ["meas.speedKmh", "Plate", "Opinion time", "zzz", "Range"]
    )
    assert found["speed"] == "meas.speedKmh"
    assert (found["plate"], found["range"]) == ("Plate", "Range")
    assert "zzz" not in found.values()


def test_units_are_read_from_the_name_of_a_column() -> None:
    assert guess_unit("Speed (km/h)", speed=True) == "km/h"
    assert guess_unit("v m/s", speed=True) == "m/s"
    assert guess_unit("Speed", speed=True) == "mph"
    assert guess_unit("Range_ft", speed=False) == "ft"
    assert guess_unit("Shift", speed=False) == "m"


def test_a_name_pattern_fits_the_names_that_it_was_made_from() -> None:
    names = ["TRU-C0007-02.jpg", "TRU-C0008-01.jpg"]
    found = guess_name_pattern(names, ["C0007", "C0008"])
    assert found is not None
    assert NamePattern(found.pattern).read(names[0]) == {"capture": "C0007", "image_number": "02"}
    assert found.image_digits == 2


@pytest.mark.parametrize("names", [["a.jpg"], ["a1.jpg", "b2.jpg"], ["1.jpg", "1_2.jpg"], []])
def test_names_without_a_common_shape_give_no_pattern(names: list[str]) -> None:
    assert guess_name_pattern(names, []) is None


def test_files_are_grouped_by_folder_and_ending() -> None:
    groups = group_files(["s/b.JPG", "s/a.jpg", "t/a.jpg", "x"])
    assert [(group.glob, len(group.paths)) for group in groups] == [
        ("s/*.jpg", 2),
        ("t/*.jpg", 1),
        ("*", 1),
    ]


def test_texts_of_a_choice_get_a_map_and_a_clock_alone_gets_its_day(tmp_path: Path) -> None:
    write(
        tmp_path / "export/logs/tests.csv",
        "Date,Time,Test,Outcome\n14/05/2026,09:00:01,Sight alignment H,OK\n"
        "14/05/2026,09:00:09,Zero velocity,FAULT\n",
    )
    write(
        tmp_path / "export/logs/readings.csv",
        "Ref,Date,Time,Opinion,Speed,Pulse times ms\nC1,14/05/2026,09:12:33,09:12:30,71,0|10|20\n",
    )
    day = _confirmed(tmp_path).day
    assert [
        (one.values["test"], one.values["result"]) for one in day.of(RecordKind.DEVICE_TEST)
    ] == [
        ("alignment-horizontal", "pass"),
        ("zero", "fail"),
    ]
    (reading,) = day.of(RecordKind.READING)
    assert reading.values["opinion_time"] == "2026-05-14T09:12:30+00:00"
    assert reading.values["pulse_times_s"] == [0, 0.01, 0.02]


def test_a_text_that_fits_no_choice_is_a_question(tmp_path: Path) -> None:
    write(tmp_path / "export/tests.csv", "Time,Test,Result\n2026-05-14 09:00:01,Frobnicate,OK\n")
    assert '"Frobnicate" = "confirm: which of self, display,' in _proposed(tmp_path)
