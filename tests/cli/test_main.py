"""The entry point: help, exit codes, and what is loaded."""

from __future__ import annotations

import subprocess
import sys

import pytest

from evidpack import __version__
from evidpack.cli.main import COMMANDS
from tests.cli.running import Run

HEAVY = ("reportlab", "PIL", "rich", "cryptography", "click")


def test_the_version_is_said_without_loading_anything_heavy() -> None:
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "evidpack", "--version"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout == f"evidpack {__version__}\n"
    loaded = {line.rsplit("|", 1)[-1].strip().split(".")[0] for line in done.stderr.splitlines()}
    assert "evidpack" in loaded
    assert not loaded & set(HEAVY)


def test_help_loads_no_command(run: Run) -> None:
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "evidpack", "--help"],
        capture_output=True,
        text=True,
        check=True,
    )
    loaded = {line.rsplit("|", 1)[-1].strip().split(".")[0] for line in done.stderr.splitlines()}
    assert not loaded & (set(HEAVY) - {"click"})
    for name in COMMANDS:
        assert name in done.stdout


@pytest.mark.parametrize("name", list(COMMANDS))
def test_every_command_has_help_with_an_example(run: Run, name: str) -> None:
    ran = run(name, "--help")
    assert ran.code == 0
    if name != "key":
        assert "Example:" in ran.out
        assert f"evidpack {name}" in ran.out
    else:
        assert "Example:" in run("key", "new", "--help").out


@pytest.mark.parametrize(
    "arguments", [["no-such-command"], ["verify"], ["verify", "--no-such-option"], ["seal"]]
)
def test_wrong_usage_ends_with_2(run: Run, arguments: list[str]) -> None:
    ran = run(*arguments)
    assert ran.code == 2
    assert "Usage:" in ran.err or "Error" in ran.err
