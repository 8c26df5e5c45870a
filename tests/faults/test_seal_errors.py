"""A seal whose disk or card answers with errors: nothing is left, or a whole bundle and the truth."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable, Sequence
from itertools import groupby
from pathlib import Path

import pytest

from tests.faults.call_numbers import READS, WRITES
from tests.faults.deciding import Counted, Which, at, before, changes, from_then_on, looks, record
from tests.faults.figures import require_tried
from tests.faults.running import Ended
from tests.faults.sharing_out import share_out
from tests.faults.system_calls import Call, Decision, Fail
from tests.faults.world import BUNDLE, World, parts, require_advice

pytestmark = pytest.mark.usefixtures("held")

How = Callable[[int, Which, Decision], Counted]


def judge(world: World, target: Path, ended: Ended) -> str:
    """What came of it: sealed, refused with nothing left, or one of the two cases where the disk
    does not even let what was written be taken back."""
    world.require_untouched()
    whole, left = world.whole(target / BUNDLE), parts(target)
    if ended.code == 0:
        assert whole, ended.words
        return "sealed"
    require_advice(ended)
    assert ended.code == 2, ended.words
    if whole:
        assert "the whole file stands under its name" in ended.words
        return "stands unconfirmed"
    return "could not be cleared" if left else "nothing left"


def seen(world: World, which: Callable[[Path], Which], names: frozenset[str]) -> list[Call]:
    target = world.target()
    watch = record(which(target))
    assert world.seal(target, watch, names=names).code == 0
    return watch.calls


def without_repetitions(calls: Sequence[Call]) -> list[int]:
    """Numbers of the calls, from 1; of a run of equal ones the first and the last."""
    numbers = []
    for _, group in groupby(enumerate(calls, 1), key=lambda one: (one[1].name, one[1].paths)):
        run = [number for number, _ in group]
        numbers += sorted({run[0], run[-1]})
    return numbers


# The target


@pytest.mark.parametrize(
    ("how", "number"),
    [(at, errno.EIO), (from_then_on, errno.ENOSPC)],
    ids=["one error", "a disk that stays full"],
)
def test_the_target_fails_at_every_call(world: World, how: How, number: int) -> None:
    def try_one(point: int) -> str:
        target = world.target()
        decide = how(point, changes(target), Fail(number))
        ended = world.seal(target, decide)
        assert decide.decided
        if ended.code:
            assert os.strerror(number) in ended.words
        return judge(world, target, ended)

    points = range(1, len(seen(world, changes, WRITES)) + 1)
    results = share_out(points, try_one)
    require_tried(f"target fails, {errno.errorcode[number]}", len(results))
    if how is at:
        # A lock that cannot be had and a temporary name that stays are no faults of the bundle.
        assert set(results) == {"nothing left", "sealed"}
        assert results.count("sealed") <= 4
    else:
        assert results.count("nothing left") >= 1
        assert results.count("stands unconfirmed") <= 2


@pytest.mark.parametrize(
    "number", [errno.EACCES, errno.EPERM, errno.EROFS, errno.ENOENT, errno.ENOSPC, errno.EMFILE]
)
def test_a_target_in_which_no_file_can_be_made(world: World, number: int) -> None:
    target = world.target()
    ended = world.seal(target, from_then_on(1, changes(target), Fail(number)))
    assert judge(world, target, ended) == "nothing left"
    assert "no file can be made in this folder" in ended.words
    assert os.strerror(number) in ended.words


def test_a_target_that_turns_read_only_at_the_last_moment_is_told_truly(world: World) -> None:
    calls = seen(world, changes, WRITES)
    (named,) = (n for n, call in enumerate(calls, 1) if len(call.paths) == 2)
    target = world.target()
    ended = world.seal(target, from_then_on(named + 1, changes(target), Fail(errno.EROFS)))
    assert judge(world, target, ended) == "stands unconfirmed"
    assert "Copy it to another disk now" in ended.words


def test_what_was_written_cannot_be_read_back(world: World) -> None:
    def try_one(point: int) -> str:
        target = world.target()
        decide = at(point, looks(target), Fail(errno.EIO))
        result = judge(world, target, world.seal(target, decide, names=READS))
        assert decide.decided
        return result

    calls = seen(world, looks, READS)
    assert len(calls) > 20
    points = sorted({*range(1, len(calls) + 1, 4), len(calls) - 1, len(calls)})
    results = share_out(points, try_one)
    assert set(results) <= {"sealed", "nothing left"}
    assert results.count("nothing left") > len(results) / 2
    require_tried("target cannot be read back", len(results))


# The export


def test_a_sector_of_the_export_cannot_be_read(world: World) -> None:
    def try_one(point: int) -> str:
        target = world.target()
        decide = at(point, looks(world.export), Fail(errno.EIO))
        ended = world.seal(target, decide, names=READS)
        assert decide.decided
        result = judge(world, target, ended)
        read = decide.calls[point - 1]
        if read.name in {"read", "pread64", "preadv", "preadv2", "readv", "getdents64"}:
            assert result == "nothing left"
            assert Path(read.paths[0]).name in ended.words, ended.words
            assert "Input/output error" in ended.words
        return result

    calls = seen(world, lambda _target: looks(world.export), READS)
    numbers = without_repetitions(calls)
    asking = [number for number in numbers if "stat" in calls[number - 1].name]
    points = sorted({*numbers} - {*asking} | {*asking[::6]})
    results = share_out(points, try_one)
    # Asking for the size of an open file is repeated by the library, and one answer will do.
    assert set(results) == {"nothing left", "sealed"}
    assert results.count("sealed") < len(results) / 5
    require_tried("export cannot be read", len(results))


@pytest.mark.parametrize("number", [errno.ENOENT, errno.ENODEV])
def test_the_card_is_pulled_out(world: World, number: int) -> None:
    def try_one(point: int) -> str:
        target = world.target()
        decide = from_then_on(point, looks(world.export), Fail(number))
        ended = world.seal(target, decide, names=READS)
        return judge(world, target, ended)

    count = len(seen(world, lambda _target: looks(world.export), READS))
    points = [*range(1, count, 9), count]
    results = share_out(points, try_one)
    # At the very end all has been read, and what was read is what is there.
    assert set(results[:-1]) == {"nothing left"} or results.count("sealed") <= 2
    assert results.count("nothing left") >= len(points) - 2
    require_tried(f"card pulled out, {errno.errorcode[number]}", len(results))


# Files that change


def grow(path: Path) -> None:
    """file grows"""
    with path.open("ab") as stream:
        stream.write(b"more")


def shrink(path: Path) -> None:
    """file shrinks"""
    os.truncate(path, path.stat().st_size // 2)


def rewrite(path: Path) -> None:
    """file is rewritten"""
    path.write_bytes(b"#" * path.stat().st_size)


@pytest.mark.parametrize(
    ("change", "name"), [(grow, "clip.bin"), (shrink, "clip.bin"), (rewrite, "notes.txt")]
)
def test_a_file_that_changes_before_any_look_at_it_is_refused_or_sealed_as_it_is(
    world: World, change: Callable[[Path], None], name: str
) -> None:
    path = world.export / name
    kept, times = path.read_bytes(), path.stat()

    def restore() -> None:
        path.write_bytes(kept)
        os.utime(path, ns=(times.st_atime_ns, times.st_mtime_ns))

    numbers = without_repetitions(seen(world, lambda _target: looks(path), READS))
    results = []
    for point in sorted({*numbers[::2], numbers[-1]}):
        target = world.target()
        ended = world.seal(target, before(point, looks(path), lambda: change(path)), names=READS)
        if ended.code == 0:
            now = path.read_bytes()
            assert bundled(target / BUNDLE, name) in ({now} if point == 1 else {kept, now})
        restore()
        results.append(judge(world, target, ended))
        assert ended.code == 0 or "changed" in ended.words or "while it was" in ended.words
    assert "nothing left" in results
    assert set(results) <= {"nothing left", "sealed"}
    require_tried(change.__doc__ or "", len(results))


def bundled(bundle: Path, name: str) -> bytes:
    import zipfile

    with zipfile.ZipFile(bundle) as archive:
        (found,) = (one for one in archive.namelist() if one.endswith(f"data/export/{name}"))
        return archive.read(found)
