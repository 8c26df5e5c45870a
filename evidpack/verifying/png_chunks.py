"""The one form of PNG that a redacted copy may have (PNG, W3C Recommendation 2003, §§5, 10, 11).

Signature, IHDR of an 8-bit RGB picture without interlace, IDAT chunks one after the other, IEND;
one zlib stream (RFC 1950) of exactly the rows, and no byte before, between or after.  What is
not there cannot hold a text, a thumbnail, or the picture as it was.
"""

from __future__ import annotations

import struct
import zlib
from typing import Final

from evidpack.errors import ProofError

SIGNATURE: Final = b"\x89PNG\r\n\x1a\n"
_HEADER_BYTES: Final = 13
_HEAD: Final = struct.Struct(">I4s")
_CRC: Final = struct.Struct(">I")
_IHDR: Final = struct.Struct(">IIBBBBB")
_RGB_8_BIT: Final = (8, 2, 0, 0, 0)  # depth, colour type, compression, filter, interlace
_PIXEL_BYTES: Final = 3
_PIECE_BYTES: Final = 1 << 20
_HIGHEST_FILTER: Final = 4


def require_plain_png(png: bytes, *, path: str, width_px: int, height_px: int) -> None:
    """Refuse anything but that form. Raises ProofError with path and offset."""
    if not png.startswith(SIGNATURE):
        raise _wrong(
            "the redacted copy is no PNG", path, 0, "the PNG signature", png[:8].hex() or "nothing"
        )
    at = len(SIGNATURE)
    kind, data, at = _chunk(png, at, path)
    if kind != b"IHDR" or len(data) != _HEADER_BYTES:
        raise _wrong("the PNG does not begin with its header", path, at, "IHDR", _name(kind))
    expected = (width_px, height_px, *_RGB_8_BIT)
    if _IHDR.unpack(data) != expected:
        raise _wrong(
            "the PNG is of another size or form than the still sealed",
            path,
            len(SIGNATURE),
            f"{width_px} × {height_px}, 8-bit RGB, not interlaced",
            "{} × {}, depth {}, colour type {}, methods {} {} {}".format(*_IHDR.unpack(data)),
        )
    _require_pixels(png, at, path, (width_px * _PIXEL_BYTES + 1, height_px))


def _require_pixels(png: bytes, at: int, path: str, rows: tuple[int, int]) -> None:
    """IDAT chunks to IEND, and the end of the file behind it."""
    stream = _Rows(*rows, path=path)
    while True:
        begins = at
        kind, data, at = _chunk(png, at, path)
        if kind == b"IEND":
            break
        if kind != b"IDAT":
            raise _wrong(
                f"the PNG holds a chunk {_name(kind)}, and a redacted copy holds pixels alone",
                path,
                begins,
                "IHDR, IDAT, IEND",
                _name(kind),
            )
        stream.take(data, begins)
    if data or at != len(png):
        raise _wrong(
            "the PNG goes on after its end", path, begins, "nothing", f"{len(png) - at} bytes"
        )
    stream.finish(begins)


class _Rows:
    """Inflates the pixels piece by piece and counts them; keeps none."""

    def __init__(self, row_bytes: int, rows: int, *, path: str) -> None:
        self._inflater = zlib.decompressobj()
        self._row_bytes = row_bytes
        self._left = row_bytes * rows
        self._at = 0
        self._path = path

    def take(self, data: bytes, offset: int) -> None:
        """One IDAT chunk's data."""
        if not data:
            raise _wrong("the PNG has an empty IDAT", self._path, offset, "pixels", "no byte")
        while data:
            if self._inflater.eof:
                raise self._too_much(offset)
            try:
                piece = self._inflater.decompress(data, _PIECE_BYTES)
            except zlib.error as error:
                raise _wrong(
                    "the pixels of the PNG cannot be inflated",
                    self._path,
                    offset,
                    "a zlib stream",
                    str(error)[:100],
                ) from None
            self._count(piece, offset)
            data = self._inflater.unconsumed_tail
        if self._inflater.unused_data:
            raise self._too_much(offset)

    def _count(self, piece: bytes, offset: int) -> None:
        if len(piece) > self._left:
            raise self._too_much(offset)
        self._left -= len(piece)
        first = -self._at % self._row_bytes
        if any(kind > _HIGHEST_FILTER for kind in piece[first :: self._row_bytes]):
            raise _wrong("a row of the PNG has an unknown filter", self._path, offset, "0 to 4",
                         "another")  # fmt: skip
        self._at += len(piece)

    def _too_much(self, offset: int) -> ProofError:
        return _wrong(
            "the PNG holds more than the rows of its picture", self._path, offset, "the rows",
            "more bytes",
        )  # fmt: skip

    def finish(self, offset: int) -> None:
        """Nothing may be missing. What zlib still holds back is asked for first."""
        self._count(self._inflater.flush(), offset)
        if self._left or not self._inflater.eof:
            raise _wrong(
                "the PNG holds less than the rows of its picture",
                self._path,
                offset,
                "the rows and the end of the zlib stream",
                f"{self._left} bytes fewer" if self._left else "no end of the stream",
            )


def _chunk(png: bytes, at: int, path: str) -> tuple[bytes, bytes, int]:
    """Type and data of the chunk at an offset, and the offset behind it."""
    if len(png) - at < _HEAD.size + _CRC.size:
        raise _wrong("the PNG ends too early", path, at, "a chunk", f"{len(png) - at} bytes")
    length, kind = _HEAD.unpack_from(png, at)
    begins, ends = at + _HEAD.size, at + _HEAD.size + length
    if ends + _CRC.size > len(png):
        raise _wrong(
            f"the chunk {_name(kind)} is longer than the file", path, at,
            f"at most {len(png) - begins - _CRC.size} bytes", f"{length} bytes",
        )  # fmt: skip
    data = png[begins:ends]
    (crc,) = _CRC.unpack_from(png, ends)
    computed = zlib.crc32(data, zlib.crc32(kind))
    if crc != computed:
        raise _wrong(
            f"the chunk {_name(kind)} is damaged", path, at, f"CRC {computed:08x}", f"{crc:08x}"
        )
    return kind, data, ends + _CRC.size


def _name(kind: bytes) -> str:
    return ascii(kind)[2:-1]


def _wrong(message: str, path: str, offset: int, expected: str, observed: str) -> ProofError:
    return ProofError(message, path=path, offset=offset, expected=expected, observed=observed)
