"""Small disks of their own for tests: a file system in a file, or in memory."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest


def make_image(path: Path, *, size_bytes: int) -> None:
    """A file that holds an empty ext4; skips where this machine cannot make one."""
    program, *options = ("mkfs.ext4", "-q", "-F", "-J", "size=1", "-E", "lazy_itable_init=0")
    if shutil.which(program) is None:
        pytest.skip(f"{program} is not installed")
    with path.open("wb") as stream:
        stream.truncate(size_bytes)
    subprocess.run([program, *options, str(path)], check=True, capture_output=True)


@contextmanager
def mounted(source: str | Path, folder: Path, *options: str) -> Iterator[Path]:
    """A file system mounted at a new folder; skips where this process may not mount."""
    folder.mkdir()
    done = subprocess.run(
        ["mount", *options, str(source), str(folder)], capture_output=True, text=True, check=False
    )
    if done.returncode:
        pytest.skip(f"nothing can be mounted here: {done.stderr.strip()}")
    try:
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True, capture_output=True)


@contextmanager
def in_memory(folder: Path, *, size_bytes: int) -> Iterator[Path]:
    """A disk of so many bytes in memory."""
    with mounted("tmpfs", folder, "-t", "tmpfs", "-o", f"size={size_bytes}") as found:
        yield found


@contextmanager
def image(path: Path, folder: Path) -> Iterator[Path]:
    """The file system in a file."""
    with mounted(path, folder, "-o", "loop") as found:
        yield found
