"""Check 18: rows and papers that point at what is not there."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding, Outcome
from evidpack.model.records import Item, ItemKind
from evidpack.model.values import JsonValue
from tests.checks.days import (
    Record,
    change,
    clean_records,
    day_of,
    drop,
    findings,
    is_a,
    only,
    record,
)

ROWS = [
    (RecordKind.DATA_STRIP, {"still": "C009_109.jpg"}, "data strips name a still", "C009_109.jpg"),
    (
        RecordKind.MARK,
        {"still": "C009_109.jpg", "capture": "C001"},
        "marks name a still",
        "C009_109",
    ),
    (RecordKind.MARK, {"still": "C001_101.jpg", "capture": "C9"}, "marks name a capture", "C9"),
    (RecordKind.REVIEW, {"capture": "C9"}, "reviews name a capture", "C9"),
    (
        RecordKind.REVIEW,
        {"capture": "C001", "same_vehicle_as": "C9"},
        "reviews name a capture",
        "C9",
    ),
    (RecordKind.EVENT, {"capture": "C9"}, "events name a capture", "C9"),
]


def lost(records: list[Record]) -> list[Finding]:
    return [one for one in findings("18", records) if "not in the export" in one.sentence]


@pytest.mark.parametrize(("kind", "values", "words", "named"), ROWS)
def test_a_row_about_what_is_not_there_is_said_with_its_name(
    kind: RecordKind, values: dict[str, JsonValue], words: str, named: str
) -> None:
    records = [*clean_records(1), record(kind, "export/rows.csv", 2, **values)]
    found = only(lost(records), Outcome.NOT_DETERMINABLE)
    assert f"1 of 1 {words}" in found.sentence
    assert named in found.sentence
    assert not found.adverse  # check 8 tells of missing images


@pytest.mark.parametrize(("kind", "values", "words", "named"), ROWS)
def test_where_nothing_else_tells_of_the_loss_it_is_a_query(
    kind: RecordKind, values: dict[str, JsonValue], words: str, named: str
) -> None:
    records = change(clean_records(1), is_a(RecordKind.STILL), image_number=None)
    found = only(lost([*records, record(kind, "export/rows.csv", 2, **values)]), Outcome.QUERY)
    assert words in found.sentence
    assert named in found.sentence


def test_frame_times_of_a_clip_that_is_not_there_are_a_query() -> None:
    frames = [
        record(RecordKind.FRAME_TIME, "export/frames.csv", n, clip="C001.mp4", frame=n)
        for n in range(5)
    ]
    found = only(lost([*clean_records(1), *frames]), Outcome.QUERY)
    assert "5 of 5 frame times name a clip that is not in the export: C001.mp4" in found.sentence
    clip = record(RecordKind.CLIP, "export/clips/C001.mp4", None, path="export/clips/C001.mp4")
    assert not lost([*clean_records(1), *frames, clip])


def test_a_folder_before_the_name_does_not_matter() -> None:
    row = record(RecordKind.DATA_STRIP, "export/x.csv", 2, still="pictures/C001_101.jpg")
    assert not lost([*clean_records(1), row])


def item(path: str) -> Item:
    return Item(
        path=path, kind=ItemKind.REPORT, origin="export", size=1,
        modified=datetime(2026, 5, 14, tzinfo=UTC),
    )  # fmt: skip


@pytest.mark.parametrize("stated", ["export/report.pdf", "report.pdf"])
def test_a_document_that_is_there_is_found_with_or_without_its_folder(stated: str) -> None:
    records = change(clean_records(1), is_a(RecordKind.REPORT), document=stated)
    day = replace(day_of(records), items=(item("export/report.pdf"),))
    assert not [one for one in findings("18", day) if "not in the export" in one.sentence]


def test_a_document_that_was_not_handed_in_is_a_query() -> None:
    records = change(
        clean_records(1),
        is_a(RecordKind.CERTIFICATE, certificate="calibration"),
        document="papers/calibration.pdf",
    )
    records = drop(records, is_a(RecordKind.REPORT))
    day = replace(day_of(records), items=(item("export/report.pdf"),))
    found = only(findings("18", day), Outcome.QUERY)
    assert found.subject == "certificate CAL-0815"
    assert "papers/calibration.pdf, is not in the export" in found.sentence
