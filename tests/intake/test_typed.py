from __future__ import annotations

from pathlib import Path

import pytest

from evidpack.intake.faults import DescriptionFaultsError
from evidpack.model.fields import RecordKind
from evidpack.model.records import Record
from tests.intake.untidy import HEAD, SESSION, TYPED, taken, write


def _typed(tmp_path: Path, text: str) -> list[Record]:
    records = taken(tmp_path, HEAD + text).records
    return [one for one in records if one.source.line and one.kind is not RecordKind.CAPTURE]


def _fault(tmp_path: Path, text: str) -> DescriptionFaultsError:
    with pytest.raises(DescriptionFaultsError) as caught:
        _typed(tmp_path, text)
    return caught.value


READING = f"""[[reading]]
time = "2026-05-14T09:12:33"
speed = {{ value = 71, unit = "mph" }}
range_ft = 804.8
discarded = false
image_number = 12
pulse_times_s = [0, 0.5]
{TYPED}"""


def test_a_typed_record_has_its_values_and_who_typed_it(tmp_path: Path) -> None:
    (record,) = _typed(tmp_path, READING)
    assert record.values == {
        "time": "2026-05-14T09:12:33+01:00",
        "speed_mph": 71,
        "range_ft": 804.8,
        "discarded": False,
        "image_number": 12,
        "pulse_times_s": [0, 0.5],
        "typed_by": "A. Clerk",
        "typed_from": "the paper itself",
    }
    assert (record.raw, record.source.path) == ({}, "office/day.toml")
    assert record.source.line == HEAD.count("\n") + 1


@pytest.mark.parametrize(
    ("time", "expected"),
    [
        ('"2026-05-14T09:12:33Z"', "2026-05-14T09:12:33+00:00"),
        ("2026-05-14T09:12:33", "2026-05-14T09:12:33+01:00"),
        ("2026-05-14 09:12:33.5+02:00", "2026-05-14T09:12:33.500000+02:00"),
        ('"2026-05-14 09:12:33"', "2026-05-14T09:12:33+01:00"),
    ],
)
def test_times_are_rfc3339_or_toml_or_local_in_the_zone_of_the_day(
    tmp_path: Path, time: str, expected: str
) -> None:
    (record,) = _typed(tmp_path, READING.replace('"2026-05-14T09:12:33"', time))
    assert record.values["time"] == expected


def test_a_typed_time_of_the_doubled_hour_is_ambiguous(tmp_path: Path) -> None:
    (record,) = _typed(tmp_path, READING.replace("2026-05-14T09:12", "2026-10-25T01:30"))
    assert isinstance(record.values["time"], dict)
    assert record.values["time"]["status"] == "ambiguous"


def test_a_field_may_name_its_own_typist(tmp_path: Path) -> None:
    text = READING + '[reading.typed]\nspeed_mph = { by = "B. Clerk", from = "still 12" }\n'
    (record,) = _typed(tmp_path, text)
    assert record.values["typed"] == {"speed": {"by": "B. Clerk", "from": "still 12"}}


def test_operators_of_a_session_are_a_list(tmp_path: Path) -> None:
    text = SESSION.replace('role = "operator"', 'role = "operator", from = "2026-05-14T09:30:00"')
    (record,) = _typed(tmp_path, text)
    assert record.kind is RecordKind.SESSION
    assert record.values["operators"] == [
        {"id": "OP-7", "role": "operator", "from": "2026-05-14T09:30:00+01:00"}
    ]
    assert "typed_by" not in record.values


def test_tables_written_on_one_line_have_places(tmp_path: Path) -> None:
    note = '{ by = "x", time = 2026-05-14T10:00:00Z, text = "y" }'
    write(tmp_path / "notes.toml", f"note = [{note}, {note}]\n")
    notes = [one for one in taken(tmp_path, HEAD).records if one.kind is RecordKind.NOTE]
    assert [(str(one.source), one.source.place) for one in notes] == [
        ("office/notes.toml:1", 0),
        ("office/notes.toml:1", 1),
    ]


def test_a_record_without_its_typist_is_refused(tmp_path: Path) -> None:
    error = _fault(tmp_path, READING.replace('typed_by = "A. Clerk"\n', ""))
    assert error.message == "typed_by is missing"
    assert 'typed_by = "A. Clerk"' in str(error.hint)


@pytest.mark.parametrize(
    ("before", "after", "message"),
    [
        ("image_number = 12", 'image_number = "12"', "image_number: must be a number"),
        ("image_number = 12", "image_number = 12.5", "must be a whole number"),
        ("image_number = 12", "image_number = 99999999999999999", "out of bounds"),
        ("image_number = 12", "serial = 12", "a reading has no field 'serial'"),
        ("image_number = 12", "plate = 12", "put it in quotes"),
        ("image_number = 12", 'plate = "a\\u0000"', "NUL"),
        ("range_ft = 804.8", "range_ft = nan", "out of bounds"),
        ("range_ft = 804.8", "range_ft = inf", "out of bounds"),
        ("range_ft = 804.8", "range_km = 1", "no field 'range_km'"),
        ("range_ft = 804.8", "range = 804.8", "needs a value and a unit"),
        ("range_ft = 804.8", "range_ft = 1\nrange_m = 1", "range stands twice"),
        ('unit = "mph"', 'unit = "knots"', "'knots' is none of: mph, km/h, m/s"),
        ("discarded = false", 'discarded = "no"', "must be true or false"),
        ("discarded = false", 'direction = "away"', "none of: approaching, receding"),
        ("[0, 0.5]", "[0, true]", "must be a number"),
        ('"2026-05-14T09:12:33"', '"14/05/2026 09:12"', "not a time in the format 'rfc3339'"),
        ('"2026-05-14T09:12:33"', "2026-05-14", "must be a time with its date"),
        ('"2026-05-14T09:12:33"', "09:12:33", "must be a time with its date"),
        ('time = "2026-05-14T09:12:33"\n', "", "a reading needs time"),
    ],
)
def test_a_wrong_field_is_named_with_its_line_and_an_example(
    tmp_path: Path, before: str, after: str, message: str
) -> None:
    assert before in READING
    error = _fault(tmp_path, READING.replace(before, after))
    assert message in error.message
    assert str(error.path).endswith("day.toml")
    assert error.line is not None
    assert error.line > HEAD.count("\n")
    assert error.hint


def test_a_table_written_with_one_bracket_is_refused(tmp_path: Path) -> None:
    error = _fault(tmp_path, READING.replace("[[reading]]", "[reading]"))
    assert "must be written as [[reading]]" in error.message


@pytest.mark.parametrize(
    "time", ["9999-12-31T23:59:59-23:59", "0001-01-01T00:00:00Z", "9999-12-31T23:59:59"]
)
def test_a_time_with_which_no_offset_can_be_counted_is_refused(tmp_path: Path, time: str) -> None:
    error = _fault(tmp_path, READING.replace('"2026-05-14T09:12:33"', time))
    assert error.message == "time: has a year outside 1900 to 2999"
