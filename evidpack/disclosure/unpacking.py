"""Unpacking a pack that was verified into a new folder."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

from evidpack.container.archive import Archive
from evidpack.errors import UsageError
from evidpack.limits import COPY_BUFFER_BYTES


def unpack(archive: Archive, folder: Path) -> Path:
    """Write every member under `folder`, which must not exist; the pack's own folder.

    The names were found safe when the archive was read.  On any error or interrupt nothing stays.
    Raises UsageError where something stands there already.
    """
    try:
        folder.mkdir(mode=0o700)
    except FileExistsError:
        raise UsageError(
            "something stands under this name already, and nothing is ever replaced",
            path=str(folder),
            hint="Name a new folder.",
        ) from None
    try:
        top = folder / archive.top
        for member in archive.members:
            _write(archive, member.name, top / member.name)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    return top


def _write(archive: Archive, name: str, path: Path) -> None:
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    source = archive.open(archive.member(name))
    with os.fdopen(os.open(path, flags, 0o600), "wb") as target:
        while piece := source.read(COPY_BUFFER_BYTES):
            target.write(piece)
