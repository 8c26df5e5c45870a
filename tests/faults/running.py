"""Running commands in forked children: imports are paid once, and a kill takes nothing else along."""

from __future__ import annotations

import fcntl
import os
import signal
import sys
import traceback
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import Final

from tests.faults.system_calls import Decide, Watched, start

_PIPE_BYTES: Final = 1024 * 1024
_CRASHED: Final = 70


@dataclass(frozen=True, slots=True, kw_only=True)
class Ended:
    """How a command ended: exit code (minus the signal that killed it) and what it said."""

    code: int
    out: str
    err: str

    @property
    def words(self) -> str:
        """All that was said, white space folded."""
        return " ".join((self.out + " " + self.err).split())

    @property
    def killed(self) -> bool:
        """Whether it was killed as by SIGKILL."""
        return self.code == -signal.SIGKILL


class Running:
    """A command in a child, its calls of some names held until they are decided about."""

    def __init__(
        self,
        *arguments: object,
        names: frozenset[str] = frozenset(),
        first: Callable[[], None] = lambda: None,
    ) -> None:
        """`first` is done in the child before the command: limits, a stepped clock."""
        self._out, self._err = _Pipe(), _Pipe()

        def work() -> int:
            self._out.become(1)
            self._err.become(2)
            return _main([*map(str, arguments)], first)

        sys.stdout.flush()
        sys.stderr.flush()
        self.child: Watched = start(work, names)

    def serve(self, decide: Decide) -> Ended:
        """Decide about every held call, until the command has ended."""
        code = self.child.serve(decide)
        return Ended(code=code, out=self._out.text(), err=self._err.text())

    def wait(self) -> Ended:
        """Let everything go on until the command has ended."""
        return self.serve(lambda _call: None)


def run(*arguments: object, first: Callable[[], None] = lambda: None) -> Ended:
    """Run a command to its end, undisturbed."""
    return Running(*arguments, first=first).wait()


def _main(arguments: list[str], first: Callable[[], None]) -> int:
    from evidpack.cli import main

    sys.argv = ["evidpack", *arguments]
    sys.stdin = open(os.devnull, encoding="utf-8")  # noqa: SIM115, PTH123
    sys.stdout = open(1, "w", encoding="utf-8", closefd=False)  # noqa: SIM115
    sys.stderr = open(2, "w", encoding="utf-8", closefd=False)  # noqa: SIM115
    signal.signal(signal.SIGINT, signal.default_int_handler)
    code = _CRASHED
    try:
        first()
        main.main()
    except SystemExit as ended:
        code = int(ended.code or 0)
    except BaseException:  # noqa: BLE001 - a crash is a result here
        traceback.print_exc()
    for stream in (sys.stdout, sys.stderr):
        with suppress(OSError, ValueError):
            stream.flush()
    return code


class _Pipe:
    """What a child says. A pipe, since limits on the size of files must not silence it."""

    def __init__(self) -> None:
        self._read, self._write = os.pipe()
        fcntl.fcntl(self._read, fcntl.F_SETPIPE_SZ, _PIPE_BYTES)

    def become(self, descriptor: int) -> None:
        """In the child: stand at this descriptor."""
        os.dup2(self._write, descriptor)
        os.close(self._write)
        os.close(self._read)

    def text(self) -> str:
        """In the parent, once the child has ended: all of it."""
        os.close(self._write)
        with os.fdopen(self._read, encoding="utf-8", errors="replace") as stream:
            return stream.read()


def environment(changes: Mapping[str, str]) -> Callable[[], None]:
    """To be done first: set these variables."""
    return lambda: os.environ.update(changes)
