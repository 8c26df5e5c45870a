"""Streaming writing of a ZIP in the one form that the strict reader accepts."""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Callable
from types import TracebackType
from typing import BinaryIO, Final, Self

from evidpack import limits
from evidpack.container import zip_format as fmt
from evidpack.container.copying import Digest, Digester, SourceReader
from evidpack.container.name_table import NameTable
from evidpack.container.names import require_top
from evidpack.container.output import Output
from evidpack.errors import ContainerError

OnBytes = Callable[[int], None]
Also = Callable[[memoryview], None]

_BUFFERS: Final = 4
_CRC_OFFSET: Final = 14


class Written:
    """What was written as one member.

    Attributes:
        name: relative to the top folder.
        size: bytes.
        crc32: of them.
        offset: of the first of them in the archive.
    """

    __slots__ = ("_digest", "crc32", "name", "offset", "size")

    def __init__(
        self, *, name: str, size: int, crc32: int, offset: int, digest: bytes | Digest
    ) -> None:
        self.name = name
        self.size = size
        self.crc32 = crc32
        self.offset = offset
        self._digest = digest

    @property
    def sha256(self) -> bytes:
        """SHA-256 of the member's bytes; waits where it is still under way."""
        if not isinstance(self._digest, bytes):
            self._digest = self._digest.result()
        return self._digest


class ZipWriter:
    """Writes members one after the other, then the central directory.

    Every header is fixed by name, size, checksum and position (see `zip_format`): the same
    members in the same order give the same bytes.
    """

    def __init__(self, stream: BinaryIO, top: str, *, read_back: bool = False) -> None:
        """Begin an archive at the start of an empty stream.

        Args:
            stream: seekable, writable, empty; stays open after `finish`.
            top: name of the one folder that holds all members.
            read_back: read every byte from the stream again once it is written, and compare; the
                stream must also be readable.

        Raises:
            ContainerError: `top` is no reference (`names.require_top`).
        """
        require_top(top)
        self._output = Output(stream, read_back=read_back)
        self._prefix = top + "/"
        self._names = NameTable()
        self._directory = bytearray()
        self._count = 0
        self._position = 0
        self._whole = True
        self._digester = Digester()
        self._buffers = [memoryview(bytearray(limits.COPY_BUFFER_BYTES)) for _ in range(_BUFFERS)]
        self._pieces = 0

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._digester.close()

    def add_bytes(self, name: str, data: bytes) -> Written:
        """Write a member from memory.

        Raises:
            ContainerError: the name is not allowed or has a twin, or a limit is reached.
            SealError: the stream cannot be written to.
        """
        raw_name = self._begin(name, len(data))
        crc32 = zlib.crc32(data)
        header = fmt.local_header(raw_name, size=len(data), crc32=crc32, offset=self._position)
        self._output.write(header)
        self._output.write(data)
        digest = hashlib.sha256(data).digest()
        return self._record(name, raw_name, len(header), len(data), digest, crc32)

    def add_stream(
        self,
        name: str,
        size: int,
        source: BinaryIO,
        on_bytes: OnBytes | None = None,
        also: Also | None = None,
    ) -> Written:
        """Write a member in one pass over `source`: read, digest, checksum, write.

        A large member's digest is made on another thread: use the writer as a context manager, or
        `finish`, to end that.

        Args:
            name: relative to the top folder.
            size: bytes that `source` must hold, from where it stands.
            source: read to its end; best opened without buffering.
            on_bytes: called with the number of bytes of each piece, once it is written.
            also: called with each piece; must not keep it.

        Raises:
            ContainerError: the name is not allowed or has a twin, or a limit is reached.
            ExportChangedError: `source` holds fewer or more bytes than `size`.
            IntakeError: `source` cannot be read.
            SealError: the stream cannot be written to.
        """
        raw_name = self._begin(name, size)
        reader = SourceReader(source, name, size)
        if size <= limits.COPY_BUFFER_BYTES:
            return self._add_small(name, raw_name, size, reader, on_bytes, also)
        header = fmt.local_header(raw_name, size=size, crc32=0, offset=self._position)
        self._output.write(header)
        digest, crc32 = self._copy(reader, size, on_bytes, also)
        checksum = crc32.to_bytes(4, "little")
        self._output.patch(checksum, back=len(header) + size - _CRC_OFFSET)
        return self._record(name, raw_name, len(header), size, digest, crc32)

    def finish(self) -> int:
        """Write the central directory and the end records; the archive's size in bytes.

        Raises:
            ContainerError: no member was added, or the archive would be too large.
            SealError: the stream cannot be written to.
        """
        self._require_whole()
        if not self._count:
            raise ContainerError("an archive without members cannot be written")
        records = fmt.end_records(
            count=self._count, size=len(self._directory), offset=self._position
        )
        total = self._position + len(self._directory) + len(records)
        for what, value, limit in (
            ("size of the central directory", len(self._directory), limits.MAX_DIRECTORY_BYTES),
            ("size of the archive", total, limits.MAX_ARCHIVE_BYTES),
        ):
            if value > limit:
                raise _too_much(what, value, limit)
        self._output.write(self._directory)
        self._output.write(records)
        self._output.finish()
        self._digester.close()
        return total

    def _begin(self, name: str, size: int) -> bytes:
        """Reserve the name and give it as it stands in the headers."""
        self._require_whole()
        if self._count >= limits.MAX_MEMBERS:
            raise _too_much("number of members", self._count + 1, limits.MAX_MEMBERS)
        if self._position + size > limits.MAX_ARCHIVE_BYTES:
            raise _too_much("size of the archive", self._position + size, limits.MAX_ARCHIVE_BYTES)
        self._names.add(name)
        self._whole = False
        return (self._prefix + name).encode("utf-8")

    def _require_whole(self) -> None:
        """After a member that was broken off, nothing can follow."""
        if not self._whole:
            raise ContainerError("the archive was broken off inside a member; start it anew")

    def _record(
        self,
        name: str,
        raw_name: bytes,
        header_size: int,
        size: int,
        digest: bytes | Digest,
        crc32: int,
    ) -> Written:
        """Note the member for the central directory."""
        self._directory += fmt.central_header(
            raw_name, size=size, crc32=crc32, offset=self._position
        )
        self._count += 1
        offset = self._position + header_size
        self._position = offset + size
        self._whole = True
        return Written(name=name, size=size, crc32=crc32, offset=offset, digest=digest)

    def _add_small(
        self,
        name: str,
        raw_name: bytes,
        size: int,
        reader: SourceReader,
        on_bytes: OnBytes | None,
        also: Also | None,
    ) -> Written:
        """Read the member into the output's buffer, behind room for its header."""
        length = fmt.local_header_size(raw_name, size=size, offset=self._position)
        room = self._output.room(length + size)
        view = room[length:]
        reader.fill(view)
        reader.require_end()
        crc32 = zlib.crc32(view)
        digest = hashlib.sha256(view).digest()
        room[:length] = fmt.local_header(raw_name, size=size, crc32=crc32, offset=self._position)
        _tell(view, on_bytes, also)
        self._output.take(len(room))
        return self._record(name, raw_name, length, size, digest, crc32)

    def _copy(
        self, reader: SourceReader, size: int, on_bytes: OnBytes | None, also: Also | None
    ) -> tuple[Digest, int]:
        """Copy `size` bytes piece by piece; their SHA-256 and CRC-32."""
        digest = self._digester.begin()
        crc32 = 0
        left = size
        try:
            while left:
                buffer = self._buffers[self._pieces % _BUFFERS]
                self._pieces += 1
                view = buffer[: min(left, len(buffer))]
                # Whatever was in this buffer last is digested by then.
                self._digester.wait(at_most_open=_BUFFERS - 1)
                reader.fill(view)
                digest.update(view)
                crc32 = zlib.crc32(view, crc32)
                self._output.write(view)
                left -= len(view)
                _tell(view, on_bytes, also)
            reader.require_end()
        except BaseException:
            self._digester.close()
            raise
        return digest, crc32


def _tell(view: memoryview, on_bytes: OnBytes | None, also: Also | None) -> None:
    if also is not None:
        also(view)
    if on_bytes is not None:
        on_bytes(len(view))


def _too_much(what: str, value: int, limit: int) -> ContainerError:
    return ContainerError(
        f"limit reached: {what}", expected=f"at most {limit}", observed=str(value)
    )
