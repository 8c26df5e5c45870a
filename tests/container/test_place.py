from __future__ import annotations

import errno
import os
import signal
import stat
import subprocess
import sys
import textwrap
import threading
from pathlib import Path

import pytest

from evidpack.container import place
from evidpack.container.place import new_file, require_space
from evidpack.errors import SealError, UnsyncedError, UsageError


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def failing(number: int):
    """A stand-in for a system call that fails."""

    def call(*_args, **_kwargs):
        raise OSError(number, os.strerror(number))

    return call


# Under its name whole, or not at all


def test_nothing_stands_under_the_name_until_published(tmp_path: Path):
    path = tmp_path / "day.zip"
    with new_file(path) as placement:
        placement.stream.write(b"whole")
        assert not path.exists()
        assert placement.temporary.parent == tmp_path
        placement.publish()
        assert path.read_bytes() == b"whole"
    assert names(tmp_path) == ["day.zip"]


def test_only_the_owner_may_read(tmp_path: Path):
    before = os.umask(0)
    try:
        with new_file(tmp_path / "day.zip") as placement:
            assert stat.S_IMODE(placement.temporary.stat().st_mode) == 0o600
            placement.publish()
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "day.zip").stat().st_mode) == 0o600


def test_what_was_written_can_be_read_back_before_it_is_published(tmp_path: Path):
    with new_file(tmp_path / "day.zip") as placement:
        placement.stream.write(b"whole")
        placement.stream.seek(0)
        assert placement.stream.read() == b"whole"


@pytest.mark.parametrize("error", [ValueError, KeyboardInterrupt, SystemExit])
def test_removes_the_temporary_file_on_any_error_or_interrupt(tmp_path: Path, error):
    def interrupted() -> None:
        with new_file(tmp_path / "day.zip") as placement:
            placement.stream.write(b"half")
            raise error

    with pytest.raises(error):
        interrupted()
    assert names(tmp_path) == []


def test_removes_the_temporary_file_when_not_published(tmp_path: Path):
    with new_file(tmp_path / "day.zip") as placement:
        placement.stream.write(b"whole")
    assert names(tmp_path) == []


def test_syncs_the_bytes_before_the_name_and_the_folder_after_it(tmp_path: Path, monkeypatch):
    path = tmp_path / "day.zip"
    seen: list[tuple[bool, bool]] = []
    real = os.fsync

    def watch(descriptor: int) -> None:
        seen.append((stat.S_ISDIR(os.fstat(descriptor).st_mode), path.exists()))
        real(descriptor)

    monkeypatch.setattr(os, "fsync", watch)
    with new_file(path) as placement:
        placement.publish()
    assert seen == [(False, False), (True, True)]


def test_syncs_in_the_background_what_is_being_verified(tmp_path: Path, monkeypatch):
    synced: list[str] = []
    real = os.fsync

    def watch(descriptor: int) -> None:
        synced.append(threading.current_thread().name)
        real(descriptor)

    monkeypatch.setattr(os, "fsync", watch)
    with new_file(tmp_path / "day.zip") as placement:
        placement.stream.write(b"whole")
        placement.begin_sync()
        placement.publish()
    assert sorted(synced) == ["MainThread", "MainThread", "fsync"]
    assert (tmp_path / "day.zip").read_bytes() == b"whole"


def test_does_not_lose_an_error_of_the_background_sync(tmp_path: Path, monkeypatch):
    # fsync(2): the kernel tells a failed write-back once; the next call would succeed.
    real = os.fsync

    def fail_once(descriptor: int) -> None:
        if threading.current_thread().name == "fsync":
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        real(descriptor)

    monkeypatch.setattr(os, "fsync", fail_once)
    with new_file(tmp_path / "day.zip") as placement:
        placement.begin_sync()
        with pytest.raises(SealError, match="Input/output error"):
            placement.publish()
    assert names(tmp_path) == []


def test_need_not_wait_for_the_background_sync_when_given_up(tmp_path: Path, monkeypatch):
    release = threading.Event()
    monkeypatch.setattr(os, "fsync", lambda _descriptor: release.wait(10))
    with new_file(tmp_path / "day.zip") as placement:
        placement.begin_sync()
    assert names(tmp_path) == []
    assert not release.is_set()
    release.set()


# Nothing is ever replaced


@pytest.mark.parametrize("kind", ["file", "folder", "dangling link"])
def test_refuses_to_begin_where_something_stands(tmp_path: Path, kind: str):
    path = tmp_path / "day.zip"
    if kind == "file":
        path.write_bytes(b"other")
    elif kind == "folder":
        path.mkdir()
    else:
        path.symlink_to(tmp_path / "nowhere")
    with pytest.raises(UsageError, match="something stands under this name already") as caught:
        new_file(path)
    assert caught.value.path == str(path)
    assert names(tmp_path) == ["day.zip"]


# Failing disks


@pytest.mark.parametrize(
    ("call", "number"), [("fsync", errno.EIO), ("fsync", errno.ENOSPC), ("link", errno.EIO)]
)
def test_leaves_nothing_when_publishing_fails(tmp_path: Path, monkeypatch, call, number):
    monkeypatch.setattr(os, call, failing(number))
    with (
        new_file(tmp_path / "day.zip") as placement,
        pytest.raises(SealError, match="cannot be put under its name") as caught,
    ):
        placement.publish()
    assert os.strerror(number) in caught.value.message
    assert "nothing stands under the name" in caught.value.hint
    assert names(tmp_path) == []


@pytest.mark.parametrize(("number", "kept"), [(errno.EIO, False), (errno.EINVAL, True)])
def test_a_folder_that_cannot_be_synced(tmp_path: Path, monkeypatch, number: int, kept: bool):
    # EINVAL: the file system knows no sync of folders (fsync(2)), which is no fault.
    real = os.fsync

    def sync(descriptor: int) -> None:
        if stat.S_ISDIR(os.fstat(descriptor).st_mode):
            raise OSError(number, os.strerror(number))
        real(descriptor)

    monkeypatch.setattr(os, "fsync", sync)
    with new_file(tmp_path / "day.zip") as placement:
        if kept:
            placement.publish()
        else:
            with pytest.raises(SealError):
                placement.publish()
    assert names(tmp_path) == (["day.zip"] if kept else [])


def test_says_so_when_the_folder_is_missing(tmp_path: Path):
    with pytest.raises(UsageError, match="no file can be made in this folder") as caught:
        new_file(tmp_path / "missing" / "day.zip")
    assert caught.value.path == str(tmp_path / "missing")


def test_never_opens_a_file_that_is_there_already(tmp_path: Path):
    (tmp_path / ".day.zip.fixed.part").write_bytes(b"somebody's")
    with pytest.raises(UsageError, match="File exists"):
        new_file(tmp_path / "day.zip", random_name=lambda: "fixed")
    assert names(tmp_path) == [".day.zip.fixed.part"]


# What a killed process leaves


KILLED = """
import os, signal, sys
from pathlib import Path
from evidpack.container.place import new_file
with new_file(Path(sys.argv[1])) as placement:
    placement.stream.write(b"half")
    print("ready", flush=True)
    sys.stdin.readline()
"""


def half_done(path: Path) -> subprocess.Popen:
    process = subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(KILLED), str(path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        cwd=Path(__file__).parents[2],
    )
    assert process.stdout.readline() == b"ready\n"
    return process


def test_a_kill_leaves_nothing_under_the_name_and_the_next_attempt_clears_the_rest(tmp_path: Path):
    path = tmp_path / "day.zip"
    with half_done(path) as process:
        process.send_signal(signal.SIGKILL)
    left = names(tmp_path)
    assert [name.endswith(".part") for name in left] == [True]
    with new_file(path) as placement:
        assert names(tmp_path) == [placement.temporary.name]
        assert placement.temporary.name not in left
        placement.publish()
    assert names(tmp_path) == ["day.zip"]


def test_does_not_clear_the_file_of_a_process_that_runs(tmp_path: Path):
    path = tmp_path / "day.zip"
    with half_done(path) as process:
        (other,) = names(tmp_path)
        with new_file(path) as placement:
            assert names(tmp_path) == sorted([other, placement.temporary.name])
            placement.publish()
        process.communicate(b"\n")
    assert process.returncode == 0
    assert names(tmp_path) == ["day.zip"]


def test_clears_no_file_of_another_name(tmp_path: Path):
    others = [".day2.zip.0123456789abcdef.part", ".day.zip.0123.part", "day.zip.part"]
    for name in others:
        (tmp_path / name).write_bytes(b"")
    (tmp_path / ".day.zip.0123456789abcdef.part").mkdir()
    with new_file(tmp_path / "day.zip"):
        pass
    assert names(tmp_path) == sorted([*others, ".day.zip.0123456789abcdef.part"])


def test_says_so_when_it_was_cleared_away_before_it_was_locked(tmp_path: Path, monkeypatch):
    def slow(*_args, **_kwargs) -> bool:
        for path in tmp_path.iterdir():
            path.unlink()
        return True

    monkeypatch.setattr(place, "_lock", slow)
    with pytest.raises(UsageError, match="another process is making a file of this name"):
        new_file(tmp_path / "day.zip")


def test_works_where_there_are_no_locks(tmp_path: Path, monkeypatch):
    import fcntl

    (tmp_path / ".day.zip.0123456789abcdef.part").write_bytes(b"whose?")
    monkeypatch.setattr(fcntl, "flock", failing(errno.ENOLCK))
    with new_file(tmp_path / "day.zip") as placement:
        placement.publish()
    assert names(tmp_path) == [".day.zip.0123456789abcdef.part", "day.zip"]


# Room


def test_room_enough(tmp_path: Path):
    require_space(tmp_path, 1)


def test_room_at_the_limit_and_one_past_it(tmp_path: Path, monkeypatch):
    class Usage:
        free = 1_000

    monkeypatch.setattr(place.shutil, "disk_usage", lambda _folder: Usage)
    require_space(tmp_path, 1_000)
    with pytest.raises(UsageError, match="not enough room") as caught:
        require_space(tmp_path, 1_001)
    assert (caught.value.expected, caught.value.observed) == ("1001 bytes free", "1000 bytes")


def test_room_in_a_folder_that_is_missing(tmp_path: Path):
    with pytest.raises(UsageError, match="cannot be used"):
        require_space(tmp_path / "missing", 1)


# Where the disk fails at the last moment


def test_a_name_that_is_not_confirmed_and_cannot_be_taken_back_is_told(tmp_path: Path, monkeypatch):
    path = tmp_path / "day.zip"
    with new_file(path) as placement:
        placement.write(b"whole")
        assert not placement.stands
        monkeypatch.setattr(place, "sync_folder", failing(errno.EIO))
        monkeypatch.setattr(Path, "unlink", failing(errno.EROFS))
        with pytest.raises(
            UnsyncedError, match="stands under its name, but the disk did not"
        ) as caught:
            placement.publish()
        assert placement.stands
        monkeypatch.undo()
    assert caught.value.path == str(path)
    assert "Copy it to another disk now" in caught.value.hint
    assert path.read_bytes() == b"whole"


def test_a_name_that_is_not_confirmed_is_taken_back(tmp_path: Path, monkeypatch):
    with new_file(tmp_path / "day.zip") as placement:
        monkeypatch.setattr(place, "sync_folder", failing(errno.EIO))
        with pytest.raises(SealError, match="cannot be put under its name"):
            placement.publish()
        assert not placement.stands
    assert names(tmp_path) == []


def test_another_file_under_the_name_is_not_taken_for_ours(tmp_path: Path):
    path = tmp_path / "day.zip"
    with new_file(path) as placement:
        path.write_bytes(b"somebody's")
        assert not placement.stands
    assert not placement.stands
    assert path.read_bytes() == b"somebody's"


def test_a_write_that_fails_says_what_to_do(tmp_path: Path, monkeypatch):
    class Full:
        def write(self, _data) -> int:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        def close(self) -> None:
            pass

    with new_file(tmp_path / "day.zip") as placement:
        placement.stream.close()
        placement.stream = Full()
        with pytest.raises(SealError, match="No space left on device") as caught:
            placement.write(b"data")
    assert "Free space there" in caught.value.hint
    assert names(tmp_path) == []


def test_what_a_killed_process_left_beside_its_finished_file_is_cleared(tmp_path: Path):
    path = tmp_path / "day.zip"
    path.write_bytes(b"whole")
    os.link(path, tmp_path / ".day.zip.0123456789abcdef.part")
    with pytest.raises(UsageError, match="something stands under this name already"):
        new_file(path)
    assert names(tmp_path) == ["day.zip"]
    assert path.read_bytes() == b"whole"
