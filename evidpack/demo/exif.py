"""An EXIF block, written by hand so that it holds a thumbnail and nothing by chance.

TIFF 6.0 structure, big-endian; tags of Exif 2.32 (numbers from memory, read back by Pillow in
the tests).
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

_ASCII: Final = 2
_SHORT: Final = 3
_LONG: Final = 4
_UNDEFINED: Final = 7
_SIZES: Final = {_ASCII: 1, _SHORT: 2, _LONG: 4, _UNDEFINED: 1}

_Tag = tuple[int, int, bytes]  # number, type, value bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Exif:
    """What a still says of itself. `taken` is aware; `size` and `thumbnail` in pixels and JPEG
    bytes.
    """

    make: str
    model: str
    serial: str
    taken: datetime
    unique_id: str
    size: tuple[int, int]
    thumbnail: bytes


def exif_block(exif: Exif) -> bytes:
    """The bytes of an APP1 segment after its length: ``Exif``, two zeros, TIFF."""
    inner = _photograph(exif)
    outer = [
        (0x010F, _ASCII, _text(exif.make)),
        (0x0110, _ASCII, _text(exif.model)),
        (0x0112, _SHORT, struct.pack(">H", 1)),  # Orientation: as stored
        (0x8769, _LONG, bytes(4)),  # offset of the Exif directory, filled in below
    ]
    first = 8
    second = first + len(_directory(outer, first, 0))
    third = second + len(_directory(inner, second, 0))
    outer[-1] = (0x8769, _LONG, struct.pack(">L", second))
    small = [
        (0x0103, _SHORT, struct.pack(">H", 6)),  # JPEG
        (0x0201, _LONG, bytes(4)),
        (0x0202, _LONG, struct.pack(">L", len(exif.thumbnail))),
    ]
    picture = third + len(_directory(small, third, 0))
    small[1] = (0x0201, _LONG, struct.pack(">L", picture))
    return b"".join(
        (
            b"Exif\0\0MM\0*",
            struct.pack(">L", first),
            _directory(outer, first, third),
            _directory(inner, second, 0),
            _directory(small, third, 0),
            exif.thumbnail,
        )
    )


def _photograph(exif: Exif) -> list[_Tag]:
    offset = exif.taken.strftime("%z")
    stamp = exif.taken.strftime("%Y:%m:%d %H:%M:%S")
    width, height = exif.size
    return [
        (0x9000, _UNDEFINED, b"0232"),
        (0x9003, _ASCII, _text(stamp)),  # DateTimeOriginal
        (0x9011, _ASCII, _text(f"{offset[:3]}:{offset[3:]}")),  # OffsetTimeOriginal
        (0x9291, _ASCII, _text(f"{exif.taken.microsecond // 10_000:02d}")),  # SubSecTimeOriginal
        (0xA002, _LONG, struct.pack(">L", width)),
        (0xA003, _LONG, struct.pack(">L", height)),
        (0xA420, _ASCII, _text(exif.unique_id)),  # ImageUniqueID
        (0xA431, _ASCII, _text(exif.serial)),  # BodySerialNumber
    ]


def _text(value: str) -> bytes:
    return value.encode("ascii") + b"\0"


def _directory(tags: Sequence[_Tag], at: int, following: int) -> bytes:
    """A directory that begins at offset `at`, with its longer values behind it."""
    behind = at + 2 + 12 * len(tags) + 4
    entries = [struct.pack(">H", len(tags))]
    values = b""
    for number, kind, value in tags:
        head = struct.pack(">HHL", number, kind, len(value) // _SIZES[kind])
        if len(value) <= 4:
            entries.append(head + value.ljust(4, b"\0"))
            continue
        entries.append(head + struct.pack(">L", behind + len(values)))
        values += value + b"\0" * (len(value) % 2)
    return b"".join(entries) + struct.pack(">L", following) + values
