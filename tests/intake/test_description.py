from __future__ import annotations

from pathlib import Path

import pytest

from evidpack.intake.description import (
    DAY_FILE,
    NOTES_FILE,
    PROFILE_FILE,
    OfficeText,
    load_description,
)
from evidpack.intake.faults import DescriptionFaultsError
from evidpack.intake.profile import ItemSpec
from tests.intake.untidy import CAPTURES, CLOCKS, HEAD, READINGS, SESSION, STILLS

GOOD = HEAD + SESSION + CLOCKS + STILLS + READINGS + CAPTURES


def _files(**texts: str) -> dict[str, OfficeText]:
    paths = {
        "day": DAY_FILE,
        "profile": PROFILE_FILE,
        "notes": NOTES_FILE,
        "unit": "office/unit/u.toml",
    }
    return {
        paths[name]: OfficeText(path=paths[name], shown=f"{name}.toml", data=text.encode())
        for name, text in texts.items()
    }


def _faults(**texts: str) -> list[str]:
    with pytest.raises(DescriptionFaultsError) as caught:
        load_description(_files(**texts))
    for fault in caught.value.faults:
        assert fault.hint, f"no example for: {fault}"
    return [str(fault) for fault in caught.value.faults]


def _line(text: str, found: str) -> int:
    return text[: text.index(found)].count("\n") + 1


def test_a_good_description_is_read() -> None:
    found = load_description(_files(day=GOOD))
    assert (found.day.reference, found.day.zone) == ("TRU-2026-05-14-A", "Europe/London")
    assert [type(table).__name__ for table in found.profile.tables] == ["ItemSpec", "LogSpec"]
    assert found.profile.clocks["camera"].zone is None
    assert [record.values["id"] for record in found.typed] == ["S1"]


def test_tables_of_a_profile_are_read_after_those_of_the_day() -> None:
    own = '[[items]]\nglob = "stills/odd.jpg"\nkind = "document"\n'
    found = load_description(_files(day=HEAD + own, profile=CLOCKS + STILLS + CAPTURES))
    spec = found.profile.item_spec("stills/odd.jpg")
    assert isinstance(spec, ItemSpec)
    assert spec.kind.value == "document"
    assert found.profile.captures is not None


def test_the_first_table_in_the_text_decides_whatever_its_kind() -> None:
    broken = '[[items]]\nglob = "logs/readings.csv"\nkind = "log"\n'
    before = load_description(_files(day=HEAD + CLOCKS + broken + READINGS)).profile
    after = load_description(_files(day=HEAD + CLOCKS + READINGS + broken)).profile
    assert before.log_specs("logs/readings.csv") == ()
    assert len(after.log_specs("logs/readings.csv")) == 1


@pytest.mark.parametrize(
    ("before", "after", "message"),
    [
        ('format = "evidpack-day-1"', 'format = "evidpack-day-2"', "this version reads 'evidpack-day-1'"),
        ('format = "evidpack-day-1"\n', "", "format is missing"),
        ('reference = "TRU-2026-05-14-A"', 'reference = "../x"', "reference may hold letters"),
        ('reference = "TRU-2026-05-14-A"', 'reference = "a b"', "reference may hold letters"),
        ('reference = "TRU-2026-05-14-A"', 'reference = "a."', "no dot at an end"),
        ('zone = "Europe/London"\nexport', 'zone = "Europe/Lodnon"\nexport', "'Europe/Lodnon' is not a zone"),
        ('name = "meter"\nzone = "Europe/London"', 'name = "meter"\nzone = "Europe/Lo"', "'Europe/Lo' is not a zone"),
        ("date = 2026-05-14", 'date = "14.05.2026"', "date must be a day"),
        ("date = 2026-05-14", "date = 2026-05-14T09:00:00", "date must be a day"),
        ("date = 2026-05-14", "date = 9999-12-31", "date must be a day of the years 1900 to 2999"),
        ("date = 2026-05-14", "date = 0001-01-01", "date must be a day of the years 1900 to 2999"),
        ('unit = "Thistlemoor Roads Unit"', "unit = 3", "unit must be a text in quotes"),
        ('unit = "Thistlemoor Roads Unit"', 'untit = "x"', "[day] has no key 'untit'"),
        ("[[session]]", "[[sesion]]", "day.toml has no key 'sesion'"),
        ('name = "meter"\nzone = "Europe/London"', 'name = "meter"', "zone is missing"),
        ('name = "camera"', 'name = "meter"', "the clock 'meter' is declared twice"),
        ("resolution_s = 1", "resolution_s = 0", "resolution_s must be above 0"),
        ("resolution_s = 1", 'resolution_s = "one"', "resolution_s must be a number"),
        ('kind = "still"', 'kind = "photo"', "kind is 'photo', which is none of"),
        ('clock = "camera"', 'clock = "cam"', "no [[clock]] is named 'cam'"),
        ('clock = "meter"', 'clock = "cam"', "no [[clock]] is named 'cam'"),
        (r"'(?P<capture>C\d+)_", "'(?P<capture>C(a+)+)_", "name_pattern: only characters"),
        ('glob = "stills/*.jpg"', 'glob = "/stills/*.jpg"', "a glob is relative to the export"),
        ('record = "reading"', 'record = "still"', "record is 'still', which is none of"),
        ('format = "csv"', 'format = "xls"', "format is 'xls', which is none of: csv, json, jsonl"),
        ('format = "csv"', 'format = "csv"\nencoding = "latin"', "encoding is 'latin'"),
        ('format = "csv"', 'format = "csv"\ndelimiter = "||"', "delimiter must be one character"),
        ('format = "csv"', 'format = "csv"\nrows = "a"', "rows is for JSON"),
        ('format = "csv"', 'format = "json"\ndelimiter = ";"', "delimiter is for CSV"),
        ('format = "csv"', 'format = "csv"\nwhere = { column = "A" }', "where needs a list of texts"),
        ('capture = "Ref"', 'plait = "Ref"', "a reading has no field 'plait'"),
        ('capture = "Ref"', "capture = 3", "capture must name a column"),
        ('capture = "Ref"', 'capture = { column = "A", value = "B" }', "one of column, columns, value"),
        ('capture = "Ref"', "capture = { columns = [] }", "columns is empty"),
        ('capture = "Ref"', 'capture = { column = "R", format = "%Y" }', "capture is no time or date"),
        ('capture = "Ref"', 'capture = { column = "R", unit = "m" }', "capture can't be in 'm'"),
        ('capture = "Ref"', 'capture = { column = "R", separator = ";" }', "capture is no list"),
        ('capture = "Ref"', 'discarded = { value = "perhaps" }', "does not fit its field"),
        ('unit = "mph" }', 'unit = "knots" }', "speed can't be in 'knots'"),
        (', unit = "mph" }', " }", "speed needs a unit"),
        (', format = "%d/%m/%Y %H:%M:%S" }', " }", "time needs a format: 03/04 is two different days"),
        ("%d/%m/%Y %H", "%d/%m %H", "time: a time needs year, month, day and hour"),
        ('format = "csv"\nclock = "meter"', 'format = "csv"', "time needs to know whose clock it was"),
        ('speed = { column = "Speed", unit = "mph" }\n', "", "a reading needs speed"),
        ('join = "identifier"', 'join = "guess"', "join is 'guess'"),
        ('join = "identifier"', 'join = "nearest-time"', "within_s is missing"),
        ('join = "identifier"', 'join = "nearest-time"\nwithin_s = -1', "within_s must be above 0"),
    ],
)  # fmt: skip
def test_a_fault_names_its_line_and_shows_what_is_right(
    before: str, after: str, message: str
) -> None:
    assert before in GOOD
    faults = _faults(day=GOOD.replace(before, after, 1))
    (fault,) = (fault for fault in faults if message in fault)
    line = int(fault.split(":")[1])
    # A fault stands in the table that was changed.
    at = GOOD.index(before)
    start = max(
        GOOD.rfind("\n[[", 0, at), GOOD.rfind("\n[day]", 0, at), GOOD.rfind("\n[cap", 0, at)
    )
    end = min(place for place in (GOOD.find("\n[[", at), len(GOOD)) if place > 0)
    assert GOOD[: start + 1].count("\n") + 1 <= line <= GOOD[:end].count("\n") + 2


@pytest.mark.parametrize(
    ("before", "after", "at"),
    [
        ('kind = "still"', 'kind = "photo"', 'kind = "photo"'),
        ('capture = "Ref"', 'plait = "Ref"', "plait"),
        ('unit = "mph" }', 'unit = "knots" }', "speed ="),
        ("%d/%m/%Y %H", "%d/%m %H", "time ="),
        ('format = "csv"\nclock = "meter"', 'format = "csv"', "time ="),
        ('id = "S1"', "id = 1", "id = 1"),
        ('role = "operator"', "role = 1", "operators ="),
    ],
)
def test_a_fault_in_a_key_stands_at_the_very_line_of_the_key(
    before: str, after: str, at: str
) -> None:
    text = GOOD.replace(before, after, 1)
    assert int(_faults(day=text)[0].split(":")[1]) == _line(text, at)


def test_all_faults_are_collected_in_the_order_of_their_lines() -> None:
    text = GOOD.replace('kind = "still"', 'kind = "x"').replace('unit = "mph"', 'unit = "y"')
    text = text.replace("date = 2026-05-14", 'date = "z"')
    faults = _faults(day=text, notes="[[note]]\n", unit="[[meter]]\nserial = 3\n")
    places = [(fault.split(":")[0], int(fault.split(":")[1])) for fault in faults]
    assert places == sorted(places)
    assert {place for place, _ in places} == {"day.toml", "notes.toml", "unit.toml"}
    assert len(faults) >= 3 + 3 + 2


def test_without_a_day_table_the_example_is_a_whole_one() -> None:
    with pytest.raises(DescriptionFaultsError) as caught:
        load_description(_files(day='format = "evidpack-day-1"\n'))
    assert "[day] is missing" in caught.value.message
    assert "[day]\nreference" in str(caught.value.hint)


def test_guesses_are_refused_with_their_lines_in_every_file() -> None:
    faults = _faults(
        day=GOOD.replace('unit = "mph"', 'unit = "confirm: mph"'),
        profile='[[clock]]\nname = "x"\nzone = "confirm: UTC"\n',
    )
    assert faults == [
        f"day.toml:{_line(GOOD, 'speed =')}: a guess is not confirmed: 'confirm: mph'",
        "profile.toml:3: a guess is not confirmed: 'confirm: UTC'",
    ]


def test_a_confirmed_guess_of_a_number_may_stay_in_quotes() -> None:
    counter = '[[counter]]\nname = "image"\nmodulus = "10000"\nfirst = "1"\n'
    found = load_description(_files(day=HEAD + counter)).profile.counters["image"]
    assert (found.modulus, found.first) == (10_000, 1)


@pytest.mark.parametrize(
    ("counter", "message"),
    [("modulus = 1", "whole number from 2"), ("modulus = 10\nfirst = 10", "first must be below"),
     ("modulus = 9.5", "whole number"), ("modulus = 1e300", "out of bounds"),
     ("modulus = true", "must be a number")],
)  # fmt: skip
def test_a_counter_that_cannot_count_is_refused(counter: str, message: str) -> None:
    (fault, *_) = _faults(day=f'{HEAD}[[counter]]\nname = "image"\n{counter}\n')
    assert message in fault


def test_captures_may_stand_in_one_place_only() -> None:
    (fault,) = _faults(day=HEAD + CAPTURES, profile=CAPTURES)
    assert "stands in day.toml and in the profile" in fault


@pytest.mark.parametrize("name", ["profile", "notes", "unit"])
def test_a_table_in_the_wrong_file_is_refused(name: str) -> None:
    (fault, *_) = _faults(day=HEAD, **{name: '[day]\nreference = "x"\n'})
    assert "has no key 'day'" in fault


def test_more_tables_than_a_day_needs_are_refused() -> None:
    many = '[[items]]\nglob = "a"\nkind = "still"\n' * 1001
    assert "more than 1000" in _faults(day=HEAD + many)[0]


def test_no_day_toml_is_a_fault_too() -> None:
    assert "there is no day.toml" in _faults(notes="")[0]


def test_the_message_shows_every_fault(tmp_path: Path) -> None:
    with pytest.raises(DescriptionFaultsError) as caught:
        load_description(
            _files(day=HEAD.replace("2026-05-14\n", '"x"\n').replace('unit = "T', 'unti = "T'))
        )
    assert str(caught.value).count("day.toml:") == len(caught.value.faults) >= 3
