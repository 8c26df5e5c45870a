"""What an entry is called, and how values are shown to a reader."""

from __future__ import annotations

import pytest

from evidpack.disclosure.describing import describe, value_words
from evidpack.disclosure.mixed_files import mixed_file
from evidpack.model.values import JsonValue


@pytest.mark.parametrize(
    ("kind", "values", "said"),
    [
        ("file", {"item_kind": "log", "path": "export/logs/a.csv", "size": 17_275}, "Log: a.csv"),
        ("file", {"item_kind": "still", "width_px": 1280, "height_px": 720}, "Still of 1280 × 720 pixels"),
        ("file", {}, "File"),
        (
            "record",
            {"record_kind": "reading", "capture": "C7", "time": "2026-05-14T09:24:24.600000+01:00"},
            "Reading: C7, 2026-05-14 09:24:24.6 +01:00",
        ),
        ("record", {"record_kind": "still", "path": "export/x/C7_1.jpg", "image_number": 1}, "Still: C7_1.jpg, image 1"),
        ("record", {"record_kind": "still", "image_number": 1}, "Still: image 1"),
        ("record", {"record_kind": "capture", "capture": "C7", "number": 7}, "Capture: C7, number 7"),
        ("record", {"record_kind": "device_test", "test": "zero"}, "Device test: zero"),
        ("record", {"record_kind": "review", "capture": "C7", "reviewer": ""}, "Review: C7"),
        ("record", {}, "Record"),
        ("finding", {"check": "7", "subject": "day", "outcome": "pass"}, "Finding of check 7: day, pass"),
        ("finding", {"check": "7"}, "Finding of check 7"),
    ],
)  # fmt: skip
def test_an_entry_is_said_in_a_few_words(
    kind: str, values: dict[str, JsonValue], said: str
) -> None:
    assert describe(kind, values) == said


def test_whoever_decides_is_told_where_a_file_is_and_its_size() -> None:
    values: dict[str, JsonValue] = {"item_kind": "log", "path": "export/logs/a.csv", "size": 17_275}
    assert describe("file", values, whole_paths=True) == "Log: export/logs/a.csv, 17 275 bytes"


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("2026-05-14T08:52:00.960000+01:00", "2026-05-14 08:52:00.96 +01:00"),
        ("2026-05-14T08:52:00+00:00", "2026-05-14 08:52:00 +00:00"),
        ("2026-05-14T08:52:00", "2026-05-14T08:52:00"),  # no offset: as it stands
        ("2026-05-14", "2026-05-14"),
        ("TOWARDS", "TOWARDS"),
        ([65.98, 66.29, 67], "65.98, 66.29, 67"),
        ([], "none"),
        (True, "yes"),
        ([{"id": "T1", "role": "operator"}], "id: T1; role: operator"),
    ],
)
def test_values_are_shown_as_a_reader_expects_them(value: JsonValue, words: str) -> None:
    assert value_words(value) == words


@pytest.mark.parametrize(
    ("item_kind", "record_kinds", "said"),
    [
        ("log", {"reading", "capture", "unreadable"}, "A log: readings, rows that could not be read."),
        ("log", set(), "A log."),
        ("unit", {"certificate"}, "A file of the unit's own records: certificates."),
        ("run_log", {"past_run"}, "The log of earlier runs of the checks: past runs."),
        ("something", set(), "A file."),
    ],
)  # fmt: skip
def test_files_that_mix_people_are_told_apart(
    item_kind: str, record_kinds: set[str], said: str
) -> None:
    found = mixed_file(item_kind, record_kinds)
    assert found.description == said
    assert (found.what, found.use, found.reason) == ("withhold", "unused", "mixed")
    assert found.group.startswith("files that mix people, ")
