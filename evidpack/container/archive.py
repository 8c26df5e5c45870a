"""An archive whose structure has been checked, and its members as windows on the file."""

from __future__ import annotations

import io
import os
import threading
import zlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, BinaryIO, cast

from evidpack.errors import ContainerError

if TYPE_CHECKING:
    from _typeshed import WriteableBuffer

ReadAt = Callable[[int, memoryview], int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """One file in an archive.

    Attributes:
        name: relative to the top folder.
        offset: of its first byte in the archive file.
        size: bytes.
        crc32: as stated in both headers; checked when the bytes are read.
    """

    name: str
    offset: int
    size: int
    crc32: int


class ByteSource:
    """A file read by position, from several threads at once where the system can."""

    def __init__(self, stream: BinaryIO, *, path: str) -> None:
        self.path = path
        self.size = stream.seek(0, io.SEEK_END)
        self._read_at = reader_at(stream)

    def fill(self, offset: int, view: memoryview) -> None:
        """Fill `view` from the file, beginning at `offset`.

        Raises:
            ContainerError: the file ends before, or cannot be read there.
        """
        done = 0
        while done < len(view):
            try:
                got = self._read_at(offset + done, view[done:])
            except OSError as error:
                raise ContainerError(
                    f"the archive cannot be read: {error.strerror or error}",
                    path=self.path,
                    offset=offset + done,
                    hint="Copy the file again from where it came from, and check the medium.",
                ) from error
            if not got:
                raise ContainerError(
                    "the archive ends too early",
                    path=self.path,
                    offset=offset + done,
                    expected=f"{len(view) - done} more bytes",
                    observed="the end of the file",
                )
            done += got

    def read(self, offset: int, count: int) -> bytes:
        """`count` bytes from `offset`; raises as `fill` does."""
        buffer = bytearray(count)
        self.fill(offset, memoryview(buffer))
        return bytes(buffer)


def reader_at(stream: BinaryIO) -> ReadAt:
    """A function that reads a stream by position and leaves its own position as it was."""
    return _positional(stream) or _locked(stream)


def _positional(stream: BinaryIO) -> ReadAt | None:
    """Reading by position on the file descriptor, for what surely is a plain file."""
    raw = stream.raw if isinstance(stream, io.BufferedReader | io.BufferedRandom) else stream
    if not isinstance(raw, io.FileIO) or not hasattr(os, "preadv"):
        return None
    stream.flush()
    descriptor = raw.fileno()
    return lambda offset, view: os.preadv(descriptor, [view], offset)


def _locked(stream: BinaryIO) -> ReadAt:
    """Seek and read, one thread at a time."""
    lock = threading.Lock()

    def read_at(offset: int, view: memoryview) -> int:
        with lock:
            before = stream.tell()
            stream.seek(offset)
            data = stream.read(len(view))
            stream.seek(before)
        view[: len(data)] = data
        return len(data)

    return read_at


class Archive:
    """A ZIP file whose structure can be read in one way only.

    Attributes:
        path: of the file, for messages.
        top: name of the one folder that holds all members.
        members: in the order in which they stand in the file.
        size: of the file, in bytes.
    """

    def __init__(self, source: ByteSource, *, top: str, members: Sequence[Member]) -> None:
        self.source = source
        self.path = source.path
        self.size = source.size
        self.top = top
        self.members = tuple(members)
        self._by_name = {member.name: member for member in self.members}

    def __contains__(self, name: str) -> bool:
        return name in self._by_name

    def member(self, name: str) -> Member:
        """The member of that name, relative to the top folder.

        Raises:
            ContainerError: there is none.
        """
        found = self._by_name.get(name)
        if found is None:
            raise ContainerError(
                f"{name} is missing from the archive",
                path=self.path,
                expected=f"a member named {self.top}/{name}",
                observed="none",
            )
        return found

    def open(self, member: Member) -> BinaryIO:
        """A seekable, read-only view of the member's bytes.  Its checksum is not checked."""
        return cast("BinaryIO", MemberView(self.source, member))

    def read(self, name: str, *, limit: int) -> bytes:
        """The whole member, at most `limit` bytes of it, its checksum checked.

        Raises:
            ContainerError: it is missing, larger than `limit`, unreadable, or its CRC-32 differs.
        """
        member = self.member(name)
        if member.size > limit:
            raise ContainerError(
                f"{name} is too large",
                path=self.path,
                offset=member.offset,
                expected=f"at most {limit} bytes",
                observed=f"{member.size} bytes",
            )
        data = self.source.read(member.offset, member.size)
        found = zlib.crc32(data)
        if found != member.crc32:
            raise ContainerError(
                f"{name}: the bytes do not have the stated CRC-32",
                path=self.path,
                offset=member.offset,
                expected=f"{member.crc32:08x}",
                observed=f"{found:08x}",
            )
        return data


class MemberView(io.RawIOBase):
    """The bytes of one member as a file of its own."""

    def __init__(self, source: ByteSource, member: Member) -> None:
        super().__init__()
        self._source = source
        self._member = member
        self._position = 0
        self.name = member.name

    def readable(self) -> bool:
        """True."""
        return True

    def seekable(self) -> bool:
        """True."""
        return True

    def tell(self) -> int:
        """The position within the member."""
        return self._position

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        """Move; a position behind the end is allowed and reads nothing."""
        base = {io.SEEK_SET: 0, io.SEEK_CUR: self._position, io.SEEK_END: self._member.size}
        position = base[whence] + offset
        if position < 0:
            raise ValueError("negative position")
        self._position = position
        return position

    def readinto(self, buffer: WriteableBuffer, /) -> int:
        """Fill `buffer` as far as the member reaches; raises as `ByteSource.fill`."""
        view = memoryview(buffer).cast("B")
        count = max(0, min(len(view), self._member.size - self._position))
        self._source.fill(self._member.offset + self._position, view[:count])
        self._position += count
        return count
