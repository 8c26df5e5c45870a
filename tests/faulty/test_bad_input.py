"""Bad input ends in a finding, or in an error that names file and line; nothing is dropped."""

from __future__ import annotations

import os
from datetime import UTC, datetime
from pathlib import Path

import pytest

from evidpack.errors import EvidpackError
from evidpack.model.fields import RecordKind
from evidpack.sealing.gather import gather_day
from evidpack.sealing.order import Gathered
from tests.cli.running import Run, runner
from tests.faulty.bad_input import BAD_INPUT, BadInput
from tests.faulty.clean import built_in_rules
from tests.faulty.edits import add, both
from tests.faulty.fault import DAY, write_base

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
READ = [one for one in BAD_INPUT if one.error is None]
REFUSED = [one for one in BAD_INPUT if one.error is not None]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    return runner(monkeypatch, capsys)


def written(one: BadInput, folder: Path, bases: dict[str, Path]) -> Path:
    day = write_base(folder, bases[one.base])
    one.edit(folder)
    return day


def gathered(day: Path) -> Gathered:
    return gather_day(day, built_in_rules("general"), now=NOW)


@pytest.mark.parametrize("one", READ, ids=lambda one: one.name)
def test_what_can_be_read_is_read_and_the_rest_is_an_adverse_finding(
    one: BadInput, tmp_path: Path, bases: dict[str, Path]
) -> None:
    found = gathered(written(one, tmp_path / "day", bases))
    said = [finding.sentence for finding in found.findings if finding.adverse]
    assert any(all(words in sentence for words in one.says) for sentence in said), said
    there = {
        path.relative_to(tmp_path / "day").as_posix()
        for path in (tmp_path / "day" / "export").rglob("*")
        if path.is_file()
    }
    assert {item.path for item in found.intake.items if item.origin == "export"} == there
    if one.kept is not None:
        unread = found.intake.day.of(RecordKind.UNREADABLE)
        cells = [*(text for record in unread for text in record.raw.values())]
        excerpts = [record.text("excerpt") or "" for record in unread]
        assert one.kept in cells or any(one.kept in text for text in excerpts)


@pytest.mark.parametrize("one", REFUSED, ids=lambda one: one.name)
def test_what_can_not_be_used_is_refused_with_file_and_line(
    one: BadInput, tmp_path: Path, bases: dict[str, Path]
) -> None:
    day = written(one, tmp_path / "day", bases)
    with pytest.raises(EvidpackError) as caught:
        gathered(day)
    assert one.error is not None
    path, line = one.error
    assert str(caught.value.path).endswith(path)
    assert caught.value.line == line
    for words in one.says:
        assert words in caught.value.message


@pytest.mark.parametrize(
    "one", [one for n, one in enumerate(BAD_INPUT) if n % 4 == 0], ids=lambda one: one.name
)
def test_the_command_says_it_without_a_traceback(
    one: BadInput, tmp_path: Path, bases: dict[str, Path], run: Run
) -> None:
    day = written(one, tmp_path / "day", bases)
    ran = run("check", day)
    assert ran.code == 2 if one.error is not None else ran.code in {1, 3}
    assert "Traceback" not in ran.out + ran.err
    if one.error is not None and one.error[1] is not None:
        assert f"{one.error[0]}:{one.error[1]}" in ran.err.replace("\n", "")


def test_the_bad_inputs_have_names_of_their_own() -> None:
    assert len({one.name for one in BAD_INPUT}) == len(BAD_INPUT)
    assert len(READ) > 30 < len(BAD_INPUT)


MANY = """
[[log]]
glob = "aparato/filmo.csv"
record = "frame_time"
format = "csv"
clock = "aparato"
[log.fields]
clip = { value = "K-0001.vid" }
frame = "n"
time = { column = "t", format = "%Y-%m-%d %H:%M:%S.%f" }
"""


@pytest.mark.parametrize(
    "count",
    [
        2_000,
        pytest.param(
            1_000_000,
            marks=pytest.mark.skipif(not os.environ.get("CI"), reason="takes a minute: in CI"),
        ),
    ],
)
def test_a_log_of_a_million_rows_is_read_and_its_one_bad_row_named(
    count: int, tmp_path: Path
) -> None:
    day = write_base(tmp_path / "day")
    both(add(DAY, MANY))(tmp_path / "day")
    with (tmp_path / "day" / "export/aparato/filmo.csv").open("w", encoding="ascii") as stream:
        stream.write("n,t\n")
        stream.writelines(
            f"{n},2026-03-11 09:{n // 60_000 % 60:02d}:{n // 1000 % 60:02d}.{n % 1000:03d}\n"
            for n in range(count)
        )
        stream.write("last,2026-03-11 09:59:59.999\n")
    found = gathered(day)
    assert len(found.intake.day.of(RecordKind.FRAME_TIME)) == count
    said = [one.sentence for one in found.findings if one.subject == "export/aparato/filmo.csv"]
    assert f"Line {count + 2} of export/aparato/filmo.csv could not be read" in said[0]
    assert len(found.findings) < 200
