"""What goes to the terminal, and how.

Results go to standard output, everything said along the way to standard error.  Text reads well
without colour and on a narrow terminal.  Names and values come from files that somebody else
made: control characters are shown as escapes, never sent to the terminal.
"""

from __future__ import annotations

import errno
import json
import shutil
import sys
import textwrap
import time
import unicodedata
from collections.abc import Mapping
from types import TracebackType
from typing import TYPE_CHECKING, Final, Self

from evidpack.errors import EvidpackError
from evidpack.model.values import JsonValue

if TYPE_CHECKING:
    import rich.progress

CAUTION: Final = (
    "Checks organise evidence and are not legal advice; they decide neither guilt nor "
    "admissibility. The device handbook, approval conditions, local codes and licensed practice "
    "come first."
)
_MAX_WIDTH: Final = 100
_PLAIN_EVERY_S: Final = 5.0
# Besides control characters: marks that turn the direction of text round, and line separators.
_HIDDEN_CATEGORIES: Final = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})


def clean(text: str) -> str:
    """The text with every control or direction character shown as an escape."""
    if text.isprintable():
        return text
    return "".join(
        f"\\u{ord(character):04x}"
        if unicodedata.category(character) in _HIDDEN_CATEGORIES
        else character
        for character in text
    )


def width() -> int:
    """The columns to write in."""
    return max(40, min(_MAX_WIDTH, shutil.get_terminal_size((80, 24)).columns))


def say(text: str = "", *, indent: int = 0, hanging: int = 0) -> None:
    """One paragraph to standard output, wrapped; `hanging` indents its further lines more."""
    sys.stdout.write(_wrapped(text, indent, hanging) + "\n")


def say_command(text: str) -> None:
    """A command to copy: never wrapped, whatever the width."""
    sys.stdout.write("  " + clean(text) + "\n")


def mention(text: str) -> None:
    """One paragraph to standard error: progress and remarks."""
    sys.stderr.write(_wrapped(text, 0, 0) + "\n")


def _wrapped(text: str, indent: int, hanging: int) -> str:
    return "\n".join(
        textwrap.fill(
            clean(line),
            width(),
            initial_indent=" " * indent,
            subsequent_indent=" " * (indent + hanging),
            break_long_words=False,
            break_on_hyphens=False,
        )
        for line in text.split("\n")
    )


def say_json(value: Mapping[str, JsonValue]) -> None:
    """A value for machines: indented JSON, sorted, ASCII."""
    sys.stdout.write(json.dumps(value, indent=2, sort_keys=True) + "\n")


def complain(error: EvidpackError) -> None:
    """An error of evidpack's own: where, what, expected and found, and what to do."""
    lines = [f"error: {error.place + ': ' if error.place else ''}{error.message}"]
    if error.expected is not None:
        lines.append(f"  expected: {error.expected}")
    if error.observed is not None:
        lines.append(f"  found:    {error.observed}")
    for line in lines:
        sys.stderr.write(_wrapped(line, 0, 4) + "\n")
    if error.hint is not None:
        sys.stderr.write("  what to do:\n")
        for line in error.hint.splitlines():
            sys.stderr.write("    " + clean(line) + "\n")


# What to do about an error of the operating system, by its numbers.
_ADVICE: Final = (
    (
        (errno.ENOSPC, errno.EDQUOT, errno.EFBIG),
        "Free space on that disk, or choose a place on another one.",
    ),
    ((errno.EROFS,), "That disk or card can only be read: choose a place on another one."),
    ((errno.EACCES, errno.EPERM), "Ask for the right to use it, or choose another place."),
    (
        (errno.ENOENT, errno.ENOTDIR, errno.ENODEV, errno.ENXIO),
        "Check the name, and that the card or disk is still connected.",
    ),
)
_OTHER_ADVICE: Final = (
    "Check the disk, card or reader that it lies on: copy what can be read to another disk, and "
    "work from there."
)


def complain_of_system(error: OSError) -> None:
    """An error of the operating system: the path that it concerns, and what to do."""
    advice = next((text for numbers, text in _ADVICE if error.errno in numbers), _OTHER_ADVICE)
    path = None if error.filename is None else str(error.filename)
    complain(EvidpackError(error.strerror or str(error), path=path, hint=advice))


class Progress:
    """Bytes done, rate and time left: a bar on a terminal, a plain line every few seconds else."""

    def __init__(self, label: str, total_bytes: int, *, quiet: bool = False) -> None:
        self._label = label
        self._total = total_bytes
        self._done = 0
        self._quiet = quiet or total_bytes == 0
        self._started = self._shown = time.monotonic()
        self._bar: rich.progress.Progress | None = None
        if not self._quiet and sys.stderr.isatty():
            self._bar = _bar()
            self._task = self._bar.add_task(label, total=total_bytes)

    def __enter__(self) -> Self:
        if self._bar is not None:
            self._bar.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._bar is not None:
            self._bar.stop()

    def add(self, count: int) -> None:
        """So many more bytes are done."""
        self._done += count
        if self._bar is not None:
            self._bar.advance(self._task, count)
            return
        now = time.monotonic()
        if not self._quiet and now - self._shown >= _PLAIN_EVERY_S:
            self._shown = now
            sys.stderr.write(self._line(now - self._started) + "\n")
            sys.stderr.flush()

    def _line(self, elapsed_s: float) -> str:
        rate = self._done / elapsed_s
        left_s = max(0.0, (self._total - self._done) / rate) if rate else 0.0
        share = min(1.0, self._done / self._total)
        return (
            f"{self._label}: {share:.0%}, {megabytes(self._done)} of {megabytes(self._total)}, "
            f"{megabytes(rate)}/s, {left_s:.0f} s left"
        )


def _bar() -> rich.progress.Progress:
    """A bar on standard error that goes away when it is done. rich is loaded for terminals alone."""
    from rich import progress
    from rich.console import Console

    return progress.Progress(
        progress.TextColumn("{task.description}"),
        progress.BarColumn(bar_width=None),
        progress.DownloadColumn(),
        progress.TransferSpeedColumn(),
        progress.TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
    )


def megabytes(count: float) -> str:
    """A size in the unit that suits it, decimal."""
    for unit, size in (("GB", 1e9), ("MB", 1e6), ("kB", 1e3)):
        if count >= size:
            return f"{count / size:.1f} {unit}"
    return f"{count:.0f} B"
