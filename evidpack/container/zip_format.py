"""The fixed layouts of our ZIP files, and how a difference from them is told.

Source: PKWARE APPNOTE 6.3.10, sections 4.3.7 (local header), 4.3.12 (central directory), 4.3.14
to 4.3.16 (end records), 4.5.3 (ZIP64 extra field).  A value that APPNOTE leaves open is fixed
here, so that name, size, checksum and position decide every byte of a header: the reader builds
the header that the writer would have made, and compares.

- Made by and needed: version 2.0, or 4.5 where the member needs ZIP64; host system 3 (Unix), so
  that the external attributes may say "regular file, rw-r--r--" and nothing else.
- Flags: 0x0800 (UTF-8 name) for every member.  No encryption, no data descriptor.
- Method 0 (stored); date and time 1980-01-01 00:00; disk 0; no comment.
- Extra field: none, or 0x0001 alone where the size or the position is 0xFFFFFFFF or more.  It
  then holds both sizes, alike in local and central header, and in the central header behind them
  the position where that is 0xFFFFFFFF or more.  (The sizes of a small member far back could
  stand in the header; but Info-ZIP's unzip 6.0 misreads a lone position behind a member of
  exactly 0xFFFFFFFF bytes, which is the largest file that FAT32 holds.)
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import Final, NoReturn

from evidpack.errors import ContainerError

LOCAL_SIGNATURE: Final = b"PK\x03\x04"
CENTRAL_SIGNATURE: Final = b"PK\x01\x02"
END_SIGNATURE: Final = b"PK\x05\x06"
END64_SIGNATURE: Final = b"PK\x06\x06"
LOCATOR_SIGNATURE: Final = b"PK\x06\x07"

LOCAL: Final = struct.Struct("<4sHHHHHIIIHH")
CENTRAL: Final = struct.Struct("<4sHHHHHHIIIHHHHHII")
END: Final = struct.Struct("<4sHHHHIIH")
END64: Final = struct.Struct("<4sQHHIIQQQQ")
LOCATOR: Final = struct.Struct("<4sIQI")

FULL16: Final = 0xFFFF
FULL32: Final = 0xFFFFFFFF
ZIP64_ID: Final = 0x0001

VERSION: Final = 20
VERSION64: Final = 45
HOST_UNIX: Final = 3 << 8
FLAGS: Final = 0x0800
STORED: Final = 0
TIME: Final = 0
DATE: Final = (1 << 5) | 1
ATTRIBUTES: Final = 0o100644 << 16


def needs_zip64(*, size: int, offset: int) -> bool:
    """Whether a member of that size, whose header begins at `offset`, is in ZIP64 form."""
    return size >= FULL32 or offset >= FULL32


def local_header(name: bytes, *, size: int, crc32: int, offset: int) -> bytes:
    """The local header of a member whose header begins at `offset`, name and extra included."""
    version, stated, extra = VERSION, size, b""
    if needs_zip64(size=size, offset=offset):
        version, stated = VERSION64, FULL32
        extra = struct.pack("<HHQQ", ZIP64_ID, 16, size, size)
    # fmt: off
    fixed = LOCAL.pack(
        LOCAL_SIGNATURE, version, FLAGS, STORED, TIME, DATE, crc32, stated, stated,
        len(name), len(extra),
    )
    # fmt: on
    return fixed + name + extra


def local_header_size(name: bytes, *, size: int, offset: int) -> int:
    """The number of bytes that `local_header` gives."""
    return LOCAL.size + len(name) + (20 if needs_zip64(size=size, offset=offset) else 0)


def central_header(name: bytes, *, size: int, crc32: int, offset: int) -> bytes:
    """The same member's header in the central directory."""
    version, stated, extra = VERSION, size, b""
    if needs_zip64(size=size, offset=offset):
        version, stated = VERSION64, FULL32
        values = (size, size) if offset < FULL32 else (size, size, offset)
        extra = struct.pack(f"<HH{len(values)}Q", ZIP64_ID, 8 * len(values), *values)
    # fmt: off
    fixed = CENTRAL.pack(
        CENTRAL_SIGNATURE, HOST_UNIX | version, version, FLAGS, STORED, TIME, DATE, crc32,
        stated, stated, len(name), len(extra), 0, 0, 0, ATTRIBUTES, min(offset, FULL32),
    )
    # fmt: on
    return fixed + name + extra


def end_records(*, count: int, size: int, offset: int) -> bytes:
    """All that follows a central directory of `count` headers in `size` bytes at `offset`.

    The ZIP64 record and its locator stand there only where one of the three is too large for the
    end record, which then holds that one as all ones and the others as they are.
    """
    end = END.pack(
        END_SIGNATURE,
        0,
        0,
        min(count, FULL16),
        min(count, FULL16),
        min(size, FULL32),
        min(offset, FULL32),
        0,
    )
    if count < FULL16 and size < FULL32 and offset < FULL32:
        return end
    # fmt: off
    record = END64.pack(
        END64_SIGNATURE, END64.size - 12, HOST_UNIX | VERSION64, VERSION64, 0, 0,
        count, count, size, offset,
    )
    # fmt: on
    return record + LOCATOR.pack(LOCATOR_SIGNATURE, 0, offset + size, 1) + end


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One field of a header, and what it means when it is not as it must be."""

    name: str
    offset: int
    size: int
    fault: str


def _fields(layout: struct.Struct, *rows: tuple[str, str]) -> tuple[Field, ...]:
    """Lay the rows along a struct format, one after the other."""
    widths = {"s": 4, "H": 2, "I": 4, "Q": 8}
    codes = [code for code in layout.format if code in widths]
    found: list[Field] = []
    offset = 0
    for (name, fault), code in zip(rows, codes, strict=True):
        found.append(Field(name=name, offset=offset, size=widths[code], fault=fault))
        offset += widths[code]
    return tuple(found)


_FIXED = "is not the one value it may have"
_DISAGREES = "disagrees with the central directory"

LOCAL_FIELDS: Final = _fields(
    LOCAL,
    ("signature", "is missing: no local header where one must begin"),
    ("version needed", _FIXED),
    ("flags", "are not 0x0800: no encryption, no data descriptor, names in UTF-8"),
    ("method", "is not 0: members are stored, not compressed"),
    ("time", _FIXED),
    ("date", _FIXED),
    ("CRC-32", _DISAGREES),
    ("stored size", _DISAGREES),
    ("size", _DISAGREES),
    ("length of the name", _DISAGREES),
    ("length of the extra field", "is not what the size needs: ZIP64's alone, or none"),
)
CENTRAL_FIELDS: Final = _fields(
    CENTRAL,
    ("signature", "is missing: no header where one must begin"),
    ("version made by", _FIXED),
    ("version needed", _FIXED),
    ("flags", "are not 0x0800: no encryption, no data descriptor, names in UTF-8"),
    ("method", "is not 0: members are stored, not compressed"),
    ("time", _FIXED),
    ("date", _FIXED),
    ("CRC-32", _FIXED),
    ("stored size", "is not the size, or not in ZIP64 form where needed"),
    ("size", "is in ZIP64 form without need, or not in it where needed"),
    ("length of the name", _FIXED),
    ("length of the extra field", "is not what size and position need: ZIP64's alone, or none"),
    ("length of the comment", "is not 0: members have no comment"),
    ("disk number", _FIXED),
    ("internal attributes", _FIXED),
    ("external attributes", "are not a regular file's: no links, folders or special files"),
    ("position", "is in ZIP64 form without need, or not in it where needed"),
)
END_FIELDS: Final = _fields(
    END,
    ("signature", "is missing: the archive does not end in an end record"),
    ("disk number", _FIXED),
    ("disk of the central directory", _FIXED),
    ("number of members on this disk", "is not the number of members"),
    ("number of members", "is not the number of members"),
    ("size of the central directory", "is not its size"),
    ("position of the central directory", "is not its position"),
    ("length of the comment", "is not 0: an archive has no comment"),
)
END64_FIELDS: Final = _fields(
    END64,
    ("signature", "is missing: no ZIP64 end record where one must stand"),
    ("size of the record", _FIXED),
    ("version made by", _FIXED),
    ("version needed", _FIXED),
    ("disk number", _FIXED),
    ("disk of the central directory", _FIXED),
    ("number of members on this disk", "is not the number of members"),
    ("number of members", "is not the number of members"),
    ("size of the central directory", "is not its size"),
    ("position of the central directory", "is not its position"),
)
LOCATOR_FIELDS: Final = _fields(
    LOCATOR,
    ("signature", "is missing: no ZIP64 locator where one must stand"),
    ("disk of the ZIP64 end record", _FIXED),
    ("position of the ZIP64 end record", "is not its position"),
    ("number of disks", _FIXED),
)


def refuse_difference(
    where: str,
    fields: tuple[Field, ...],
    *,
    expected: bytes,
    observed: bytes,
    at: int,
    path: str,
) -> NoReturn:
    """Name the first field in which a header differs from the one that must stand there.

    Args:
        where: what kind of header, and of which member; begins the message.
        fields: the fixed part; behind it stand the name and the extra field.
        expected: the header as the writer makes it.
        observed: as many bytes of the archive.
        at: byte offset of the header in the archive.
        path: of the archive.

    Raises:
        ContainerError: always.
    """
    for field in fields:
        span = slice(field.offset, field.offset + field.size)
        if expected[span] != observed[span]:
            raise ContainerError(
                f"{where}: {field.name} {field.fault}",
                path=path,
                offset=at + field.offset,
                expected=_shown(expected[span], field),
                observed=_shown(observed[span], field),
            )
    start = next(
        number
        for number in range(len(expected))
        if expected[number : number + 1] != observed[number : number + 1]
    )
    raise ContainerError(
        f"{where}: name or ZIP64 extra field {_DISAGREES}",
        path=path,
        offset=at + start,
        expected=_bytes_shown(expected[start : start + 16]),
        observed=_bytes_shown(observed[start : start + 16]),
    )


def _shown(value: bytes, field: Field) -> str:
    if field.name == "signature" or len(value) < field.size:
        return _bytes_shown(value)
    return f"0x{int.from_bytes(value, 'little'):0{2 * field.size}x}"


def _bytes_shown(value: bytes) -> str:
    return f"bytes {value.hex(' ')}" if value else "nothing"
