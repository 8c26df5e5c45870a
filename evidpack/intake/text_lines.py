"""Lines of a log in its declared encoding, each of bounded length.

A byte that can't be decoded becomes a lone surrogate U+DC00 + byte, so that the line is kept and
can be shown as a fault; nothing is replaced silently.
"""

from __future__ import annotations

import codecs
import io
from collections.abc import Iterator
from typing import BinaryIO, Final

from evidpack.errors import IntakeError
from evidpack.limits import COPY_BUFFER_BYTES, KIB, MAX_ROW_BYTES

_BOMS: Final = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_ERRORS: Final = "evidpack-undecodable"
_BLOCK_CHARACTERS: Final = 32 * KIB  # what is cut of them stays in a core's cache


def _undecodable(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeDecodeError):
        raise error
    return "".join(chr(0xDC00 + byte) for byte in error.object[error.start : error.end]), error.end


codecs.register_error(_ERRORS, _undecodable)


def text_stream(stream: BinaryIO, *, encoding: str, path: str) -> io.TextIOWrapper:
    """The text of a log. Line ends are kept as they are.

    Raises IntakeError where a byte order mark says that the declared encoding is another, or
    where UTF-16 is declared and no mark says which half comes first.
    """
    buffered = io.BufferedReader(stream, COPY_BUFFER_BYTES)  # type: ignore[type-var]
    start = buffered.peek(4)[:4]
    marked = next((name for mark, name in _BOMS if start.startswith(mark)), None)
    if marked is not None and not (encoding == marked or encoding.startswith(f"{marked}-")):
        raise IntakeError(
            "the file begins with the byte order mark of another encoding",
            path=path,
            line=1,
            expected=encoding,
            observed=marked,
            hint=f'encoding = "{marked}"',
        )
    if encoding == "utf-16" and marked is None and start:
        raise IntakeError(
            "the file is declared as UTF-16 and has no byte order mark",
            path=path,
            line=1,
            hint='encoding = "utf-16-le", or "utf-16-be"',
        )
    if encoding.startswith("utf-16-") and marked is not None:
        buffered.read(2)
    codec = "utf-8-sig" if encoding == "utf-8" else encoding
    return io.TextIOWrapper(buffered, encoding=codec, errors=_ERRORS, newline="")


class LogText:
    """The text of a log, line by line or many lines at a time. Line ends are kept as they are."""

    def __init__(self, text: io.TextIOWrapper) -> None:
        self._text = text
        self._again: io.StringIO | None = None
        self._left = 0  # characters that were put back and not read again

    def lines(self) -> Iterator[tuple[str, bool]]:
        """Each line with its line end, and whether it is whole. A line longer than MAX_ROW_BYTES
        characters is cut there, and the rest of it is passed over.
        """
        while True:
            line = self._readline()
            if not line:
                return
            whole = len(line) < MAX_ROW_BYTES or line[-1] in "\r\n"
            yield line, whole
            while not whole:
                rest = self._readline()
                whole = len(rest) < MAX_ROW_BYTES or rest[-1:] in ("\r", "\n")

    def block(self) -> str:
        """Some thousands of whole lines; empty at the end. A text that was put back must have
        been read again line by line.
        """
        text = self._text.read(_BLOCK_CHARACTERS)
        if text and text[-1] != "\n":
            text += self._text.readline(MAX_ROW_BYTES)
        return text

    def put_back(self, block: str) -> None:
        """The block just read is to be read line by line."""
        self._again, self._left = io.StringIO(block, newline=""), len(block)

    @property
    def is_between_blocks(self) -> bool:
        """Whether nothing that was put back is still to be read."""
        return self._again is None

    def _readline(self) -> str:
        if self._again is None:
            return self._text.readline(MAX_ROW_BYTES)
        line = self._again.readline(MAX_ROW_BYTES)
        self._left -= len(line)
        if not self._left:
            self._again = None
            if line[-1:] not in ("\r", "\n") and len(line) < MAX_ROW_BYTES:
                line += self._text.readline(MAX_ROW_BYTES - len(line))
        return line


def lines(text: io.TextIOWrapper) -> Iterator[tuple[str, bool]]:
    """The lines of a text as `LogText.lines` gives them."""
    return LogText(text).lines()


def fault_of(text: str) -> str | None:
    """Why a line or a cell can't be kept as text, or None."""
    if "\0" in text:
        return "it holds a NUL character"
    if text.isascii():
        return None
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        return "it holds bytes that are not in the declared encoding"
    return None
