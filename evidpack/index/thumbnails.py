"""Small pictures of stills, for finding one's way in the index."""

from __future__ import annotations

import struct
import warnings
from io import BytesIO
from typing import BinaryIO, Final

from PIL import Image, UnidentifiedImageError
from reportlab.pdfbase import pdfutils

from evidpack.errors import EvidpackError
from evidpack.limits import MAX_STILL_PIXELS, PICTURE_FORMATS

THUMBNAIL_PX: Final = (360, 240)
_QUALITY: Final = 62
# What Pillow's decoders raise on damaged files.
_DAMAGE: Final = (
    UnidentifiedImageError,
    Image.DecompressionBombError,
    Image.DecompressionBombWarning,
    OSError,
    ValueError,
    SyntaxError,
    EOFError,
    KeyError,
    IndexError,
    TypeError,
    OverflowError,
    struct.error,
)


class ThumbnailError(EvidpackError):
    """No picture can be made of these bytes."""


def make_thumbnail(stream: BinaryIO) -> bytes:
    """A JPEG of at most 360 × 240 px of the still in `stream` (original bytes, seekable).

    Decoded at reduced scale where the format allows (JPEG), as stored, without rotation; metadata
    is left behind.  Raises ThumbnailError where the bytes are no readable picture or exceed
    `MAX_STILL_PIXELS`.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            picture = _decoded(stream)
        picture.thumbnail(THUMBNAIL_PX, Image.Resampling.BOX)
        target = BytesIO()
        picture.info.clear()
        picture.save(target, "JPEG", quality=_QUALITY)
    except _DAMAGE as error:
        raise ThumbnailError(f"the still can't be shown: {error}") from error
    return target.getvalue()


def _decoded(stream: BinaryIO) -> Image.Image:
    with Image.open(stream, formats=PICTURE_FORMATS) as image:
        if image.width * image.height > MAX_STILL_PIXELS:
            raise ThumbnailError(
                "the still has too many pixels to be shown",
                expected=f"at most {MAX_STILL_PIXELS}",
                observed=str(image.width * image.height),
            )
        image.draft("RGB", THUMBNAIL_PX)
        image.load()
        # What is RGB already need not be copied.
        return image if image.mode == "RGB" else image.convert("RGB")


def jpeg_size(data: bytes) -> tuple[int, int] | None:
    """Width and height of a JPEG in pixels, or None where the bytes are none that a PDF can hold."""
    try:
        width, height, components, *_ = pdfutils.readJPEGInfo(BytesIO(data))
    except Exception:  # noqa: BLE001  the reader raises bare errors of many kinds
        return None
    if width < 1 or height < 1 or components not in {1, 3}:
        return None
    return width, height
