"""evidpack reader: the page is written whole, once, and never over anything."""

from __future__ import annotations

import hashlib
import stat
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from evidpack.cli.reader import command, reader_page
from evidpack.errors import UsageError
from tests.reader.conftest import READER


def run(*arguments: str) -> str:
    result = CliRunner().invoke(command, arguments, catch_exceptions=False, standalone_mode=False)
    if result.exception is not None:
        raise result.exception
    return result.output


def test_the_built_page_is_written_with_its_digest(tmp_path: Path) -> None:
    target = tmp_path / "reader.html"
    output = run("-o", str(target))
    assert target.read_bytes() == (READER / "built" / "reader.html").read_bytes()
    assert hashlib.sha256(target.read_bytes()).hexdigest() in output.replace("\n", "")
    assert list(tmp_path.iterdir()) == [target]
    assert stat.S_IMODE(target.stat().st_mode) == 0o644


def test_nothing_is_written_over(tmp_path: Path) -> None:
    target = tmp_path / "reader.html"
    target.write_text("mine")
    with pytest.raises(UsageError):
        run("-o", str(target))
    assert target.read_text() == "mine"
    assert list(tmp_path.iterdir()) == [target]


def test_a_folder_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="no file can be made in this folder"):
        run("-o", str(tmp_path / "nowhere" / "reader.html"))


def test_a_target_must_be_named() -> None:
    with pytest.raises(click.MissingParameter):
        run()


def test_a_copy_without_the_page_says_how_to_build_it(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr("evidpack.cli.reader.files", lambda _package: tmp_path)
    with pytest.raises(UsageError, match="no built reader") as caught:
        reader_page()
    assert "npm ci && npm run build" in (caught.value.hint or "")
