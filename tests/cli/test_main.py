"""The entry point: help, exit codes, and what is loaded."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from evidpack import __version__
from evidpack.cli import main
from evidpack.cli.main import COMMANDS
from tests.bench.days import write_day
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


def test_a_check_of_a_day_of_logs_loads_nothing_for_keys_or_pictures(tmp_path: Path) -> None:
    day = write_day(tmp_path / "day", reference="LOGS-1", readings=3)
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "evidpack", "check", str(day)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 3  # no certificate is on record
    loaded = {line.rsplit("|", 1)[-1].strip().split(".")[0] for line in done.stderr.splitlines()}
    assert {"evidpack", "click"} <= loaded
    assert not loaded & (set(HEAVY) - {"click"})
    assert not loaded & {"holidays", "rfc3161_client", "tempfile"}


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


class Doing:
    """A command group whose only command does something."""

    def __init__(self, action: Callable[[], object]) -> None:
        self._action = action

    def main(self, **_options: object) -> int:
        self._action()
        return 0


@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP"])
def test_a_request_to_end_is_taken_as_an_interrupt_and_nothing_stays_installed(
    run: Run, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    number = getattr(signal, name)
    before = signal.getsignal(number)
    cleared: list[str] = []

    def action() -> None:
        try:
            os.kill(os.getpid(), number)
            time.sleep(5)
        finally:
            cleared.append("what was begun")

    monkeypatch.setattr(main, "build_group", lambda: Doing(action))
    ran = run("anything")
    assert ran.code == 128 + number
    assert f"stopped ({name}): nothing half-made was left behind" in ran.err
    assert cleared == ["what was begun"]
    assert signal.getsignal(number) is before


def test_a_signal_that_was_set_to_be_ignored_stays_ignored(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = signal.signal(signal.SIGHUP, signal.SIG_IGN)
    try:
        kill = partial(os.kill, os.getpid(), signal.SIGHUP)
        monkeypatch.setattr(main, "build_group", lambda: Doing(kill))
        assert run("anything").code == 0
    finally:
        signal.signal(signal.SIGHUP, before)


@pytest.mark.parametrize(
    ("number", "advice"),
    [
        (errno.ENOSPC, "Free space on that disk"),
        (errno.EROFS, "choose a place on another one"),
        (errno.EACCES, "Ask for the right to use it"),
        (errno.ENOENT, "still connected"),
        (errno.ENODEV, "still connected"),
        (errno.EIO, "copy what can be read to another disk"),
    ],
)
def test_every_error_of_the_system_names_the_path_and_says_what_to_do(
    run: Run, monkeypatch: pytest.MonkeyPatch, number: int, advice: str
) -> None:
    def action() -> None:
        raise OSError(number, os.strerror(number), "card/day.csv")

    monkeypatch.setattr(main, "build_group", lambda: Doing(action))
    ran = run("anything")
    assert ran.code == 2
    assert f"error: card/day.csv: {os.strerror(number)}" in ran.words
    assert "what to do:" in ran.err
    assert advice in ran.words


def test_an_error_of_the_system_without_a_path_is_told_too(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    def action() -> None:
        raise OSError("no number at all")

    monkeypatch.setattr(main, "build_group", lambda: Doing(action))
    assert "error: no number at all what to do:" in run("anything").words
