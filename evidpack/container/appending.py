"""Adding a line to a log that grows at its end alone: whole and synced, or not at all.

One writer at a time, by a lock on the file that dies with its process.  Where writing or syncing
fails, the file is cut back to what it was.  A power cut may still leave part of a line, which has
no line feed: whoever reads the log next must look for that.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO, cast

from evidpack.container.naming import sync_folder


@contextmanager
def locked_log(path: Path, *, create: bool, mode: int = 0o600) -> Iterator[BinaryIO]:
    """A log opened for reading and appending, locked; made where it is missing and `create`.

    Raises:
        OSError: it cannot be opened.
    """
    flags = os.O_RDWR | getattr(os, "O_BINARY", 0) | getattr(os, "O_CLOEXEC", 0)
    descriptor = os.open(path, flags | (os.O_CREAT if create else 0), mode)
    with os.fdopen(descriptor, "r+b", buffering=0) as stream:
        _lock(stream)
        yield cast("BinaryIO", stream)


def append(stream: BinaryIO, path: Path, data: bytes) -> None:
    """Write `data` behind all there is, and sync it; the folder too where the log is new.

    Raises:
        OSError: it cannot be written or synced; the log holds what it held before, unless the disk
            does not even let it be cut back.
    """
    before = stream.seek(0, os.SEEK_END)
    try:
        rest = memoryview(data)
        while rest:
            rest = rest[stream.write(rest) :]
        os.fsync(stream.fileno())
        if not before:
            sync_folder(path.absolute().parent)
    except BaseException:
        with suppress(OSError):
            stream.truncate(before)
            os.fsync(stream.fileno())
        raise


def _lock(stream: BinaryIO) -> None:
    """Wait until nobody else writes."""
    try:
        import fcntl
    except ImportError:  # pragma: no cover - tests run on Linux
        return
    fcntl.flock(stream.fileno(), fcntl.LOCK_EX)
