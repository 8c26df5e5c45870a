from __future__ import annotations

import tomllib
from datetime import UTC, datetime
from pathlib import Path

import pytest

from evidpack.errors import DescriptionError, IntakeError, UsageError
from evidpack.intake.office import OfficeFiles
from tests.intake.untidy import HEAD, SESSION, TYPED, write

DAY = HEAD.replace('export = "export"\n', 'export = "export"\nunit_folder = "unit"\n') + SESSION


def _meter(serial: str) -> str:
    return f'[[meter]]\nserial = "{serial}"\ntype = "LM-20"\n{TYPED}'


def _certificate(kind: str, number: str, extra: str) -> str:
    return f'[[certificate]]\ncertificate = "{kind}"\nnumber = "{number}"\n{extra}\n{TYPED}'


def _gathered(tmp_path: Path, *, day: str = DAY, **unit: str) -> dict[str, bytes]:
    write(tmp_path / "day.toml", day)
    (tmp_path / "export").mkdir(exist_ok=True)
    (tmp_path / "unit").mkdir()
    for name, text in unit.items():
        write(tmp_path / f"unit/{name}.toml", text)
    office = OfficeFiles.gather(tmp_path / "day.toml")
    return {path: file.data for path, file in office.files.items()}


def test_what_lies_beside_the_day_is_gathered_under_sealed_names(tmp_path: Path) -> None:
    write(tmp_path / "notes.toml", "")
    write(tmp_path / "runs.jsonl", "{}\n")
    write(tmp_path / "unit/sub/hidden.toml", _meter("LM-0042"))
    write(tmp_path / "fleet.toml", "")
    write(tmp_path / "day.toml", DAY.replace("[day]", 'profile = "fleet.toml"\n[day]', 1))
    write(tmp_path / "unit/a.toml", _meter("LM-0042"))
    (tmp_path / "export").mkdir()
    office = OfficeFiles.gather(tmp_path / "day.toml")
    assert [entry.path for entry in office.entries()] == [
        "office/day.toml",
        "office/notes.toml",
        "office/profile.toml",
        "office/runs.jsonl",
        "office/unit/a.toml",
    ]
    assert office.export_folder == tmp_path / "export"
    with office.open("office/unit/a.toml") as stream:
        assert stream.read().decode() == _meter("LM-0042")


def test_tables_that_the_day_does_not_use_are_blanked_line_by_line(tmp_path: Path) -> None:
    text = "# the fleet\n\n" + _meter("LM-9999") + "# lent to us\n" + _meter("lm 0042")
    sealed = _gathered(tmp_path, fleet=text)["office/unit/fleet.toml"].decode()
    assert sealed.count("\n") == text.count("\n")
    assert "9999" not in sealed
    kept = tomllib.loads(sealed)["meter"]
    assert [one["serial"] for one in kept] == ["lm 0042"]
    where = text.splitlines().index('serial = "lm 0042"')
    assert sealed.splitlines()[where] == 'serial = "lm 0042"'
    assert "# lent to us" in sealed


def test_each_kind_of_unit_table_is_kept_by_what_it_names(tmp_path: Path) -> None:
    text = (
        _meter("LM-0042")
        + _meter("LM-0043").replace("LM-20", "LM-30")
        + _certificate("calibration", "K-1", 'serial = "LM0042"')
        + _certificate("calibration", "K-2", 'serial = "LM-0043"')
        + _certificate("approval", "A-1", 'type = "lm20"')
        + _certificate("approval", "A-2", 'type = "LM-30"')
        + _certificate("operator", "O-1", 'holder = "OP-7"')
        + _certificate("operator", "O-2", 'holder = "OP-8"')
        + _certificate("operator", "O-3", "")
        + f'[[operator]]\nid = "OP-7"\nname = "A"\n{TYPED}[operator.typed]\nname = {{ by = "x", from = "y" }}\n'
        + f'[[operator]]\nid = "OP-8"\nname = "B"\n{TYPED}[operator.typed]\nname = {{ by = "x", from = "y" }}\n'
        + f'[[site]]\nid = "TH-07"\nname = "C"\n{TYPED}[[site]]\nid = "TH-08"\nname = "D"\n{TYPED}'
        + f'[[limit_order]]\nsite = "TH-08"\nnumber = "1"\n{TYPED}'
    )
    kept = tomllib.loads(_gathered(tmp_path, u=text)["office/unit/u.toml"].decode())
    assert [one["serial"] for one in kept["meter"]] == ["LM-0042"]
    assert [one["number"] for one in kept["certificate"]] == ["K-1", "A-1", "O-1", "O-3"]
    assert [one["id"] for one in kept["operator"]] == ["OP-7"]
    assert [one["id"] for one in kept["site"]] == ["TH-07"]
    assert "limit_order" not in kept


def _kept(tmp_path: Path, unit: str, *, day: str = DAY) -> list[str]:
    kept = tomllib.loads(_gathered(tmp_path, day=day, u=unit)["office/unit/u.toml"].decode())
    return [one["number"] for one in kept.get("certificate", ())]


def test_a_certificate_for_a_serial_that_nobody_has_is_kept_where_the_meter_has_none(
    tmp_path: Path,
) -> None:
    unit = _meter("LM-0042") + _certificate("calibration", "K-1", 'serial = "LM-0024"')
    assert _kept(tmp_path, unit) == ["K-1"]


def test_it_is_blanked_where_the_meter_has_one_or_where_it_is_another_meters(
    tmp_path: Path,
) -> None:
    strange = _certificate("calibration", "K-1", 'serial = "LM-0024"')
    own = _certificate("calibration", "K-2", 'serial = "LM-0042"')
    assert _kept(tmp_path / "a", strange + own) == ["K-2"]
    assert _kept(tmp_path / "b", strange + _meter("LM 0024")) == []


def test_a_certificate_of_a_person_whom_nobody_knows_is_kept_where_the_operator_has_none(
    tmp_path: Path,
) -> None:
    strange = _certificate("operator", "O-1", 'holder = "OP-70"')
    own = _certificate("operator", "O-2", 'holder = "op 7"')
    known = f'[[operator]]\nid = "OP-70"\nname = "A"\n{TYPED}'
    assert _kept(tmp_path / "a", strange) == ["O-1"]
    assert _kept(tmp_path / "b", strange + own) == ["O-2"]
    assert _kept(tmp_path / "c", strange + known) == []


@pytest.mark.parametrize(
    ("document", "kept"),
    [
        ("papers/k.pdf", ["K-1"]),
        (" papers/k.pdf ", ["K-1"]),
        ("papers/other.pdf", []),
        ("papers", []),
        ("../export/papers/k.pdf", []),
        ("", []),
        ("k" * 5000, []),
        ("\\u0000", []),
    ],
)
def test_a_certificate_whose_document_lies_in_the_export_is_kept_whoever_it_is_for(
    tmp_path: Path, document: str, kept: list[str]
) -> None:
    write(tmp_path / "export/papers/k.pdf", "paper")
    extra = f'serial = "LM-0043"\ndocument = "{document}"'
    unit = _meter("LM-0043") + _certificate("calibration", "K-1", extra)
    assert _kept(tmp_path, unit) == kept


def test_an_absolute_document_is_not_looked_for(tmp_path: Path) -> None:
    write(tmp_path / "export/k.pdf", "paper")
    extra = f'serial = "LM-0043"\ndocument = "{tmp_path}/export/k.pdf"'
    unit = _meter("LM-0043") + _certificate("calibration", "K-1", extra)
    assert _kept(tmp_path, unit) == []


def test_a_listed_certificate_is_kept_whoever_it_is_for(tmp_path: Path) -> None:
    day = DAY.replace("unit_folder", 'certificates = ["k-1"]\nunit_folder')
    unit = _meter("LM-0043") + _certificate("calibration", "K-1", 'serial = "LM-0043"')
    assert _kept(tmp_path, unit, day=day) == ["K-1"]


@pytest.mark.parametrize("unit", ["", _certificate("calibration", "K-2", 'serial = "LM-0042"')])
def test_a_listed_number_that_nobody_typed_is_refused_with_its_line(
    tmp_path: Path, unit: str
) -> None:
    day = DAY.replace("unit_folder", 'certificates = ["K-1"]\nunit_folder')
    with pytest.raises(DescriptionError, match="no certificate has the number 'K-1'") as caught:
        _gathered(tmp_path, day=day, u=unit)
    assert caught.value.line == day[: day.index("certificates")].count("\n") + 1


def test_a_list_of_certificates_keeps_those_alone(tmp_path: Path) -> None:
    day = DAY.replace("unit_folder", 'certificates = ["K-2"]\nunit_folder')
    text = _certificate("calibration", "K-1", 'serial = "LM-0042"') + _certificate(
        "calibration", "K-2", 'serial = "LM-0042"'
    )
    kept = tomllib.loads(_gathered(tmp_path, day=day, u=text)["office/unit/u.toml"].decode())
    assert [one["number"] for one in kept["certificate"]] == ["K-2"]


def test_a_zero_is_never_an_o(tmp_path: Path) -> None:
    sealed = _gathered(tmp_path, u=_meter("LM-OO42"))["office/unit/u.toml"]
    assert sealed.strip() == b""


def test_windows_line_ends_and_a_long_string_above_a_table_survive(tmp_path: Path) -> None:
    text = _meter("LM-0042").replace("the paper itself", '""the\n# paper ""') + _meter("LM-0043")
    text = text.replace('typed_from = """the\n# paper """', 'typed_from = """the\n# paper """')
    data = text.replace("\n", "\r\n")
    sealed = _gathered(tmp_path, u=data)["office/unit/u.toml"]
    assert sealed.count(b"\r\n") == data.count("\r\n")
    assert [one["serial"] for one in tomllib.loads(sealed.decode())["meter"]] == ["LM-0042"]


def test_profiles_and_rule_sets_in_the_unit_folder_are_left_alone(tmp_path: Path) -> None:
    found = _gathered(
        tmp_path,
        other_fleet='[[clock]]\nname = "x"\nzone = ""\n',
        rules='format = "something else"\n',
        mine=_meter("LM-0042"),
    )
    assert [path for path in found if "unit" in path] == ["office/unit/mine.toml"]


def test_a_file_may_be_added(tmp_path: Path) -> None:
    _gathered(tmp_path)
    office = OfficeFiles.gather(tmp_path / "day.toml")
    now = datetime(2026, 5, 14, tzinfo=UTC)
    added = office.with_file("office/rules.toml", b"x", now)
    assert added.open("office/rules.toml").read() == b"x"
    assert "office/rules.toml" not in office.files
    with pytest.raises(IntakeError, match="no such office file"):
        office.open("office/rules.toml")


@pytest.mark.parametrize(
    ("before", "after", "message"),
    [
        ('export = "export"', 'export = "exprot"', "the export folder 'exprot' is not there"),
        ('export = "export"', 'export = "."', "day.toml lies inside the export"),
        ('unit_folder = "unit"', 'unit_folder = "units"', "the unit folder 'units' is not there"),
        ("[day]", 'profile = "p.toml"\n[day]', "the profile 'p.toml' is not there"),
    ],
)
def test_a_path_that_leads_nowhere_names_its_line(
    tmp_path: Path, before: str, after: str, message: str
) -> None:
    with pytest.raises(DescriptionError) as caught:
        _gathered(tmp_path, day=DAY.replace(before, after, 1))
    assert message in caught.value.message
    assert caught.value.line == (
        2 if "profile" in after else DAY[: DAY.index(before)].count("\n") + 1
    )
    assert caught.value.hint


def test_a_day_that_is_not_there_is_wrong_usage(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="no such"):
        OfficeFiles.gather(tmp_path / "day.toml")


def test_a_day_table_that_cannot_be_used_shows_all_its_faults(tmp_path: Path) -> None:
    day = DAY.replace("date = 2026-05-14", "date = 3") + "[[clock]]\n"
    with pytest.raises(DescriptionError) as caught:
        _gathered(tmp_path, day=day)
    assert "date must be a day" in str(caught.value)
    assert "name is missing" in str(caught.value)
