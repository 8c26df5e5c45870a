"""A seal that is killed or stopped: a whole bundle under the name, or nothing under it."""

from __future__ import annotations

import errno
import resource
import signal
from pathlib import Path

import pytest

from tests.faults.deciding import Counted, at, changes, record
from tests.faults.figures import require_tried
from tests.faults.running import run
from tests.faults.sharing_out import share_out
from tests.faults.system_calls import Call, Decision, Fail, Kill, Signal
from tests.faults.world import BUNDLE, World, parts


def number_of_changes(world: World) -> int:
    target = world.target()
    seen = record(changes(target))
    assert world.seal(target, seen).code == 0
    return len(seen.calls)


@pytest.mark.usefixtures("held")
def test_killed_at_every_call_that_changes_the_disk(world: World) -> None:
    def try_one(number: int) -> tuple[bool, bool, int]:
        target = world.target()
        decide = at(number, changes(target), Kill())
        ended = world.seal(target, decide)
        assert ended.killed == decide.decided, ended.words
        assert ended.killed or ended.code == 0, ended.words
        assert ended.killed or world.whole(target / BUNDLE)
        assert not ended.killed or "Sealed" not in ended.out
        world.require_untouched()
        return ended.killed, world.whole(target / BUNDLE), len(parts(target))

    results = share_out(range(1, number_of_changes(world) + 1), try_one)
    states = {(whole, left) for killed, whole, left in results if killed}
    # Before there is a file, while it is written, between its two names, and under its name.
    assert states == {(False, 0), (False, 1), (True, 1), (True, 0)}
    require_tried("seal killed", sum(killed for killed, _, _ in results))


@pytest.mark.usefixtures("held")
@pytest.mark.parametrize("renames", [True, False], ids=["FAT", "some network shares"])
def test_killed_where_the_disk_has_no_hard_links(world: World, renames: bool) -> None:
    """As on FAT: link is answered with EPERM (link(2)).  Some disks cannot even rename without
    replacing (renameat2(2): EINVAL); there an empty file claims the name for a moment."""

    def decide_at(target: Path, number: int) -> Counted:
        def decide(call: Call, count: int) -> Decision:
            if count == number:
                return Kill()
            if call.name in {"link", "linkat"}:
                return Fail(errno.EPERM)
            return Fail(errno.EINVAL) if call.name == "renameat2" and not renames else None

        return Counted(changes(target), decide)

    def try_one(number: int) -> tuple[str, int]:
        target = world.target()
        ended = world.seal(target, decide_at(target, number))
        assert ended.killed, ended.words
        world.require_untouched()
        bundle = target / BUNDLE
        if bundle.exists() and not bundle.stat().st_size:
            assert run("verify", bundle).code == 1
            return "empty", len(parts(target))
        return "whole" if world.whole(bundle) else "none", len(parts(target))

    target = world.target()
    watch = decide_at(target, 0)
    assert world.seal(target, watch).code == 0
    assert world.whole(target / BUNDLE)
    named = next(n for n, call in enumerate(watch.calls, 1) if len(call.paths) == 2)
    points = range(named - 1, len(watch.calls) + 1)
    states = set(share_out(points, try_one))
    assert states - {("empty", 1)} == {("none", 1), ("whole", 0)}
    assert (("empty", 1) in states) != renames
    require_tried("seal killed, no hard links", len(points))


def killed_when(world: World, wanted: tuple[bool, int]) -> Path:
    """A target folder as a killed seal leaves it: with or without a bundle and a temporary file."""
    for number in range(number_of_changes(world), 0, -1):
        target = world.target()
        ended = world.seal(target, at(number, changes(target), Kill()))
        if ended.killed and (world.whole(target / BUNDLE), len(parts(target))) == wanted:
            return target
    raise AssertionError(f"no kill leaves {wanted}")


@pytest.mark.usefixtures("held")
@pytest.mark.parametrize("whole", [False, True], ids=["no bundle", "a bundle"])
def test_what_a_kill_left_is_cleared_by_the_next_seal_to_that_name(
    world: World, whole: bool
) -> None:
    target = killed_when(world, (whole, 1))
    ended = world.seal(target)
    assert parts(target) == []
    assert world.whole(target / BUNDLE)
    assert ended.code == (2 if whole else 0), ended.words
    assert ("something stands under this name already" in ended.words) == whole
    world.require_untouched()


@pytest.mark.usefixtures("held")
def test_a_seal_trusts_nothing_that_a_killed_one_left(world: World) -> None:
    target = killed_when(world, (False, 1))
    (left,) = parts(target)
    left.write_bytes(b"\0" * 100)
    assert world.seal(target).code == 0
    assert parts(target) == []
    assert world.whole(target / BUNDLE)


@pytest.mark.usefixtures("held")
@pytest.mark.parametrize(
    ("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143), (signal.SIGHUP, 129)]
)
def test_stopped_at_every_call_that_changes_the_disk(
    world: World, number: signal.Signals, code: int
) -> None:
    def try_one(point: int) -> str:
        target = world.target()
        ended = world.seal(target, at(point, changes(target), Signal(number)))
        whole = world.whole(target / BUNDLE)
        assert parts(target) == []
        world.require_untouched()
        if ended.code == 0:
            assert whole
            return "too late"
        assert ended.code == code, ended.words
        assert "nothing half-made was left behind" in ended.err
        assert "Traceback" not in ended.err
        return "stopped"

    # One of them is tried at more calls: the others differ by their number alone.
    stride = 3 if number is signal.SIGINT else 9
    results = share_out(range(1, number_of_changes(world) + 1, stride), try_one)
    assert results.count("stopped") >= len(results) / 2
    require_tried(f"seal stopped by {number.name}", len(results))


def test_killed_at_many_bytes_of_the_bundle(world: World) -> None:
    """The kernel itself ends the process at the byte: SIGXFSZ at RLIMIT_FSIZE, not ignored."""
    size = _size(world)

    def try_one(byte: int) -> None:
        def first() -> None:
            signal.signal(signal.SIGXFSZ, signal.SIG_DFL)
            resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
            resource.setrlimit(resource.RLIMIT_FSIZE, (byte, byte))

        target = world.target()
        ended = world.seal(target, first=first)
        assert ended.code == -signal.SIGXFSZ, ended.words
        (left,) = parts(target)
        assert left.stat().st_size <= byte
        assert not (target / BUNDLE).exists()
        world.require_untouched()

    # Not the very last bytes: the lengths of signature and index vary a little.
    points = [1, *range(size // 9, size - 4_000, size // 9), size - 4_000]
    share_out(points, try_one)
    require_tried("seal killed at a byte", len(points))


@pytest.mark.parametrize("share", [0.0, 0.3, 0.9])
def test_a_file_that_may_not_grow_on_is_taken_back(world: World, share: float) -> None:
    """As on a disk that fills up amid a write: the first half of it is written, then EFBIG."""
    byte = 1 + int(share * _size(world))
    target = world.target()
    ended = world.seal(
        target, first=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (byte, byte))
    )
    assert ended.code == 2, ended.words
    assert "File too large" in ended.err
    assert list(target.iterdir()) == []
    world.require_untouched()


def _size(world: World) -> int:
    target = world.target()
    assert world.seal(target).code == 0
    return (target / BUNDLE).stat().st_size
