"""What the writer writes to: small pieces gathered into large writes."""

from __future__ import annotations

from typing import BinaryIO, Final

from evidpack import limits
from evidpack.errors import SealError

_GATHER_BYTES: Final = limits.MIB


class Output:
    """A stream behind one reused buffer.

    A small member is read straight into the buffer, between its header and the next one's, and so
    is copied nowhere else.
    """

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream
        self._buffer = memoryview(bytearray(_GATHER_BYTES))
        self._filled = 0

    def write(self, data: bytes | bytearray | memoryview) -> None:
        """Write `data` behind all before it.

        Raises:
            SealError: the stream cannot be written to, as from all methods here.
        """
        if len(data) > _GATHER_BYTES - self._filled:
            self.flush()
        if len(data) > limits.COPY_BUFFER_BYTES // 2:
            self.flush()
            self._out(data)
        else:
            self.room(len(data))[:] = data
            self._filled += len(data)

    def room(self, count: int) -> memoryview:
        """The next `count` bytes of the buffer, to be filled before `take`."""
        if count > _GATHER_BYTES - self._filled:
            self.flush()
        return self._buffer[self._filled : self._filled + count]

    def take(self, count: int) -> None:
        """Count the bytes that `room` gave and the caller filled as written."""
        self._filled += count

    def patch(self, data: bytes, *, back: int) -> None:
        """Overwrite what stands `back` bytes before the end."""
        self.flush()
        try:
            end = self._stream.tell()
            self._stream.seek(end - back)
            self._out(data)
            self._stream.seek(end)
        except OSError as error:
            raise _write_error(error) from error

    def flush(self) -> None:
        """Give everything to the stream."""
        filled, self._filled = self._filled, 0
        if filled:
            self._out(self._buffer[:filled])

    def finish(self) -> None:
        """Flush, the stream's own buffer too."""
        self.flush()
        try:
            self._stream.flush()
        except OSError as error:
            raise _write_error(error) from error

    def _out(self, data: bytes | bytearray | memoryview) -> None:
        """Write all of `data`, also to a stream that takes it in parts."""
        try:
            done = self._stream.write(data)
            while done < len(data):
                done += self._stream.write(memoryview(data)[done:])
        except OSError as error:
            raise _write_error(error) from error


def _write_error(error: OSError) -> SealError:
    return SealError(
        f"the archive cannot be written: {error.strerror or error}",
        hint="Nothing stands under its name. Free space on the target, or choose another target.",
    )
