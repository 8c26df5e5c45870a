"""Writes TOML texts, and guesses that begin with ``confirm:``."""

from __future__ import annotations

import json

from evidpack.intake.toml_lines import GUESS


def quoted(text: str) -> str:
    """A TOML basic string (TOML 1.0.0; JSON's escapes are among its own)."""
    clean = text.encode("utf-8", "replace").decode("utf-8")
    return json.dumps(clean, ensure_ascii=False).replace("\x7f", "\\u007f")


def guess(text: str) -> str:
    """A guess for a person to confirm; one that is marked already stays as it is."""
    return quoted(text if text.startswith(GUESS) else f"{GUESS} {text}")
