"""Does a picture's file end where the picture does? Told without decoding it.

A card that was pulled out leaves files whose header is whole and whose picture is not.  Bytes behind
the end are no fault: some cameras put more there.
"""

from __future__ import annotations

from typing import BinaryIO, Final

_JPEG_END: Final = b"\xff\xd9"  # EOI (ITU-T T.81, B.1.1.3); bytes of a scan never look like it
_SCAN: Final = 0xDA  # SOS
_PNG_END: Final = b"IEND\xaeB`\x82"  # type and checksum of the empty last chunk (PNG, 11.2.5)
_PART_BYTES: Final = 1024 * 1024
_MAX_SEGMENTS: Final = 100_000


def ends_whole(stream: BinaryIO, form: str, *, size: int) -> bool:
    """Whether the end of a JPEG, PNG or WebP of `size` bytes is there; true for other formats.

    `stream` is seekable and stands anywhere. Raises OSError for an error of the disk.
    """
    if form in {"JPEG", "MPO"}:
        return _last(stream, size, 2) == _JPEG_END or _jpeg_end_inside(stream)
    if form == "PNG":
        return _last(stream, size, 8) == _PNG_END or _png_end_inside(stream, size)
    if form == "WEBP":  # RIFF: the length of all that follows stands at byte 4
        return int.from_bytes(_at(stream, 4, 4), "little") + 8 <= size
    return True


def _last(stream: BinaryIO, size: int, count: int) -> bytes:
    return _at(stream, max(0, size - count), count)


def _at(stream: BinaryIO, place: int, count: int) -> bytes:
    stream.seek(place)
    return stream.read(count)


def _jpeg_end_inside(stream: BinaryIO) -> bool:
    """Whether an EOI follows the beginning of the first scan; those of thumbnails come before it."""
    place = 2
    for _ in range(_MAX_SEGMENTS):
        head = _at(stream, place, 4)
        if len(head) < 4 or head[0] != 0xFF:
            return False
        if head[1] == 0xFF:  # a fill byte before a marker (B.1.1.2)
            place += 1
            continue
        place += 2 + int.from_bytes(head[2:4])
        if head[1] == _SCAN:
            break
    stream.seek(place)
    before = b""
    while part := stream.read(_PART_BYTES):
        if _JPEG_END in before + part:
            return True
        before = part[-1:]
    return False


def _png_end_inside(stream: BinaryIO, size: int) -> bool:
    place = 8
    for _ in range(_MAX_SEGMENTS):
        head = _at(stream, place, 8)
        if len(head) < 8:
            return False
        place += 12 + int.from_bytes(head[:4])
        if head[4:] == b"IEND":
            return place <= size
    return False
