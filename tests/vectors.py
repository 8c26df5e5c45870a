"""Where outside test vectors lie."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

_ROOT = Path(__file__).parent.parent


def vectors(folder: str) -> Path:
    """A folder of the outside vectors. Skips where they are absent; fails in CI."""
    base = Path(os.environ.get("EVIDPACK_VECTORS", _ROOT.parent / "shared" / "vectors"))
    found = base / folder
    if not found.is_dir():
        reason = f"no outside vectors at {base}: set EVIDPACK_VECTORS to the folder that has them"
        if os.environ.get("EVIDPACK_VECTORS_REQUIRED") or os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    return found
