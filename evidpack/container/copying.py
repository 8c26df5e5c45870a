"""What the writer reads from, and a digest that can run on a thread of its own."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from queue import SimpleQueue
from threading import Thread
from typing import BinaryIO, Final

from evidpack.errors import ExportChangedError, IntakeError

_ONE_MORE: Final = memoryview(bytearray(1))


class SourceReader:
    """The source of one member, with what can go wrong there told apart from writing."""

    __slots__ = ("_done", "_name", "_readinto", "_size")

    def __init__(self, source: BinaryIO, name: str, size: int) -> None:
        self._readinto: Callable[[memoryview], int] = source.readinto  # type: ignore[attr-defined]
        self._name = name
        self._size = size
        self._done = 0

    def fill(self, view: memoryview) -> None:
        """Fill `view` whole."""
        wanted = len(view)
        filled = self._into(view) if wanted else 0
        while filled < wanted:
            got = self._into(view[filled:])
            if not got:
                raise self._changed("shorter", observed=f"{self._done} bytes")
            filled += got

    def require_end(self) -> None:
        """The source must hold no more."""
        before = self._done
        if self._into(_ONE_MORE):
            self._done = before
            raise self._changed("longer", observed="more")

    def _into(self, view: memoryview) -> int:
        try:
            got = self._readinto(view)
        except OSError as error:
            raise IntakeError(
                f"the file cannot be read: {error.strerror or error}",
                path=self._name,
                offset=self._done,
                hint="Nothing was sealed. Check the card or its reader, or copy the export again.",
            ) from error
        self._done += got
        return got

    def _changed(self, how: str, *, observed: str) -> ExportChangedError:
        return ExportChangedError(
            f"the file became {how} while it was being read",
            path=self._name,
            offset=self._done,
            expected=f"{self._size} bytes",
            observed=observed,
            hint="Nothing was sealed. Make sure nothing writes to the export; seal again.",
        )


class Digester:
    """SHA-256 over large pieces on a second thread, one member after the other.

    The thread begins with the first piece and ends with `close`.
    """

    def __init__(self) -> None:
        self._todo: SimpleQueue[tuple[hashlib._Hash, memoryview] | None] = SimpleQueue()
        self._done: SimpleQueue[None] = SimpleQueue()
        self._open = 0
        self._thread: Thread | None = None

    def begin(self) -> Digest:
        """The digest of the next member, whose pieces follow."""
        return Digest(self)

    def submit(self, digest: hashlib._Hash, piece: memoryview) -> None:
        """Have a piece digested, which must stay unchanged until `wait` says so."""
        if self._thread is None:
            self._thread = Thread(target=self._work, name="sha256", daemon=True)
            self._thread.start()
        self._open += 1
        self._todo.put((digest, piece))

    def wait(self, *, at_most_open: int) -> None:
        """Return once no more than so many pieces are unfinished."""
        while self._open > at_most_open:
            self._done.get()
            self._open -= 1

    def close(self) -> None:
        """Finish what is under way and end the thread; a further piece would begin another."""
        if self._thread is not None:
            self._todo.put(None)
            self._thread.join()
            self._thread = None

    def _work(self) -> None:
        while (todo := self._todo.get()) is not None:
            digest, piece = todo
            digest.update(piece)
            self._done.put(None)


class Digest:
    """The SHA-256 of one member, which may still be under way on the other thread."""

    __slots__ = ("_digest", "_digester")

    def __init__(self, digester: Digester) -> None:
        self._digester = digester
        self._digest = hashlib.sha256()

    def update(self, piece: memoryview) -> None:
        """Take the next piece, which must stay unchanged until the digester has done with it."""
        self._digester.submit(self._digest, piece)

    def result(self) -> bytes:
        """The digest over all pieces so far, 32 bytes; waits for it."""
        self._digester.wait(at_most_open=0)
        return self._digest.digest()
