"""Does the small picture inside a still's EXIF show the still? A measure, without a judgement.

Both are brought to one grid of at most 80 × 80 grey pixels, and of each its own blurred copy is
taken away, so that only edges and details are left. The measure is the correlation of what is left
(Pearson): 1 where both have the same details, about 0 where they have nothing to do with each
other, whatever brightness and contrast either has. A thumbnail with bars, one cut to another shape
and one turned as EXIF says are tried as well; the best fit counts.

The measure is our own; tests/intake/test_embedded_thumbnails.py and docs/checks.md say on what it
was tried. All sums are of whole numbers, so that every machine with the same decoder gets the same.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator, Mapping
from io import BytesIO
from typing import Any, BinaryIO, Final

from evidpack.model.values import JsonValue

CORRELATION: Final = "thumbnail_correlation"
FAULT: Final = "thumbnail_fault"

_GRID_PX: Final = 80  # the longer edge of the grid
_MIN_EDGE_PX: Final = 16  # a smaller thumbnail says too little
_MAX_PIXELS: Final = 4_000_000  # a thumbnail larger than that is not one
_BLUR_PX: Final = 2
_MIN_DETAIL: Final = 2.0  # standard deviation of the details, grey levels: darker is noise
_SHAPE_SLACK: Final = 0.02
_DIGITS: Final = 2
_OFFSET, _LENGTH, _COMPRESSION, _JPEG = 0x0201, 0x0202, 0x0103, 6  # TIFF 6.0, Exif 2.32
_ORIENTATION: Final = 0x0112
_HEADER: Final = b"Exif\0\0"


def embedded_thumbnail(block: bytes, exif: Any) -> bytes | None:
    """The JPEG that lies in an EXIF block as its thumbnail, or None where there is none.

    `exif` is the block as Pillow has read it.
    """
    from PIL import ExifTags

    tags: Mapping[int, Any] = exif.get_ifd(ExifTags.IFD.IFD1)
    offset, length = tags.get(_OFFSET), tags.get(_LENGTH)
    if not isinstance(offset, int) or not isinstance(length, int) or length <= 0:
        return None
    if tags.get(_COMPRESSION, _JPEG) != _JPEG:
        return None
    return block.removeprefix(_HEADER)[offset : offset + length]


def thumbnail_values(stream: BinaryIO, thumbnail: bytes | None) -> dict[str, JsonValue]:
    """How far a JPEG and its thumbnail agree (−1 to 1, two decimals), or why that can't be told;
    nothing where there is no thumbnail. `stream` stands anywhere.
    """
    if thumbnail is None:
        return {}
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            small = _grey(BytesIO(thumbnail), orientation=1)[0]
    except Exception:  # noqa: BLE001 - whatever Pillow says of hostile bytes, it is no thumbnail
        return {FAULT: "the thumbnail can't be read"}
    if small is None or min(small.size) < _MIN_EDGE_PX:
        return {FAULT: "the thumbnail has too few or too many pixels to compare"}
    stream.seek(0)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            wholes = _grey(stream, orientation=None)
    except Exception as error:
        # An error of the disk has a number; one of Pillow's has none.
        if isinstance(error, OSError) and error.errno is not None:
            raise
        return {FAULT: "the picture is broken or ends too early"}
    found = [
        value
        for whole in wholes
        if whole is not None
        for value in _correlations(whole, small)
        if value is not None
    ]
    if not found:
        return {FAULT: "too little is to be seen in them to compare"}
    return {CORRELATION: round(max(found), _DIGITS) + 0.0}


def _grey(stream: BinaryIO, *, orientation: int | None) -> list[Any]:
    """The picture in grey, decoded as small as serves; where EXIF says that it is to be turned,
    turned as well."""
    from PIL import Image, ImageOps

    with Image.open(stream, formats=("JPEG",)) as image:
        if orientation is not None and image.width * image.height > _MAX_PIXELS:
            return [None]
        turned = (orientation or image.getexif().get(_ORIENTATION, 1)) != 1
        image.draft("L", (_GRID_PX, _GRID_PX))
        upright = ImageOps.exif_transpose(image).convert("L") if turned else None
        return [image.convert("L")] + ([upright] if upright is not None else [])


def _correlations(whole: Any, small: Any) -> Iterator[float | None]:
    """Of the two as they are, and where their shapes differ with either cut to the other's."""
    yield _correlation(whole, small)
    apart = (whole.width * small.height) / (whole.height * small.width)
    if abs(apart - 1) > _SHAPE_SLACK:
        yield _correlation(whole, _cut(small, whole.width / whole.height))
        yield _correlation(_cut(whole, small.width / small.height), small)


def _cut(image: Any, shape: float) -> Any:
    """The middle of a picture, as wide as `shape` times its height."""
    width, height = image.size
    wide = min(width, max(1, round(height * shape)))
    high = min(height, max(1, round(width / shape)))
    left, top = (width - wide) // 2, (height - high) // 2
    return image.crop((left, top, left + wide, top + high))


def _correlation(whole: Any, small: Any) -> float | None:
    longer = max(small.size)
    scale = min(_GRID_PX, longer) / longer
    size = (max(1, round(small.width * scale)), max(1, round(small.height * scale)))
    return _pearson(_details(whole, size), _details(small, size))


def _details(image: Any, size: tuple[int, int]) -> Any:
    """What a picture has beyond its own blurred copy, halved, about 128."""
    from PIL import Image, ImageChops, ImageFilter

    shrunk = image.resize(size, Image.Resampling.BOX)
    blurred = shrunk.filter(ImageFilter.BoxBlur(_BLUR_PX))
    return ImageChops.subtract(shrunk, blurred, 2, 128)


def _pearson(one: Any, other: Any) -> float | None:
    """The correlation of two grey pictures of one size, or None where either is all but even.

    Histograms hold all that is needed: 2·Σxy = Σx² + Σy² − Σ(x − y)².
    """
    from PIL import ImageChops

    count = one.width * one.height
    sum_x, squares_x = _sums(one)
    sum_y, squares_y = _sums(other)
    _, squares_apart = _sums(ImageChops.difference(one, other))
    spread_x = count * squares_x - sum_x * sum_x
    spread_y = count * squares_y - sum_y * sum_y
    if min(spread_x, spread_y) < (_MIN_DETAIL * count) ** 2:
        return None
    products = (squares_x + squares_y - squares_apart) // 2
    together = count * products - sum_x * sum_y
    return float(together / math.sqrt(spread_x * spread_y))


def _sums(image: Any) -> tuple[int, int]:
    levels = image.histogram()
    return (
        sum(level * count for level, count in enumerate(levels)),
        sum(level * level * count for level, count in enumerate(levels)),
    )
