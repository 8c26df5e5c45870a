from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from evidpack.container import naming
from evidpack.container.place import new_file
from evidpack.errors import SealError, UsageError


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def failing(number: int):
    """A stand-in for a system call that fails."""

    def call(*_args, **_kwargs):
        raise OSError(number, os.strerror(number))

    return call


FALLBACKS = {
    "hard link": {},
    "rename that refuses": {"link": failing(errno.EPERM)},
    "claimed name": {"link": failing(errno.ENOSYS), "renameat2": False},
}


def without(monkeypatch, missing: dict) -> None:
    """Take system calls away, as file systems without them do."""
    if "link" in missing:
        monkeypatch.setattr(os, "link", missing["link"])
    if "renameat2" in missing:
        monkeypatch.setattr(naming, "_renamed_without_replacing", lambda *_: False)


@pytest.mark.parametrize("way", FALLBACKS)
def test_publishes_in_every_way(tmp_path: Path, monkeypatch, way: str):
    without(monkeypatch, FALLBACKS[way])
    with new_file(tmp_path / "day.zip") as placement:
        placement.stream.write(b"whole")
        placement.publish()
    assert (tmp_path / "day.zip").read_bytes() == b"whole"
    assert names(tmp_path) == ["day.zip"]


@pytest.mark.parametrize("way", FALLBACKS)
def test_does_not_replace_what_came_meanwhile(tmp_path: Path, monkeypatch, way: str):
    without(monkeypatch, FALLBACKS[way])
    path = tmp_path / "day.zip"
    with new_file(path) as placement:
        placement.stream.write(b"ours")
        path.write_bytes(b"theirs")
        with pytest.raises(UsageError, match="nothing is ever replaced"):
            placement.publish()
    assert path.read_bytes() == b"theirs"
    assert names(tmp_path) == ["day.zip"]


def test_a_second_name_that_cannot_be_removed_is_no_failure(tmp_path: Path, monkeypatch):
    with new_file(tmp_path / "day.zip") as placement:
        placement.stream.write(b"whole")
        monkeypatch.setattr(Path, "unlink", failing(errno.EROFS))
        placement.publish()
        monkeypatch.undo()
    assert names(tmp_path) == ["day.zip"]


def test_does_not_rename_over_a_claim_that_somebody_filled(tmp_path: Path, monkeypatch):
    without(monkeypatch, FALLBACKS["claimed name"])
    path = tmp_path / "day.zip"
    real = os.close

    def fill(descriptor: int) -> None:
        real(descriptor)
        if path.exists():
            path.write_bytes(b"theirs")

    with new_file(path) as placement:
        monkeypatch.setattr(os, "close", fill)
        with pytest.raises(UsageError, match="nothing is ever replaced"):
            placement.publish()
        monkeypatch.setattr(os, "close", real)
    assert path.read_bytes() == b"theirs"


def test_takes_its_claim_back_when_the_rename_fails(tmp_path: Path, monkeypatch):
    without(monkeypatch, FALLBACKS["claimed name"])
    monkeypatch.setattr(Path, "replace", failing(errno.EIO))
    with new_file(tmp_path / "day.zip") as placement, pytest.raises(SealError):
        placement.publish()
    assert names(tmp_path) == []


def test_renameat2_where_the_library_lacks_it(tmp_path: Path, monkeypatch):
    monkeypatch.setattr(naming.ctypes, "CDLL", lambda *_args, **_kwargs: object())
    assert naming._renamed_without_replacing(tmp_path / "a", tmp_path / "b") is False


class _Rename:
    """A renameat2 that fails with one number."""

    def __init__(self, number: int) -> None:
        self.number = number

    def renameat2(self, *_args) -> int:
        naming.ctypes.set_errno(self.number)
        return -1


@pytest.mark.parametrize("number", [errno.EINVAL, errno.ENOSYS])
def test_renameat2_where_the_file_system_lacks_it(tmp_path: Path, monkeypatch, number: int):
    monkeypatch.setattr(naming.ctypes, "CDLL", lambda *_args, **_kwargs: _Rename(number))
    assert naming._renamed_without_replacing(tmp_path / "a", tmp_path / "b") is False


def test_renameat2_that_fails_otherwise(tmp_path: Path, monkeypatch):
    monkeypatch.setattr(os, "link", failing(errno.EPERM))
    monkeypatch.setattr(naming.ctypes, "CDLL", lambda *_args, **_kwargs: _Rename(errno.EROFS))
    with new_file(tmp_path / "day.zip") as placement, pytest.raises(SealError, match="Read-only"):
        placement.publish()
    assert names(tmp_path) == []
