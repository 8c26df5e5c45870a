"""Walks a folder without following anything; what is no plain file is refused by name."""

from __future__ import annotations

import contextlib
import os
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from evidpack.errors import IntakeError
from evidpack.limits import MAX_MEMBERS

_NAMED_AT_ONCE: Final = 20
_MAX_DEPTH: Final = 256  # a name this deep is made shorter; deeper ones are refused
_REPARSE_POINT: Final = 0x400  # FILE_ATTRIBUTE_REPARSE_POINT: junctions and the like on Windows


@dataclass(frozen=True, slots=True, kw_only=True)
class OnDisk:
    """A file as it was listed: relative to the folder, and where it lies."""

    relative: bytes
    disk_path: bytes
    status: os.stat_result


@dataclass(slots=True, kw_only=True)
class Listing:
    """Files and empty folders, sorted by the bytes of their names, and what is refused."""

    files: list[OnDisk]
    empty: list[bytes]
    refused: list[str]


def list_folder(root: Path) -> Listing:
    """Walks the folder without following anything. Raises IntakeError naming what is refused."""
    listing = Listing(files=[], empty=[], refused=[])
    with disk_errors(str(root)):
        if not stat.S_ISDIR(root.stat().st_mode):
            raise IntakeError("the export is not a folder", path=str(root))
    pending: list[tuple[bytes, bytes, int]] = [(os.fsencode(root), b"", 0)]
    while pending:
        disk_path, relative, depth = pending.pop()
        pending += _list_one(disk_path, relative, depth, listing)
        if len(listing.files) > MAX_MEMBERS:
            raise IntakeError(
                "too many files in the export",
                path=str(root),
                expected=f"at most {MAX_MEMBERS}",
                observed="more",
            )
    if listing.refused:
        named = "; ".join(sorted(listing.refused)[:_NAMED_AT_ONCE])
        raise IntakeError(
            f"the export holds {len(listing.refused)} link(s) or special file(s): {named}",
            path=str(root),
            hint="replace each link by a copy of what it points at, or take it out; say so in notes.toml",
        )
    listing.files.sort(key=lambda item: item.relative)
    listing.empty.sort()
    return listing


def _list_one(
    disk_path: bytes, relative: bytes, depth: int, listing: Listing
) -> list[tuple[bytes, bytes, int]]:
    shown = text_or_hex(relative or disk_path)
    if depth > _MAX_DEPTH:
        raise IntakeError("folders are nested too deep", path=shown)
    folders: list[tuple[bytes, bytes, int]] = []
    count = 0
    with disk_errors(shown), os.scandir(disk_path) as children:
        for child in children:
            count += 1
            name = relative + b"/" + child.name if relative else child.name
            with disk_errors(text_or_hex(name)):
                status = child.stat(follow_symlinks=False)
            if stat.S_ISLNK(status.st_mode) or _is_reparse_point(status):
                listing.refused.append(f"{text_or_hex(name)} (link)")
            elif stat.S_ISDIR(status.st_mode):
                folders.append((child.path, name, depth + 1))
            elif stat.S_ISREG(status.st_mode):
                listing.files.append(OnDisk(relative=name, disk_path=child.path, status=status))
            else:
                listing.refused.append(f"{text_or_hex(name)} (not a plain file)")
    if not count and relative:
        listing.empty.append(relative)
    return folders


def _is_reparse_point(status: os.stat_result) -> bool:
    return bool(getattr(status, "st_file_attributes", 0) & _REPARSE_POINT)


@contextlib.contextmanager
def disk_errors(path: str) -> Iterator[None]:
    """Turns an error of the disk into an IntakeError that names the file."""
    try:
        yield
    except OSError as error:
        raise disk_error(error, path) from error


def disk_error(error: OSError, path: str) -> IntakeError:
    """What is to be raised from an error of the disk."""
    return IntakeError(
        f"the file can't be read: {error.strerror or type(error).__name__}",
        path=path,
        hint="copy it again from the card or recorder; a card that fails should not be used on",
    )


def decoded(name: bytes) -> str | bytes:
    """A name as text, or as bytes where it is not UTF-8."""
    try:
        return name.decode("utf-8")
    except UnicodeDecodeError:
        return name


def text_or_hex(name: bytes) -> str:
    """A name as text, or ``hex:`` and its bytes where it is not UTF-8."""
    known = decoded(name)
    return known if isinstance(known, str) else f"hex:{known.hex()}"
