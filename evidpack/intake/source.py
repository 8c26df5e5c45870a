"""Where files come from: a folder on a disk, or anything else that offers the same three calls.

Intake reads through a `FileSource` only, so that the files of a sealed bundle are taken in exactly
as the folder was.  A folder is never written to; links and special files in it are refused by
name, since what they point at is not part of the export.
"""

from __future__ import annotations

import contextlib
import io
import os
import stat
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import BinaryIO, Final, Protocol, cast

from evidpack.errors import ExportChangedError, IntakeError
from evidpack.limits import MAX_MEMBERS

SafeName = Callable[[str | bytes, set[str]], str]

_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_NAMED_AT_ONCE: Final = 20
_MAX_DEPTH: Final = 256  # a name this deep is made shorter; deeper ones are refused
_REPARSE_POINT: Final = 0x400  # FILE_ATTRIBUTE_REPARSE_POINT: junctions and the like on Windows


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
        listing = _list_folder(root)
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
        found = self._files.get(path)
        if found is None:
            raise IntakeError("no such file in the folder", path=path)
        with disk_errors(path):
            flags = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
            number = os.open(found.disk_path, flags)
            try:
                _require_same(found, os.fstat(number))
                return os.fdopen(number, "rb")
            except BaseException:
                os.close(number)
                raise

    def require_unchanged(self) -> None:
        """Raises ExportChangedError where a file was added, removed or changed since the listing."""
        now = {item.disk_path: item for item in _list_folder(self._root).files}
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


@contextlib.contextmanager
def disk_errors(path: str) -> Iterator[None]:
    """Turns an error of the disk into an IntakeError that names the file."""
    try:
        yield
    except OSError as error:
        raise IntakeError(
            f"the file can't be read: {error.strerror or type(error).__name__}",
            path=path,
            hint="copy it again from the card or recorder; a card that fails should not be used on",
        ) from error


def _require_same(found: _Found, status: os.stat_result) -> None:
    observed = f"{status.st_size} bytes, changed at {moment(status.st_mtime_ns)}"
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
            observed=observed,
            hint=_CHANGED_HINT,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _OnDisk:
    relative: bytes
    disk_path: bytes
    status: os.stat_result


@dataclass(slots=True, kw_only=True)
class _Listing:
    files: list[_OnDisk]
    empty: list[bytes]
    refused: list[str]


def _list_folder(root: Path) -> _Listing:
    """Walks the folder without following anything. Raises IntakeError naming what is refused."""
    listing = _Listing(files=[], empty=[], refused=[])
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
    disk_path: bytes, relative: bytes, depth: int, listing: _Listing
) -> list[tuple[bytes, bytes, int]]:
    shown = _text_or_hex(relative) or "."
    if depth > _MAX_DEPTH:
        raise IntakeError("folders are nested too deep", path=shown)
    folders: list[tuple[bytes, bytes, int]] = []
    count = 0
    with disk_errors(shown), os.scandir(disk_path) as children:
        for child in children:
            count += 1
            name = relative + b"/" + child.name if relative else child.name
            status = child.stat(follow_symlinks=False)
            if stat.S_ISLNK(status.st_mode) or _is_reparse_point(status):
                listing.refused.append(f"{_text_or_hex(name)} (link)")
            elif stat.S_ISDIR(status.st_mode):
                folders.append((child.path, name, depth + 1))
            elif stat.S_ISREG(status.st_mode):
                listing.files.append(_OnDisk(relative=name, disk_path=child.path, status=status))
            else:
                listing.refused.append(f"{_text_or_hex(name)} (not a plain file)")
    if not count and relative:
        listing.empty.append(relative)
    return folders


def _is_reparse_point(status: os.stat_result) -> bool:
    return bool(getattr(status, "st_file_attributes", 0) & _REPARSE_POINT)


def _named(
    listing: _Listing, *, prefix: str, safe_name: SafeName | None
) -> tuple[dict[str, _Found], tuple[str, ...]]:
    """Gives every file its path. A name that may be kept is kept, even where one made safe
    would have come first and taken it.
    """
    taken: set[str] = set()
    paths: dict[bytes, str] = {}
    later: list[bytes] = []
    names = [item.relative for item in listing.files] + listing.empty
    for name in names:
        original = _decoded(name)
        safe = original if safe_name is None else safe_name(original, set())
        if isinstance(safe, bytes):
            raise IntakeError(
                "the name of a file is not UTF-8",
                path=_text_or_hex(name),
                hint="rename a copy of it",
            )
        if safe != original:
            later.append(name)
        elif safe_name is None:
            paths[name] = safe
        else:
            paths[name] = safe_name(original, taken)
    for name in later:
        paths[name] = cast("SafeName", safe_name)(_decoded(name), taken)
    found = [_found(item, prefix + paths[item.relative], prefix) for item in listing.files]
    found.sort(key=lambda one: one.entry.path)
    empty = tuple(sorted(prefix + paths[name] for name in listing.empty))
    return {one.entry.path: one for one in found}, empty


def _found(item: _OnDisk, path: str, prefix: str) -> _Found:
    original = _text_or_hex(item.relative)
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


def _decoded(name: bytes) -> str | bytes:
    try:
        return name.decode("utf-8")
    except UnicodeDecodeError:
        return name


def _text_or_hex(name: bytes) -> str:
    decoded = _decoded(name)
    return decoded if isinstance(decoded, str) else f"hex:{decoded.hex()}"


def as_stream(data: bytes) -> BinaryIO:
    """Bytes as a readable, seekable stream."""
    return io.BytesIO(data)
