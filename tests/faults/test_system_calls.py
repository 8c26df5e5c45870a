"""The shim that the tests of failing machines rest on does what they take it to do."""

from __future__ import annotations

import errno
import os
import signal
import threading
from pathlib import Path

import pytest

from tests.faults.call_numbers import READS, WRITES
from tests.faults.deciding import Counted, at, changes, looks, record
from tests.faults.sharing_out import share_out
from tests.faults.system_calls import Fail, Kill, Pretend, Signal, start

pytestmark = pytest.mark.usefixtures("held")


def write_three(folder: Path) -> int:
    """Three writes past every function of Python's own: on a raw file, by os, and on a thread."""
    (folder / "a").open("wb", buffering=0).write(b"a")
    os.write(os.open(folder / "b", os.O_CREAT | os.O_WRONLY), b"b")
    thread = threading.Thread(target=lambda: (folder / "c").write_bytes(b"c"))
    thread.start()
    thread.join()
    return 7


def writes(folder: Path) -> Counted:
    return record(lambda call: call.name == "write" and changes(folder)(call))


def test_every_write_is_seen_whatever_makes_it(tmp_path: Path) -> None:
    watch = writes(tmp_path)
    assert start(lambda: write_three(tmp_path), WRITES).serve(watch) == 7
    assert [Path(call.paths[0]).name for call in watch.calls] == ["a", "b", "c"]


@pytest.mark.parametrize("number", [1, 2, 3])
def test_a_kill_comes_before_the_call_is_done(tmp_path: Path, number: int) -> None:
    decide = at(number, lambda call: call.name == "write" and changes(tmp_path)(call), Kill())
    assert start(lambda: write_three(tmp_path), WRITES).serve(decide) == -signal.SIGKILL
    sizes = {path.name: path.stat().st_size for path in tmp_path.iterdir()}
    assert sizes == {name: int(place < number) for place, name in enumerate("abc"[:number], 1)}


def test_an_error_is_what_the_program_gets(tmp_path: Path) -> None:
    def work() -> int:
        try:
            (tmp_path / "a").write_bytes(b"a")
        except OSError as error:
            return error.errno or 0
        return 0

    which = changes(tmp_path / "a")
    for number in (1, 2):
        assert start(work, WRITES).serve(at(number, which, Fail(errno.EDQUOT))) == errno.EDQUOT


def test_a_call_that_is_only_pretended_is_not_done(tmp_path: Path) -> None:
    def work() -> int:
        (tmp_path / "a").rename(tmp_path / "b")
        return 0

    (tmp_path / "a").write_bytes(b"")
    assert start(work, WRITES).serve(at(1, changes(tmp_path), Pretend())) == 0
    assert [path.name for path in tmp_path.iterdir()] == ["a"]


def test_a_signal_arrives_with_the_call_it_was_sent_at(tmp_path: Path) -> None:
    def work() -> int:
        try:
            (tmp_path / "a").write_bytes(b"a")
            (tmp_path / "b").write_bytes(b"b")
        except KeyboardInterrupt:
            return 9
        return 0

    signal.signal(signal.SIGINT, signal.default_int_handler)
    decide = at(1, changes(tmp_path / "a"), Signal(signal.SIGINT))
    assert start(work, WRITES).serve(decide) == 9
    assert not (tmp_path / "b").exists()


def test_both_names_of_a_call_are_known_under_a_folders_descriptor_too(tmp_path: Path) -> None:
    def work() -> int:
        folder = os.open(tmp_path, os.O_RDONLY)
        os.link("a", "b", src_dir_fd=folder, dst_dir_fd=folder)
        os.chdir(tmp_path)
        Path("a").rename("c")
        return 0

    (tmp_path / "a").write_bytes(b"")
    watch = record(changes(tmp_path))
    assert start(work, WRITES).serve(watch) == 0
    assert [call.paths for call in watch.calls] == [
        (str(tmp_path / "a"), str(tmp_path / "b")),
        (str(tmp_path / "a"), str(tmp_path / "c")),
    ]


def test_reading_is_told_from_writing(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"a")

    def work() -> int:
        (tmp_path / "a").read_bytes()
        (tmp_path / "b").write_bytes(b"b")
        return len(list(tmp_path.iterdir()))

    watch = record(looks(tmp_path / "a"))
    assert start(work, READS | WRITES).serve(watch) == 2
    assert {"openat", "read"} <= {call.name for call in watch.calls}
    assert {call.paths for call in watch.calls} == {(str(tmp_path / "a"),)}


def test_a_child_that_never_ends_is_ended(tmp_path: Path) -> None:
    child = start(lambda: threading.Event().wait() and 0, WRITES)
    with pytest.raises(TimeoutError, match="no call and no end"):
        child.serve(record(changes(tmp_path)), timeout_s=0.2)
    with pytest.raises(ChildProcessError):
        os.waitpid(child.pid, 0)


def test_a_failure_in_a_worker_is_a_failure_here() -> None:
    def try_one(point: int) -> int:
        assert point != 3, "three"
        return point * point

    assert sorted(share_out([1, 2], try_one)) == [1, 4]
    with pytest.raises(AssertionError, match="at 3:"):
        share_out([1, 2, 3], try_one)
