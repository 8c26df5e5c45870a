"""Names and values that others made reach the terminal as text: no control or direction character."""

from __future__ import annotations

import os
import unicodedata
from pathlib import Path

import pytest

from evidpack.cli.screen import clean
from tests.cli.running import Ran, Run, runner
from tests.small_day import write_small_day

ESCAPE, TURN, NARROW = "\x1b]0;owned\x07\x1b[2J", "\u202e", "\u200b"
HOSTILE = {"Cc", "Cf", "Cs", "Zl", "Zp"}


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    return runner(monkeypatch, capsys)


@pytest.fixture
def hostile_day(tmp_path: Path) -> Path:
    """The small day with codes for terminals in names of files, cells and what the office typed."""
    day = write_small_day(tmp_path)
    export = tmp_path / "export"
    for name in (f"note{ESCAPE}.txt", f"note{TURN}gpj.txt", "two\nlines.txt", f"n{NARROW}.txt"):
        (export / name).write_text("x\n")
    (export / os.fsdecode(b"note\xff\x1b.txt")).write_text("x\n")
    (export / f"empty{ESCAPE}").mkdir()
    readings = export / "readings.csv"
    readings.write_text(
        readings.read_text()
        + f"C4{ESCAPE},14/05/2026,09:40:00,{TURN}41,180\nC5\u2028,bad{ESCAPE},x,y,z\n"
    )
    unit = tmp_path / "unit" / "unit.toml"
    unit.write_text(unit.read_text().replace("A. Nobody", "A. Nobody\\u001b[31m\\u202e"))
    day.write_text(day.read_text().replace("Puddlewick Test Unit", "Unit\\u001b[2J\\u202e"))
    return day


def strange(ran: Ran) -> set[str]:
    """Characters of an output that a terminal could obey."""
    return {
        f"U+{ord(one):04X}"
        for one in ran.out + ran.err
        if one != "\n" and unicodedata.category(one) in HOSTILE
    }


def test_commands_over_a_hostile_day_send_no_codes_to_the_terminal(
    run: Run, hostile_day: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("EVIDPACK_PASSPHRASE", "five unrelated words")
    keys, bundle = tmp_path / "keys", tmp_path / "b.zip"
    assert run("key", "demo-authority", "-o", keys).code == 0
    told: list[tuple[str, Ran]] = []
    for name, arguments in (
        ("check", ("check", hostile_day)),
        ("check as JSON", ("check", hostile_day, "--json")),
        ("seal", ("seal", hostile_day, "--key", keys / "signer.key", "--cert",
                  keys / "signer.pem", "--no-time-stamp", "--passphrase-file",
                  keys / "passphrase.txt", "-o", bundle)),
        ("verify", ("verify", bundle, "--anchor", keys / "authority.pem")),
        ("verify as JSON", ("verify", bundle, "--json")),
        ("show", ("show", bundle)),
        *((f"show entry {number}", ("show", bundle, "--entry", number)) for number in range(30)),
        ("describe", ("describe", tmp_path / "export", "-o", tmp_path / "draft.toml")),
        ("a wrong description", ("check", tmp_path / "unit" / "unit.toml")),
    ):  # fmt: skip
        told.append((name, run(*arguments)))
    assert bundle.exists(), told[2]
    assert {name: strange(ran) for name, ran in told if strange(ran)} == {}
    said = "".join(ran.out + ran.err for _, ran in told)
    assert "\\u001b" in said  # so that the codes were there to be shown
    assert "\\u202e" in said


@pytest.mark.parametrize(
    "character", [ESCAPE[0], "\x07", "\x9b", TURN, NARROW, "\u2066", "\u2028", "\ud800", "\r"]
)
def test_each_is_shown_as_an_escape(character: str) -> None:
    assert clean(f"a{character}b") == f"a\\u{ord(character):04x}b"


def test_plain_text_is_shown_as_it_is() -> None:
    text = "Thistlemoor Roads Unit: 41 mph, é, 漢字, ½"
    assert clean(text) == text
