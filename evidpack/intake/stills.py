"""Stills: EXIF and pixel size, read from the header without decoding the picture.

EXIF tags (Exif 2.32, from memory): DateTimeOriginal 0x9003, OffsetTimeOriginal 0x9011,
SubSecTimeOriginal 0x9291, BodySerialNumber 0xA431, ImageUniqueID 0xA420.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, BinaryIO, Final

from evidpack.errors import IntakeError
from evidpack.intake.dates import CellError, compile_time
from evidpack.intake.embedded_thumbnails import embedded_thumbnail
from evidpack.intake.text_lines import fault_of
from evidpack.intake.zones import load_zone, stamper
from evidpack.limits import MAX_STILL_BYTES, MAX_STILL_PIXELS, PICTURE_FORMATS
from evidpack.model.values import JsonValue

TAGS: Final[dict[int, str]] = {
    0x9003: "DateTimeOriginal",
    0x9011: "OffsetTimeOriginal",
    0x9291: "SubSecTimeOriginal",
    0xA431: "BodySerialNumber",
    0xA420: "ImageUniqueID",
}
_EXIF_IFD: Final = 0x8769
_WITH_THUMBNAIL: Final = ("JPEG", "MPO")
_MAX_TAG_CHARACTERS: Final = 1_024
_MAX_CHUNKS: Final = 200_000
_MAX_EXIF_BYTES: Final = 1024 * 1024
_UNKNOWN: Final = re.compile(r"[\s:0]*")  # blanks or zeros: the camera did not know (Exif)
_OFFSET: Final = re.compile(r"[+-]\d{2}:\d{2}", re.ASCII)


class StillError(ValueError):
    """A picture that can't be read; the message says why, without any name of the machine."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StillHeader:
    """What the header of a picture says. `tags`: EXIF texts by name; `thumbnail`: the JPEG that
    the EXIF of a JPEG holds, in its own bytes.
    """

    width_px: int
    height_px: int
    format: str
    tags: Mapping[str, str]
    thumbnail: bytes | None = None


def read_header(stream: BinaryIO, *, size: int) -> StillHeader:
    """Reads the header of a picture. Raises StillError for anything that is no usable picture."""
    from PIL import Image, UnidentifiedImageError

    if size > MAX_STILL_BYTES:
        raise StillError(f"the picture is larger than {MAX_STILL_BYTES} bytes")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(stream, formats=PICTURE_FORMATS) as image:
                width, height, form = image.width, image.height, image.format or ""
                _require_pixels(width, height)
                tags, thumbnail = _exif(image, stream)
                return StillHeader(
                    width_px=width, height_px=height, format=form, tags=tags, thumbnail=thumbnail
                )
    except (StillError, IntakeError, OSError) as error:
        # An error of the disk has a number; one of Pillow's has none.
        if not isinstance(error, OSError) or error.errno is not None:
            raise
        if isinstance(error, UnidentifiedImageError):
            raise StillError("not a picture in a format that can be read") from error
        raise StillError("the picture is broken or ends too early") from error
    except Image.DecompressionBombError as error:
        raise StillError("the picture has too many pixels to read") from error
    except Exception as error:
        raise StillError(f"the picture can't be read ({type(error).__name__})") from error


def _require_pixels(width: int, height: int) -> None:
    if width * height > MAX_STILL_PIXELS:
        raise StillError(f"the picture has {width} x {height} pixels, too many to read")


def _exif(image: Any, stream: BinaryIO) -> tuple[Mapping[str, str], bytes | None]:
    """The EXIF texts, and a JPEG's thumbnail. A broken EXIF block is no reason to call the picture
    broken: what can be read of it is what it says."""
    from PIL import Image

    found: dict[str, str] = {}
    try:
        block = image.info.get("exif")
        if block is None and image.format == "PNG":
            block = _png_exif(stream)
        if block:
            exif = Image.Exif()
            exif.load(block)
        elif image.format == "TIFF":
            exif = image.getexif()
        else:
            return found, None
        inner = exif.get_ifd(_EXIF_IFD)
        for tag, name in TAGS.items():
            text = _tag_text(inner.get(tag, exif.get(tag)))
            if text is not None:
                found[name] = text
        if image.format in _WITH_THUMBNAIL and block:
            return found, embedded_thumbnail(block, exif)
    except OSError as error:
        if error.errno is not None:
            raise
    except Exception:  # noqa: BLE001, S110 - see read_header
        pass
    return found, None


def _png_exif(stream: BinaryIO) -> bytes | None:
    """The eXIf chunk of a PNG (third edition, section 11.3.4.5), which may stand behind the
    picture's data, where Pillow finds it only by decoding."""
    stream.seek(8)
    for _ in range(_MAX_CHUNKS):
        head = stream.read(8)
        if len(head) < 8 or head[4:] == b"IEND":
            return None
        length = int.from_bytes(head[:4], "big")
        if head[4:] == b"eXIf":
            return stream.read(length) if length <= _MAX_EXIF_BYTES else None
        stream.seek(length + 4, 1)
    return None


def _tag_text(value: Any) -> str | None:
    if isinstance(value, bytes):
        value = value.decode("ascii", "replace")
    if isinstance(value, int) and not isinstance(value, bool):
        value = str(value)
    if not isinstance(value, str):
        return None
    text = value.split("\0")[0]
    if not text or len(text) > _MAX_TAG_CHARACTERS or fault_of(text) is not None:
        return None
    return text


def still_values(tags: Mapping[str, str], *, zone: str | None) -> dict[str, JsonValue]:
    """The values that EXIF texts give: pure, so that disclosed texts can be read again.

    `zone` is that of the clock declared for the still, used where EXIF has no offset.
    """
    values: dict[str, JsonValue] = {}
    try:
        time = _time(tags, zone)
    except CellError as error:
        values["time_fault"] = str(error)
    else:
        if time is not None:
            values["time"] = time
    for tag, name in (("BodySerialNumber", "camera_serial"), ("ImageUniqueID", "image_unique_id")):
        text = tags.get(tag, "").strip()
        if text:
            values[name] = text
    return values


def _time(tags: Mapping[str, str], zone: str | None) -> JsonValue:
    original = tags.get("DateTimeOriginal", "").strip()
    if _UNKNOWN.fullmatch(original):
        return None
    subseconds = tags.get("SubSecTimeOriginal", "").strip()
    declared, text = "%Y:%m:%d %H:%M:%S", original
    if subseconds.isascii() and subseconds.isdigit() and len(subseconds) <= 9:
        declared, text = f"{declared}.%f", f"{text}.{subseconds}"
    offset = tags.get("OffsetTimeOriginal", "").strip()
    if _OFFSET.fullmatch(offset):
        declared, text = f"{declared}%z", text + offset
    elif offset and not _UNKNOWN.fullmatch(offset):
        raise CellError(f"{offset[:60]!r} is not an offset")
    return compile_time(declared, stamper(load_zone(zone or "")))(text).to_json()
