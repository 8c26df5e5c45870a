"""The versions that a seal records and a re-check compares.

Under the same versions a re-check must give the same result; under others a difference is
listed and does not touch the verdict on integrity (docs/format.md, step 8).
"""

from __future__ import annotations

from importlib.metadata import version

from evidpack import __version__
from evidpack.checks.registry import CHECKS
from evidpack.intake.pixels import decoder_name


def current_versions() -> dict[str, str]:
    """What would be recorded in a seal statement made now."""
    return {
        "evidpack": __version__,
        "checks": " ".join(f"{check.number}:{check.version}" for check in CHECKS),
        "tzdata": version("tzdata"),
        "pillow": version("pillow"),
        "jpeg_decoder": decoder_name("JPEG"),
        "png_decoder": decoder_name("PNG"),
        "reportlab": version("reportlab"),
    }
