"""What the writer writes to: small pieces gathered into larger writes, each read back at once."""

from __future__ import annotations

from typing import BinaryIO, Final

from evidpack import limits
from evidpack.container.archive import reader_at
from evidpack.errors import SealError

# Much larger writes took several times as long a byte where the system looked for memory in one
# piece (Linux 6.18, ext4); docs/performance.md.
_WRITE_BYTES: Final = limits.COPY_BUFFER_BYTES
_GATHER_BYTES: Final = 2 * _WRITE_BYTES


class Output:
    """A stream behind one reused buffer.

    A small member is read straight into the buffer, between its header and the next one's, and so
    is copied nowhere else.

    With `read_back` every byte is read from the file again right after it was written and
    compared with what was to be written.
    """

    def __init__(self, stream: BinaryIO, *, read_back: bool = False) -> None:
        self._stream = stream
        self._buffer = memoryview(bytearray(_GATHER_BYTES))
        self._filled = 0
        self._position = 0
        self._read_at = reader_at(stream) if read_back else None
        self._mirror = bytearray(_WRITE_BYTES if read_back else 0)

    def write(self, data: bytes | bytearray | memoryview) -> None:
        """Write `data` behind all before it.

        Raises:
            SealError: the stream cannot be written to, or gives back other bytes than were
                written; as from all methods here.
        """
        if len(data) > _GATHER_BYTES - self._filled:
            self.flush()
        if len(data) > _WRITE_BYTES // 2:
            self.flush()
            self._out(memoryview(data))
        else:
            self.room(len(data))[:] = data
            self.take(len(data))

    def room(self, count: int) -> memoryview:
        """The next `count` bytes of the buffer, to be filled before `take`."""
        if count > _GATHER_BYTES - self._filled:
            self.flush()
        return self._buffer[self._filled : self._filled + count]

    def take(self, count: int) -> None:
        """Count the bytes that `room` gave and the caller filled as written."""
        self._filled += count
        if self._filled >= _WRITE_BYTES:
            self.flush()

    def patch(self, data: bytes, *, back: int) -> None:
        """Overwrite what stands `back` bytes before the end."""
        self.flush()
        end = self._position
        try:
            self._stream.seek(end - back)
            self._position = end - back
            self._out(memoryview(data))
            self._stream.seek(end)
            self._position = end
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

    def _out(self, data: memoryview) -> None:
        """Write all of `data`, also to a stream that takes it in parts, and read it back."""
        try:
            done = 0
            while done < len(data):
                done += self._stream.write(data[done : done + _WRITE_BYTES])
            self._compare(data)
        except OSError as error:
            raise _write_error(error) from error
        self._position += len(data)

    def _compare(self, data: memoryview) -> None:
        """Refuse a file that does not hold `data` where it was written."""
        if self._read_at is None:
            return
        mirror = memoryview(self._mirror)
        for start in range(0, len(data), len(mirror)):
            part = data[start : start + len(mirror)]
            view = mirror[: len(part)]
            done = 0
            while done < len(part) and (
                got := self._read_at(self._position + start + done, view[done:])
            ):
                done += got
            # A bytearray is compared in one go, a memoryview byte by byte.
            found = self._mirror if done == len(mirror) else bytearray(view[:done])
            if found != part:
                raise self._differs(start, bytes(found), bytes(part))

    def _differs(self, start: int, found: bytes, part: bytes) -> SealError:
        shorter = min(len(found), len(part))
        at = next((place for place in range(shorter) if found[place] != part[place]), shorter)
        return SealError(
            "the file does not hold what was just written to it",
            offset=self._position + start + at,
            expected=f"bytes {part[at : at + 8].hex(' ')}",
            observed=f"bytes {found[at : at + 8].hex(' ')}"
            if found[at:]
            else "the end of the file",
            hint="The disk or the memory of this computer may be failing: seal to another disk, "
            "and keep the export as it is.",
        )


def _write_error(error: OSError) -> SealError:
    return SealError(
        f"the archive cannot be written: {error.strerror or error}",
        hint="Nothing stands under its name. Free space on the target, or choose another target.",
    )
