"""The run log while the machine fails: `check` adds a whole line or none, and says what to do."""

from __future__ import annotations

import errno
import hashlib
import json
import time
from pathlib import Path

import pytest

from tests.faults.call_numbers import READS, WRITES
from tests.faults.deciding import Counted, Decide, at, changes, from_then_on, looks, record
from tests.faults.figures import require_tried
from tests.faults.running import Ended, Running, run
from tests.faults.system_calls import Call, Fail, Kill
from tests.faults.world import BUNDLE, World, require_advice, tree
from tests.small_day import write_small_day

RUNS = "runs.jsonl"


@pytest.fixture
def day(tmp_path: Path) -> Path:
    """A small day with one run of the checks behind it."""
    found = write_small_day(tmp_path / "day")
    assert run("check", found).code == 1
    return found


def lines(day: Path) -> list[bytes]:
    return (day.parent / RUNS).read_bytes().splitlines()


def check(day: Path, decide: Decide | None = None, names: frozenset[str] = WRITES) -> Ended:
    return run("check", day) if decide is None else Running("check", day, names=names).serve(decide)


def require_chained(found: list[bytes]) -> None:
    before = bytes(32)
    for number, line in enumerate(found, 1):
        value = json.loads(line)
        assert (value["run"], value["previous"]) == (number, before.hex())
        before = hashlib.sha256(line).digest()


@pytest.mark.usefixtures("held")
def test_killed_at_every_call_that_changes_the_log(day: Path) -> None:
    export = tree(day.parent / "export")
    watch = record(changes(day.parent))
    assert check(day, watch).code == 1
    for point in range(1, len(watch.calls) + 1):
        before = lines(day)
        ended = check(day, at(point, changes(day.parent), Kill()))
        assert ended.killed
        found = lines(day)
        assert found[: len(before)] == before
        require_chained(found)
        assert len(found) - len(before) in {0, 1}
    assert tree(day.parent / "export") == export
    require_tried("check killed", len(watch.calls))


@pytest.mark.usefixtures("held")
@pytest.mark.parametrize("number", [errno.EIO, errno.ENOSPC, errno.EROFS])
def test_a_disk_that_fails_leaves_the_log_as_it_was(day: Path, number: int) -> None:
    watch = record(changes(day.parent))
    assert check(day, watch).code == 1
    for point, call in enumerate(watch.calls, 1):
        before = (day.parent / RUNS).read_bytes()
        ended = check(day, at(point, changes(day.parent), Fail(number)))
        assert ended.code == 2, (call, ended.words)
        require_advice(ended)
        assert "run log cannot be read or written" in ended.words
        assert (day.parent / RUNS).read_bytes() == before, call
        # What the run found was not shown: it would be known, and not recorded.
        assert ended.out == ""
    require_tried("run log fails", len(watch.calls))


@pytest.mark.usefixtures("held")
def test_a_write_that_does_half_and_then_fails_is_taken_back(day: Path) -> None:
    """A full disk takes what it has room for: the next write is the one that fails."""
    before = (day.parent / RUNS).read_bytes()

    def limit() -> None:
        import resource

        size = len(before) + 40
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))

    ended = run("check", day, first=limit)
    assert ended.code == 2, ended.words
    require_advice(ended)
    assert "File too large" in ended.words
    assert (day.parent / RUNS).read_bytes() == before


@pytest.mark.usefixtures("held")
def test_two_runs_at_once_stand_one_behind_the_other(day: Path) -> None:
    both: list[Running] = []

    def decide(call: Call, _count: int) -> None:
        if "write" in call.name and not both:
            both.append(Running("check", day))
            time.sleep(1.0)  # long enough for the other to read and write, were there no lock

    first = Running("check", day, names=WRITES).serve(Counted(changes(day.parent / RUNS), decide))
    (second,) = both
    assert (first.code, second.wait().code) == (1, 1)
    assert len(lines(day)) == 3
    require_chained(lines(day))


@pytest.mark.parametrize("left", [1, 30, -1], ids=["one byte", "some bytes", "all but line feed"])
def test_a_last_line_cut_short_is_kept_said_and_sealed(world: World, day: Path, left: int) -> None:
    log = day.parent / RUNS
    whole = log.read_bytes()
    run("check", day)
    torn = log.read_bytes()[len(whole) :][:left]
    log.write_bytes(whole + torn)
    ended = check(day)
    assert ended.code == 1, ended.words
    _, kept, last = lines(day)
    assert kept == torn
    assert json.loads(last)["previous"] == hashlib.sha256(torn).hexdigest()
    assert json.loads(last)["run"] == (3 if left == -1 else 2)
    assert ("The line before it was cut short" in ended.words) == (left != -1)
    target = world.target()
    sealed = run("seal", day, *world.signing(), "--no-time-stamp", "-o", target / BUNDLE)
    assert sealed.code == 0, sealed.words
    assert world.whole(target / BUNDLE)
    runs = [one for one in openings(target / BUNDLE) if one["record_kind"] == "past_run"]
    assert [one["chain"] for one in runs] == ["holds"] * (3 if left == -1 else 2)
    unread = [one for one in openings(target / BUNDLE) if one.get("record") == "past_run"]
    assert len(unread) == (0 if left == -1 else 1)


def openings(bundle: Path) -> list[dict[str, object]]:
    from evidpack.container import layout
    from tests.bundles import taken_apart

    _, members = taken_apart(bundle.read_bytes())
    values = (json.loads(line)["values"] for line in members[layout.OPENINGS].splitlines())
    return [one for one in values if "record_kind" in one]


def test_an_empty_log_is_a_log_without_lines(day: Path) -> None:
    (day.parent / RUNS).write_bytes(b"")
    assert check(day).code == 1
    require_chained(lines(day))


def test_a_last_line_of_somebody_elses_is_refused_with_advice(day: Path) -> None:
    with (day.parent / RUNS).open("ab") as stream:
        stream.write(b"not a run\n")
    before = (day.parent / RUNS).read_bytes()
    ended = check(day)
    assert ended.code == 2
    require_advice(ended)
    assert f"{RUNS}:2" in ended.words
    assert "not a run" in ended.words
    assert (day.parent / RUNS).read_bytes() == before


@pytest.mark.usefixtures("held")
def test_a_log_that_cannot_be_read_is_not_begun_anew(day: Path) -> None:
    before = (day.parent / RUNS).read_bytes()
    reading = looks(day.parent / RUNS)
    for point in (1, 2):
        ended = check(day, from_then_on(point, reading, Fail(errno.EIO)), READS)
        assert ended.code == 2, ended.words
        require_advice(ended)
        assert (day.parent / RUNS).read_bytes() == before
