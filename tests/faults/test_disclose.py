"""Disclosing while the machine fails: a pack stands whole and on record, with its slip, or not at all.

The log line comes before the pack has its name.  So a line may stand for a pack that was never
made, and never a pack without its line.
"""

from __future__ import annotations

import errno
import os
import resource
import signal
from pathlib import Path

import pytest

from tests.faults.call_numbers import READS
from tests.faults.deciding import Which, at, changes, from_then_on, looks, record
from tests.faults.figures import require_tried
from tests.faults.office import Office, anew, make_office
from tests.faults.running import run
from tests.faults.sharing_out import share_out
from tests.faults.system_calls import Call, Fail, Kill, Signal
from tests.faults.world import BUNDLE, World, require_advice


@pytest.fixture(scope="module")
def office(world: World, tmp_path_factory: pytest.TempPathFactory) -> Office:
    made = make_office(world, Path(tmp_path_factory.mktemp("office")).resolve())
    # In this process, so that children find what is imported late.
    from tests.disclosure.packs import simple_pack
    from tests.sealed_days import make_authority, make_sealed_day

    folder = tmp_path_factory.mktemp("imports")
    simple_pack(make_sealed_day(folder, make_authority()), folder / "pack.zip")
    return made


def calls_of(office: Office, which: Which, *, encrypt: bool = False) -> list[Call]:
    watch = record(which)
    ended = office.disclose(watch, encrypt=encrypt)
    assert ended.code == 0, ended.words
    assert office.state() == (True, 2 if encrypt else 0, 1)
    assert office.parts() == []
    return watch.calls


def points_in(calls: list[Call], office: Office) -> list[int]:
    """Every call, but of the many writes before the first slip of an encrypted pack every fourth."""
    numbers = range(1, len(calls) + 1)
    post = str(office.folder / "post")
    slip = next((n for n in numbers if calls[n - 1].paths[0].startswith(post)), 0)
    return [number for number in numbers if number >= slip - 1 or number % 4 == 1]


@pytest.mark.usefixtures("held")
@pytest.mark.parametrize("encrypt", [False, True], ids=["plain", "encrypted"])
def test_killed_at_every_call_that_changes_the_disk(office: Office, encrypt: bool) -> None:
    def try_one(point: int) -> tuple[bool, int, int]:
        one = anew(office)
        ended = one.disclose(at(point, changes(one.folder), Kill()), encrypt=encrypt)
        assert ended.killed, ended.words
        return one.state()

    one = anew(office)
    points = points_in(calls_of(one, changes(one.folder), encrypt=encrypt), one)
    states = share_out(points, try_one)
    slips = 2 if encrypt else 0
    assert {(False, 0, 0), (False, slips, 1), (True, slips, 1)} <= set(states)
    require_tried(f"disclose killed, {'encrypted' if encrypt else 'plain'}", len(points))


@pytest.mark.usefixtures("held")
@pytest.mark.parametrize("encrypt", [False, True], ids=["plain", "encrypted"])
def test_the_disk_stays_full_from_some_call_on(office: Office, encrypt: bool) -> None:
    def try_one(point: int) -> tuple[bool, int, int]:
        one = anew(office)
        decide = at(point, changes(one.folder), Fail(errno.ENOSPC))
        ended = one.disclose(decide, encrypt=encrypt)
        state = one.state()
        if ended.code == 0:
            assert state == (True, 2 if encrypt else 0, 1)
            return state
        assert ended.code == 2, ended.words
        require_advice(ended)
        assert os.strerror(errno.ENOSPC) in ended.words
        pack, slips, lines = state
        assert (pack, slips) == (False, 0)
        assert one.parts() == [] or decide.calls[point - 1].name.startswith("unlink")
        assert ("records this pack, which was not made" in ended.words) == (lines == 1)
        return state

    one = anew(office)
    points = points_in(calls_of(one, changes(one.folder), encrypt=encrypt), one)
    points = points[::2] if encrypt else points
    states = share_out(points, try_one)
    assert (False, 0, 0) in states
    assert encrypt or (False, 0, 1) in states
    require_tried(f"disclose fails, {'encrypted' if encrypt else 'plain'}", len(points))


@pytest.mark.usefixtures("held")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_stopped_at_every_call_that_changes_the_disk(office: Office, number: int) -> None:
    def try_one(point: int) -> bool:
        one = anew(office)
        ended = one.disclose(at(point, changes(one.folder), Signal(number)), encrypt=True)
        pack, slips, _ = one.state()
        assert one.parts() == []
        assert slips == (2 if pack else 0)
        assert ended.code in {0, 128 + number}, ended.words
        assert ended.code or pack
        assert "Traceback" not in ended.err
        return pack

    one = anew(office)
    count = len(calls_of(one, changes(one.folder), encrypt=True))
    found = share_out(range(1, count + 1, 4 if number == signal.SIGINT else 9), try_one)
    assert found.count(False) > len(found) / 2


@pytest.mark.usefixtures("held")
def test_after_a_kill_the_pack_can_be_made_and_the_log_goes_on(office: Office) -> None:
    one = anew(office)
    calls = calls_of(anew(office), changes(office.world.folder))
    named = next(n for n, call in enumerate(calls, 1) if len(call.paths) == 2)
    assert one.disclose(at(named, changes(one.folder), Kill())).killed
    assert one.state() == (False, 0, 1)
    ended = one.disclose()
    assert ended.code == 0, ended.words
    assert one.state() == (True, 0, 2)
    assert one.parts() == []


@pytest.mark.usefixtures("held")
def test_the_bundle_cannot_be_read(office: Office) -> None:
    def try_one(point: int) -> None:
        one = anew(office)
        bundle = one.folder / "office" / BUNDLE
        ended = one.disclose(from_then_on(point, looks(bundle), Fail(errno.EIO)), names=READS)
        assert ended.code == 2, ended.words
        require_advice(ended)
        assert one.state() == (False, 0, 0)
        assert one.parts() == []

    one = anew(office)
    watch = record(looks(one.folder / "office" / BUNDLE))
    assert one.disclose(watch, names=READS).code == 0
    # The first is the command line's own question whether there is such a file.
    points = [*range(2, len(watch.calls), max(1, len(watch.calls) // 7)), len(watch.calls)]
    share_out(points, try_one)
    require_tried("bundle cannot be read to disclose", len(points))


def test_a_log_line_that_a_full_disk_cuts_short_is_taken_back(office: Office) -> None:
    one = anew(office)
    assert one.disclose().code == 0
    before = one.log.read_bytes()
    one.pack.unlink()
    # The log may not grow by a whole line; the kernel writes the first half of it.  The limit is
    # for every file, so the pack is a small one beside it.
    size = len(before) + 100
    decide = changes(one.log)
    ended = one.disclose(
        _limited_while_logging(decide, size),
        first=lambda: signal.signal(signal.SIGUSR1, lambda *_: _limit(size)),
    )
    assert ended.code == 2, ended.words
    require_advice(ended)
    assert "File too large" in ended.words
    assert one.log.read_bytes() == before
    assert one.state() == (False, 0, 1)


def _limit(size: int) -> None:
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))


def _limited_while_logging(which: Which, size: int):
    del size
    return at(1, which, Signal(signal.SIGUSR1))


@pytest.mark.parametrize("left", [1, 200, -1], ids=["one byte", "some bytes", "all but line feed"])
def test_a_torn_last_line_is_noticed_by_every_command_that_reads_the_log(
    office: Office, left: int
) -> None:
    one = anew(office)
    assert one.disclose().code == 0
    whole = one.log.read_bytes()
    one.log.write_bytes(whole + whole[:left])
    one.pack.unlink()
    bundle = one.folder / "office" / BUNDLE
    commands = (
        one.disclose(),
        run("releases", bundle),
        run(
            "acknowledge", bundle, "--code", "ABCD-2345", "--who", "Invented Defence", "--how",
            "telephone", *one.world.signing(), "--by", "C. Nobody",
        ),
    )  # fmt: skip
    for ended in commands[:2]:
        assert ended.code == 2
        require_advice(ended)
        assert f"{one.log}:2" in "".join(ended.err.split())
        assert "last line of the release log is not whole" in ended.words
        assert "Keep a copy of the log, then take that line out" in ended.words
    assert commands[2].code == 2
    assert one.log.read_bytes() == whole + whole[:left]
    assert not one.pack.exists()
    # What the advice says to do.
    one.log.write_bytes(whole)
    assert one.disclose().code == 0
    assert one.state() == (True, 0, 2)
