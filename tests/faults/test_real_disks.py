"""Real file systems: full, and read-only."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.faults.deciding import before, changes, record
from tests.faults.disks import in_memory, mounted
from tests.faults.running import run
from tests.faults.system_calls import Call
from tests.faults.world import BUNDLE, World, require_advice, require_clean_failure

_MIB = 1024 * 1024


def test_a_disk_without_room_is_refused_before_anything_is_written(
    world: World, tmp_path: Path
) -> None:
    with in_memory(tmp_path / "disk", size_bytes=2 * _MIB) as target:
        ended = world.seal(target)
        require_clean_failure(ended, target)
        assert "not enough room" in ended.words
        assert "Free space there, or choose a target on another disk" in ended.words
    world.require_untouched()


@pytest.mark.usefixtures("held")
@pytest.mark.parametrize("share", [0.2, 0.6, 1.0])
def test_a_disk_that_somebody_else_fills_meanwhile(
    world: World, tmp_path: Path, share: float
) -> None:
    with in_memory(tmp_path / "disk", size_bytes=16 * _MIB) as disk:
        target = disk / "target"
        target.mkdir()

        def fill() -> None:
            free = os.statvfs(disk).f_bavail * os.statvfs(disk).f_bsize
            with (disk / "ballast").open("wb") as stream:
                os.posix_fallocate(stream.fileno(), 0, free)

        def writes(call: Call) -> bool:
            return "write" in call.name and changes(target)(call)

        watch = record(writes)
        assert world.seal(target, watch).code == 0
        (target / BUNDLE).unlink()
        number = max(1, round(share * len(watch.calls)))
        ended = world.seal(target, before(number, writes, fill))
        require_clean_failure(ended, target)
        assert "No space left on device" in ended.words
    world.require_untouched()


def test_a_target_that_can_only_be_read(world: World, tmp_path: Path) -> None:
    with mounted("tmpfs", tmp_path / "disk", "-t", "tmpfs", "-o", "ro") as target:
        ended = world.seal(target)
        require_clean_failure(ended, target)
        assert "Read-only file system" in ended.words
    world.require_untouched()


def test_a_day_on_a_card_that_can_only_be_read_is_sealed_all_the_same(
    world: World, tmp_path: Path
) -> None:
    options = ("--bind", "-o", "ro")
    with mounted(world.day.parent, tmp_path / "card", *options) as card:
        target = world.target()
        ended = run("seal", card / "day.toml", *world.signing(), "--no-time-stamp", "-o",
                    target / BUNDLE)  # fmt: skip
        assert ended.code == 0, ended.words
        assert world.whole(target / BUNDLE)
        checked = run("check", card / "day.toml")
        assert checked.code == 2
        require_advice(checked)
        assert "runs.jsonl" in checked.words
        assert "The export may stay where it is" in checked.words
    world.require_untouched()
