"""Running the command line inside the test's own process."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass

import pytest

from evidpack.cli import main


@dataclass(frozen=True, slots=True, kw_only=True)
class Ran:
    """Exit code, standard output and standard error of one command."""

    code: int
    out: str
    err: str

    @property
    def words(self) -> str:
        """All output with white space folded, so that wrapping does not matter."""
        return " ".join((self.out + " " + self.err).split())


Run = Callable[..., Ran]


def runner(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """A function that runs one command and gives what it said."""

    def run(*arguments: object) -> Ran:
        monkeypatch.setattr(sys, "argv", ["evidpack", *map(str, arguments)])
        capsys.readouterr()
        with pytest.raises(SystemExit) as exited:
            main.main()
        said = capsys.readouterr()
        return Ran(code=int(exited.value.code or 0), out=said.out, err=said.err)

    return run
