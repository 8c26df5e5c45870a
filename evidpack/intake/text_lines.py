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
from evidpack.limits import COPY_BUFFER_BYTES, MAX_ROW_BYTES

_BOMS: Final = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_ERRORS: Final = "evidpack-undecodable"


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


def lines(text: io.TextIOWrapper) -> Iterator[tuple[str, bool]]:
    """Each line with its line end, and whether it is whole. A line longer than MAX_ROW_BYTES
    characters is cut there, and the rest of it is passed over.
    """
    while True:
        line = text.readline(MAX_ROW_BYTES)
        if not line:
            return
        whole = len(line) < MAX_ROW_BYTES or line[-1] in "\r\n"
        yield line, whole
        while not whole:
            rest = text.readline(MAX_ROW_BYTES)
            whole = len(rest) < MAX_ROW_BYTES or rest[-1:] in ("\r", "\n")


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
