"""The files of a sealed bundle, offered to intake as a folder would be."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import BinaryIO

from evidpack.container import layout
from evidpack.container.archive import Archive
from evidpack.errors import ContainerError, IntakeError
from evidpack.intake.source import FileEntry
from evidpack.verifying.ledger_walk import LedgerWalk


class SealedSource:
    """A FileSource over the payload of a bundle, for one origin (``export`` or ``office``).

    Sizes, times and original names are those of the file entries; folders that held nothing are
    those of the sealed records, since an archive has no empty folders.
    """

    def __init__(self, archive: Archive, walk: LedgerWalk, origin: str) -> None:
        self._archive = archive
        self._entries = tuple(
            FileEntry(
                path=sealed.path,
                size=sealed.size,
                modified=datetime.fromisoformat(sealed.modified),
                original_name=sealed.original_name,
            )
            for sealed in walk.files.values()
            if sealed.origin == origin
        )
        self._empty = tuple(walk.empty_folders) if origin == "export" else ()

    def entries(self) -> Iterable[FileEntry]:
        """Every file, in the order of its path."""
        return self._entries

    def empty_folders(self) -> Iterable[str]:
        """Folders that held nothing when the day was sealed."""
        return self._empty

    def open(self, path: str) -> BinaryIO:
        """The bytes of one file. Raises IntakeError where the bundle does not hold it."""
        try:
            return self._archive.open(self._archive.member(layout.DATA + path))
        except ContainerError as error:
            raise IntakeError("the bundle does not hold this file", path=path) from error
