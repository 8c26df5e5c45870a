"""Where files come from: a folder on a disk, or anything else that offers the same three calls.

Intake reads through a `FileSource` only, so that the files of a sealed bundle are taken in exactly
as the folder was.  A folder is never written to; links and special files in it are refused by
name, since what they point at is not part of the export.
"""

from __future__ import annotations

import io
import os
import stat
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import BinaryIO, Final, Protocol, cast

from evidpack.errors import ExportChangedError, IntakeError
from evidpack.intake.folder_listing import (
    Listing,
    OnDisk,
    decoded,
    disk_error,
    list_folder,
    text_or_hex,
)

SafeName = Callable[[str | bytes, set[str]], str]

_OPEN_FLAGS: Final = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class FileEntry:
    """One file. `path` is relative to the bundle's data folder (``export/…``, ``office/…``).

    `original_name` is the name that it had where that could not be kept, as ``hex:`` and bytes
    where it is not UTF-8.  `shown` is the path to print in errors; it never enters a record.
    """

    path: str
    size: int
    modified: datetime
    original_name: str | None = None
    shown: str | None = None

    @property
    def place(self) -> str:
        """The path as a person knows it."""
        return self.shown or self.path


class FileSource(Protocol):
    """Files to take in. The same files give the same records, wherever they lie."""

    def entries(self) -> Iterable[FileEntry]:
        """Every file, in the order of its path."""

    def empty_folders(self) -> Iterable[str]:
        """Folders that hold nothing, as paths relative to the bundle's data folder, in order."""

    def open(self, path: str) -> BinaryIO:
        """The bytes of one file by `FileEntry.path`. Raises IntakeError where it can't be read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    """A file of the folder as it was when it was listed."""

    entry: FileEntry
    disk_path: bytes
    size: int
    modified_ns: int
    identity: tuple[int, int]


class FolderSource:
    """The files of a folder, listed once when made.

    `safe_name` gives a name that a bundle may hold for one that it may not; without it a name
    that is not UTF-8 is an error.  Raises IntakeError for a link, a special file or a folder that
    can't be read.
    """

    def __init__(
        self, root: Path, *, safe_name: SafeName | None = None, prefix: str = "export/"
    ) -> None:
        self._root = root
        self._prefix = prefix
        listing = list_folder(root)
        self._files, self._empty = _named(listing, prefix=prefix, safe_name=safe_name)

    def entries(self) -> tuple[FileEntry, ...]:
        """Every file, in the order of its path."""
        return tuple(found.entry for found in self._files.values())

    def empty_folders(self) -> tuple[str, ...]:
        """Folders that hold nothing."""
        return self._empty

    def open(self, path: str) -> BinaryIO:
        """Opens a file that is still the one that was listed.

        Raises ExportChangedError where it is another or has changed, IntakeError where it can't
        be read.
        """
        return io.BufferedReader(self.open_unbuffered(path))

    def open_unbuffered(self, path: str) -> io.FileIO:
        """Opens a file as `open` does, to be read in large pieces."""
        found = self._files.get(path)
        if found is None:
            raise IntakeError("no such file in the folder", path=path)
        try:
            number = os.open(found.disk_path, _OPEN_FLAGS)
            try:
                _require_same(found, os.fstat(number))
                return io.FileIO(number, "rb")
            except BaseException:
                os.close(number)
                raise
        except OSError as error:
            raise disk_error(error, path) from error

    def require_unchanged(self) -> None:
        """Raises ExportChangedError where a file was added, removed or changed since the listing."""
        now = {item.disk_path: item for item in list_folder(self._root).files}
        before = {found.disk_path: found for found in self._files.values()}
        for disk_path, found in before.items():
            if disk_path not in now:
                raise ExportChangedError(
                    "a file of the export is gone", path=found.entry.path, hint=_CHANGED_HINT
                )
            _require_same(found, now[disk_path].status)
        for disk_path in now.keys() - before.keys():
            raise ExportChangedError(
                "a file has come into the export",
                path=os.fsdecode(disk_path).encode("utf-8", "backslashreplace").decode(),
                hint=_CHANGED_HINT,
            )


_CHANGED_HINT: Final = (
    "let nothing write to the export, copy the card again if need be, and start over"
)


def _require_same(found: _Found, status: os.stat_result) -> None:
    same = (
        stat.S_ISREG(status.st_mode)
        and status.st_size == found.size
        and status.st_mtime_ns == found.modified_ns
        # A listing on Windows gives no number of the file.
        and (not found.identity[1] or (status.st_dev, status.st_ino) == found.identity)
    )
    if not same:
        raise ExportChangedError(
            "a file of the export changed while it was being read",
            path=found.entry.path,
            expected=f"{found.size} bytes, changed at {moment(found.modified_ns)}",
            observed=f"{status.st_size} bytes, changed at {moment(status.st_mtime_ns)}",
            hint=_CHANGED_HINT,
        )


def _named(
    listing: Listing, *, prefix: str, safe_name: SafeName | None
) -> tuple[dict[str, _Found], tuple[str, ...]]:
    """Gives every file its path. A name that may be kept is kept, even where one made safe
    would have come first and taken it.
    """
    taken: set[str] = set()
    paths: dict[bytes, str] = {}
    later: list[bytes] = []
    names = [item.relative for item in listing.files] + listing.empty
    for name in names:
        original = decoded(name)
        safe = original if safe_name is None else safe_name(original, set())
        if isinstance(safe, bytes):
            raise IntakeError(
                "the name of a file is not UTF-8",
                path=text_or_hex(name),
                hint="rename a copy of it",
            )
        if safe != original:
            later.append(name)
        elif safe_name is None:
            paths[name] = safe
        else:
            paths[name] = safe_name(original, taken)
    for name in later:
        paths[name] = cast("SafeName", safe_name)(decoded(name), taken)
    found = [_found(item, prefix + paths[item.relative], prefix) for item in listing.files]
    found.sort(key=lambda one: one.entry.path)
    empty = tuple(sorted(prefix + paths[name] for name in listing.empty))
    return {one.entry.path: one for one in found}, empty


def _found(item: OnDisk, path: str, prefix: str) -> _Found:
    original = text_or_hex(item.relative)
    entry = FileEntry(
        path=path,
        size=item.status.st_size,
        modified=moment(item.status.st_mtime_ns),
        original_name=None if prefix + original == path else original,
    )
    return _Found(
        entry=entry,
        disk_path=item.disk_path,
        size=item.status.st_size,
        modified_ns=item.status.st_mtime_ns,
        identity=(item.status.st_dev, item.status.st_ino),
    )


def moment(nanoseconds: int) -> datetime:
    """A time of the file system as UTC, to the microsecond (rounded down)."""
    return _EPOCH + timedelta(microseconds=nanoseconds // 1000)


def as_stream(data: bytes) -> BinaryIO:
    """Bytes as a readable, seekable stream."""
    return io.BytesIO(data)
