"""Adding to a log: all of it or nothing, one writer at a time."""

from __future__ import annotations

import errno
import os
import stat
import threading
from pathlib import Path

import pytest

from evidpack.container import appending
from evidpack.container.appending import append, locked_log


class Failing:
    """A stream that writes so many bytes, then fails; cutting back may fail too."""

    def __init__(self, stream: object, room: int, *, cuts: bool = True) -> None:
        self._stream, self._room, self._cuts = stream, room, cuts

    def write(self, data: memoryview) -> int:
        if not self._room:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        taken = min(len(data), self._room)
        self._room -= taken
        return self._stream.write(data[:taken])

    def truncate(self, size: int) -> int:
        if not self._cuts:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        return self._stream.truncate(size)

    def __getattr__(self, name: str) -> object:
        return getattr(self._stream, name)


def test_a_line_stands_behind_what_was_there(tmp_path: Path) -> None:
    path = tmp_path / "log"
    path.write_bytes(b"one\n")
    with locked_log(path, create=False) as stream:
        assert stream.read() == b"one\n"
        append(stream, path, b"two\n")
    assert path.read_bytes() == b"one\ntwo\n"


def test_a_missing_log_is_made_only_where_that_is_wanted(tmp_path: Path) -> None:
    path = tmp_path / "log"
    with pytest.raises(FileNotFoundError), locked_log(path, create=False):
        pass
    with locked_log(path, create=True) as stream:
        append(stream, path, b"one\n")
    assert path.read_bytes() == b"one\n"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_a_write_that_takes_parts_writes_all(tmp_path: Path) -> None:
    path = tmp_path / "log"
    with locked_log(path, create=True) as stream:

        class Slow(Failing):
            def write(self, data: memoryview) -> int:
                return stream.write(data[:3])

        append(Slow(stream, 0), path, b"a longer line\n")
    assert path.read_bytes() == b"a longer line\n"


@pytest.mark.parametrize("room", [0, 1, 7])
def test_what_was_half_written_is_cut_off_again(tmp_path: Path, room: int) -> None:
    path = tmp_path / "log"
    path.write_bytes(b"one\n")
    with locked_log(path, create=False) as stream:
        with pytest.raises(OSError, match="No space left"):
            append(Failing(stream, room), path, b"another line\n")
        assert path.read_bytes() == b"one\n"
        append(stream, path, b"two\n")
    assert path.read_bytes() == b"one\ntwo\n"


def test_a_disk_that_cannot_even_cut_back_tells_the_first_error(tmp_path: Path) -> None:
    path = tmp_path / "log"
    with (
        locked_log(path, create=True) as stream,
        pytest.raises(OSError, match="No space left"),
    ):
        append(Failing(stream, 2, cuts=False), path, b"line\n")
    assert path.read_bytes() == b"li"


def test_a_line_that_cannot_be_synced_is_cut_off_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "log"
    path.write_bytes(b"one\n")

    def failing(_descriptor: int) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    monkeypatch.setattr(os, "fsync", failing)
    with (
        locked_log(path, create=False) as stream,
        pytest.raises(OSError, match="Input/output error"),
    ):
        append(stream, path, b"two\n")
    assert path.read_bytes() == b"one\n"


def test_the_folder_is_synced_where_the_log_is_new(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: list[Path] = []
    monkeypatch.setattr(appending, "sync_folder", synced.append)
    path = tmp_path / "log"
    for line in (b"one\n", b"two\n"):
        with locked_log(path, create=True) as stream:
            append(stream, path, line)
    assert synced == [tmp_path]


def test_one_writer_at_a_time(tmp_path: Path) -> None:
    path = tmp_path / "log"
    began, seen = threading.Event(), []

    def second() -> None:
        began.set()
        with locked_log(path, create=True) as stream:
            seen.append(stream.read())
            append(stream, path, b"second\n")

    with locked_log(path, create=True) as stream:
        thread = threading.Thread(target=second)
        thread.start()
        began.wait()
        thread.join(0.2)
        assert thread.is_alive()
        append(stream, path, b"first\n")
    thread.join()
    assert seen == [b"first\n"]
    assert path.read_bytes() == b"first\nsecond\n"
