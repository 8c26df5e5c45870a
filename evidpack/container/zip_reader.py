"""Strict reading of a ZIP's structure: an archive that could be read in two ways is refused.

Programs disagree on archives whose parts overlap, leave gaps, or say two things: some trust the
central directory, others the local headers in their order, others search for an end record.
Here all three must come to the same members, and every byte of the file must belong to exactly
one of them: local header, bytes, local header, bytes, …, central directory, end records.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO, Final

from evidpack import limits
from evidpack.container import zip_format as fmt
from evidpack.container.archive import Archive, ByteSource, Member
from evidpack.container.name_table import NameTable
from evidpack.container.names import require_top
from evidpack.container.zip_end import LONGEST_HEADER, LONGEST_NAME, End, read_end
from evidpack.errors import ContainerError

__all__ = ["Archive", "Member", "read_archive"]

_CHUNK_BYTES: Final = limits.MIB


def read_archive(stream: BinaryIO, *, path: str) -> Archive:
    """Check the whole structure of a ZIP file and list its members.

    The members' bytes are not read; their CRC-32 is checked when they are (`Archive.read`,
    `bag.hash_members`).

    Args:
        stream: seekable, opened for reading bytes; must stay open while the archive is used.
        path: its name, for messages.

    Raises:
        ContainerError: anything in which the file differs from what `ZipWriter` makes, with
            offset, expected and observed.
    """
    source = ByteSource(stream, path=path)
    end = read_end(source)
    table = NameTable()
    members: list[Member] = []
    prefix = b""
    position = 0
    for header in _directory(source, end):
        if not members:
            prefix = _prefix_of(header, path=path)
        if header.begins != position:
            _refuse_position(header, position, path=path)
        name = _name_of(header, prefix, table, path=path)
        data_begins = _check_local(source, header, end)
        members.append(Member(name=name, offset=data_begins, size=header.size, crc32=header.crc32))
        position = data_begins + header.size
    if position != end.offset:
        raise ContainerError(
            "bytes that belong to no member stand before the central directory",
            path=path,
            offset=position,
            expected=f"the central directory at byte {position}",
            observed=f"the central directory at byte {end.offset}",
        )
    return Archive(source, top=prefix[:-1].decode("ascii"), members=members)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Header:
    """What a central header says; `at` is its own position, `begins` the local header's."""

    at: int
    raw_name: bytes
    size: int
    crc32: int
    begins: int

    @property
    def shown(self) -> str:
        return ascii(self.raw_name.decode("utf-8", "replace")[:200])


def _directory(source: ByteSource, end: End) -> Iterator[_Header]:
    """The headers of the central directory, read in pieces of bounded size."""
    path = source.path
    stop = end.offset + end.size
    at = end.offset
    piece, piece_at = b"", at
    for number in range(end.count):
        if piece_at + len(piece) - at < LONGEST_HEADER and piece_at + len(piece) < stop:
            piece, piece_at = source.read(at, min(_CHUNK_BYTES, stop - at)), at
        header, length = _parse_central(piece, at - piece_at, at, number, path=path)
        at += length
        yield header
    if at != stop:
        raise ContainerError(
            "the central directory holds more than its headers",
            path=path,
            offset=at,
            expected=f"the end records, after {end.count} headers",
            observed=f"{stop - at} more bytes",
        )


def _parse_central(
    piece: bytes, start: int, at: int, number: int, *, path: str
) -> tuple[_Header, int]:
    """One central header and its length; must be what the writer makes of its own values."""
    where = f"central header {number + 1}"
    if len(piece) - start < fmt.CENTRAL.size:
        raise ContainerError(
            f"{where}: the central directory ends inside it",
            path=path,
            offset=at,
            expected=f"{fmt.CENTRAL.size} bytes",
            observed=f"{len(piece) - start} bytes",
        )
    values = fmt.CENTRAL.unpack_from(piece, start)
    crc32, _, size, name_length, extra_length = values[7:12]
    begins = values[16]
    _require_name_length(name_length, where=where, at=at, path=path)
    name_at = start + fmt.CENTRAL.size
    raw_name = piece[name_at : name_at + name_length]
    extra = piece[name_at + name_length : name_at + name_length + extra_length]
    if extra_length or fmt.FULL32 in {size, begins}:
        size, begins = _zip64_values(extra, size, begins, where=where, at=at, path=path)
    header = _Header(at=at, raw_name=raw_name, size=size, crc32=crc32, begins=begins)
    expected = fmt.central_header(raw_name, size=size, crc32=crc32, offset=begins)
    length = fmt.CENTRAL.size + name_length + extra_length
    observed = piece[start : start + length]
    if expected != observed:
        fmt.refuse_difference(
            f"{where} ({header.shown})",
            fmt.CENTRAL_FIELDS,
            expected=expected,
            observed=observed,
            at=at,
            path=path,
        )
    return header, length


def _require_name_length(name_length: int, *, where: str, at: int, path: str) -> None:
    if not 1 <= name_length <= LONGEST_NAME:
        raise ContainerError(
            f"{where}: length of the name is out of bounds",
            path=path,
            offset=at + 28,
            expected=f"1 to {LONGEST_NAME}",
            observed=str(name_length),
        )


def _zip64_values(
    extra: bytes, size: int, begins: int, *, where: str, at: int, path: str
) -> tuple[int, int]:
    """Size and position, taken from the ZIP64 extra field where the header says so."""
    large, far = size == fmt.FULL32, begins == fmt.FULL32
    length = 16 + 8 * far if large else 0
    head = struct.pack("<HH", fmt.ZIP64_ID, length) if length else b""
    if extra[:4] != head or len(extra) != len(head) + length:
        expected = f"ZIP64's (0x0001) with {length} bytes" if length else "none"
        found = f"id 0x{int.from_bytes(extra[:2], 'little'):04x}, {len(extra)} bytes in all"
        raise ContainerError(
            f"{where}: the extra field is not what size and position need",
            path=path,
            offset=at + fmt.CENTRAL.size,
            expected=expected,
            observed=found if extra else "none",
        )
    if not large:
        return size, begins
    values = struct.unpack_from(f"<{length // 8}Q", extra, len(head))
    return values[1], values[2] if far else begins


def _prefix_of(header: _Header, *, path: str) -> bytes:
    """The top folder with its slash, as the first member's name has it."""
    top, slash, _ = header.raw_name.partition(b"/")
    if not slash:
        raise ContainerError(
            f"the member {header.shown} stands outside a top folder",
            path=path,
            offset=header.at + fmt.CENTRAL.size,
            expected="one top folder that holds every member",
            observed=header.shown,
        )
    try:
        require_top(top.decode("utf-8", "replace"))
    except ContainerError as error:
        raise _placed(error, header, path=path) from None
    return top + slash


def _name_of(header: _Header, prefix: bytes, table: NameTable, *, path: str) -> str:
    """The member's name relative to the top folder, allowed and without twin."""
    if not header.raw_name.startswith(prefix):
        raise ContainerError(
            f"the member {header.shown} stands outside the top folder",
            path=path,
            offset=header.at + fmt.CENTRAL.size,
            expected=f"a name that begins with {prefix.decode('ascii')!a}",
            observed=header.shown,
        )
    try:
        name = header.raw_name[len(prefix) :].decode("utf-8")
    except UnicodeDecodeError as error:
        raise ContainerError(
            f"the name {header.shown} is not UTF-8",
            path=path,
            offset=header.at + fmt.CENTRAL.size + len(prefix) + error.start,
            expected="a name in UTF-8",
            observed=f"byte 0x{header.raw_name[len(prefix) + error.start]:02x}",
        ) from None
    try:
        table.add(name)
    except ContainerError as error:
        raise _placed(error, header, path=path) from None
    return name


def _placed(error: ContainerError, header: _Header, *, path: str) -> ContainerError:
    """The same error with the place in the archive."""
    return ContainerError(
        error.message,
        path=path,
        offset=header.at + fmt.CENTRAL.size,
        expected=error.expected,
        observed=error.observed,
    )


def _refuse_position(header: _Header, position: int, *, path: str) -> None:
    """Say whether the member overlaps the one before, or leaves a gap."""
    what = "a gap stands before" if header.begins > position else "another member overlaps"
    raise ContainerError(
        f"{what} the member {header.shown}",
        path=path,
        offset=header.begins,
        expected=f"its local header at byte {position}, right behind the member before",
        observed=f"at byte {header.begins}",
    )


def _check_local(source: ByteSource, header: _Header, end: End) -> int:
    """Compare the local header with the central one; where the member's bytes begin."""
    expected = fmt.local_header(
        header.raw_name, size=header.size, crc32=header.crc32, offset=header.begins
    )
    begins = header.begins + len(expected)
    if begins + header.size > end.offset:
        raise ContainerError(
            f"the member {header.shown} runs into the central directory",
            path=source.path,
            offset=header.begins,
            expected=f"an end at or before byte {end.offset}",
            observed=f"an end at byte {begins + header.size}",
        )
    observed = source.read(header.begins, len(expected))
    if expected != observed:
        fmt.refuse_difference(
            f"local header of {header.shown}",
            fmt.LOCAL_FIELDS,
            expected=expected,
            observed=observed,
            at=header.begins,
            path=source.path,
        )
    return begins
