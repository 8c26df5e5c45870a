"""The values and the order of ledger entries."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest

from evidpack.errors import ProofError
from evidpack.model.fields import FIELDS, RecordKind
from evidpack.model.records import Item, ItemKind, Record, Source
from evidpack.proof.digests import TILE
from evidpack.proof.entries import (
    PixelFacts,
    file_values,
    ordered_records,
    record_values,
    tile_key,
    utc_text,
)


def record(
    path: str, line: int | None, kind: RecordKind, place: int = 0, **values: object
) -> Record:
    return Record(kind=kind, source=Source(path=path, line=line, place=place), values=values)  # type: ignore[arg-type]


def test_records_stand_by_file_then_line_then_kind_then_place_then_values() -> None:
    expected = [
        record("a", None, RecordKind.STILL),
        record("a", 1, RecordKind.READING),
        record("a", 1, RecordKind.CAPTURE),
        record("a", 2, RecordKind.READING),
        record("a", 2, RecordKind.READING, place=1, n=1),
        record("a", 2, RecordKind.READING, place=1, n=2),
        record("b", 1, RecordKind.READING),
    ]
    shuffled = [expected[index] for index in (6, 3, 5, 0, 4, 2, 1)]
    got = ordered_records(shuffled, {"a": 0, "b": 1})
    assert [one for _, one in got] == expected
    assert [number for number, _ in got] == [0, 0, 0, 0, 0, 0, 1]


def test_a_record_from_no_file_of_the_day_is_a_defect() -> None:
    with pytest.raises(KeyError):
        ordered_records([record("a", 1, RecordKind.READING)], {})


def test_raw_cells_stand_beside_normalised_values_under_other_names() -> None:
    row = Record(
        kind=RecordKind.READING,
        source=Source(path="a", line=2),
        raw={"speed_mph": "41 ", "Ref": "C1"},
        values={"speed_mph": 41},
    )
    assert record_values(row, source_entry=3) == {
        "record_kind": "reading",
        "source_entry": 3,
        "source_line": 2,
        "place": 0,
        "raw:speed_mph": "41 ",
        "raw:Ref": "C1",
        "speed_mph": 41,
    }


def test_a_value_cannot_take_the_name_of_one_of_the_entry_s_own() -> None:
    with pytest.raises(ProofError, match="two values of one record have the same name"):
        record_values(record("a", 1, RecordKind.NOTE, source_entry=7), source_entry=0)


def test_no_field_of_any_kind_has_a_name_that_an_entry_uses_itself() -> None:
    own = {"record_kind", "source_entry", "source_line", "place"}
    for kind, fields in FIELDS.items():
        assert not own & set(fields), kind
        assert not any(name.startswith("raw:") for name in fields), kind


def test_a_still_carries_its_pixels_and_another_file_does_not() -> None:
    item = Item(
        path="export/a.jpg",
        kind=ItemKind.STILL,
        origin="export",
        size=9,
        modified=datetime(2026, 5, 14, tzinfo=UTC),
    )
    plain = file_values(item, sha256=bytes(32), pixels=None)
    facts = PixelFacts(root=bytes(32), width_px=2, height_px=1, decoder="d")
    still = file_values(item, sha256=bytes(32), pixels=facts)
    assert set(still) - set(plain) == {"pixel_root", "width_px", "height_px", "decoder"}
    assert "original_name" not in plain


def test_times_are_written_in_utc() -> None:
    zone = timezone(timedelta(hours=1))
    assert utc_text(datetime(2026, 5, 14, 9, 0, tzinfo=zone)) == "2026-05-14T08:00:00Z"


def test_the_tile_key_is_no_salt_of_any_field() -> None:
    import hashlib
    import hmac

    key = bytes(range(32))
    assert tile_key(key) == hmac.new(key, TILE, hashlib.sha256).digest()
