"""Outside programs that tests compare with."""

from __future__ import annotations

import os
import shutil

import pytest


def require_program(name: str) -> str:
    """The path of a program; skips the test where it is not installed, fails it in CI."""
    found = shutil.which(name)
    if found is None:
        if os.environ.get("CI"):
            pytest.fail(f"{name} is not installed, and CI must have it")
        pytest.skip(f"{name} is not installed")
    return found
