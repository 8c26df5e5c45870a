"""Decoding a still to the RGB pixels that its tiles commit to (docs/format.md, Pixel commitment).

The picture is decoded as stored: no EXIF rotation, no colour management.  Which library decoded
it is recorded, since two JPEG decoders may differ in the last bit.
"""

from __future__ import annotations

import io
import warnings
from typing import Final

from PIL import Image, UnidentifiedImageError, features
from PIL import __version__ as pillow_version

from evidpack.errors import IntakeError
from evidpack.limits import MAX_STILL_PIXELS
from evidpack.proof.entries import PixelFacts, tile_key
from evidpack.proof.tiles import pixel_root

# The formats a still may have; others are sealed as files, without a pixel commitment.
STILL_FORMATS: Final = ("JPEG", "PNG")
_DECODER_FEATURE: Final = {"JPEG": "libjpeg_turbo", "PNG": "zlib"}


def decoder_name(image_format: str) -> str:
    """The decoder as it is recorded, for example ``Pillow 13.0.0, JPEG by libjpeg_turbo 3.1.2``."""
    feature = _DECODER_FEATURE[image_format]
    version = features.version(feature) or "of unknown version"
    return f"Pillow {pillow_version}, {image_format} by {feature} {version}"


def decode_rgb(data: bytes, *, path: str) -> tuple[bytes, int, int, str]:
    """The RGB rows of a still, its width and height in pixels, and its format.

    Raises IntakeError where the picture cannot be decoded whole or is larger than the limit.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of what stands beside the pixels, such as EXIF
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(data), formats=STILL_FORMATS) as image:
                width, height = image.size
                if width * height > MAX_STILL_PIXELS:
                    raise IntakeError(
                        "the picture has more pixels than the limit",
                        path=path,
                        expected=f"at most {MAX_STILL_PIXELS}",
                        observed=f"{width} × {height}",
                    )
                image_format = str(image.format)
                rgb = image if image.mode == "RGB" else image.convert("RGB")
                return rgb.tobytes(), width, height, image_format
    except IntakeError:
        raise
    except (
        OSError,
        ValueError,
        SyntaxError,
        MemoryError,
        UnidentifiedImageError,
        Image.DecompressionBombError,
        Image.DecompressionBombWarning,
    ) as error:
        raise IntakeError(
            "the picture cannot be decoded",
            path=path,
            expected="a whole JPEG or PNG",
            observed=f"{type(error).__name__}: {error}"[:200],
        ) from error


def pixel_facts(data: bytes, entry_key: bytes, *, path: str) -> PixelFacts:
    """The pixel commitment of one still. Raises IntakeError as `decode_rgb` does."""
    rgb, width_px, height_px, image_format = decode_rgb(data, path=path)
    return PixelFacts(
        root=pixel_root(rgb, width_px, height_px, tile_key(entry_key)),
        width_px=width_px,
        height_px=height_px,
        decoder=decoder_name(image_format),
    )
