"""What commands write besides bundles, packs and logs: there whole, or not there."""

from __future__ import annotations

import errno
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.faults.call_numbers import WRITES
from tests.faults.deciding import at, changes, record
from tests.faults.figures import require_tried
from tests.faults.office import Office, make_office
from tests.faults.running import Ended, Running
from tests.faults.system_calls import Decide, Fail, Kill
from tests.faults.world import BUNDLE, World, require_advice

pytestmark = pytest.mark.usefixtures("held")

Command = Callable[[Office, Path], tuple[object, ...]]


def describing(office: Office, output: Path) -> tuple[object, ...]:
    return "describe", office.world.export, "-o", output


def deciding(office: Office, output: Path) -> tuple[object, ...]:
    return "decide", office.folder / "office" / BUNDLE, "--capture", "C1", "-o", output


def reporting(office: Office, output: Path) -> tuple[object, ...]:
    return "verify", office.folder / "office" / BUNDLE, "--no-recheck", "--report", output


@pytest.fixture(scope="module")
def office(world: World, tmp_path_factory: pytest.TempPathFactory) -> Office:
    return make_office(world, tmp_path_factory.mktemp("office").resolve())


@pytest.mark.parametrize("command", [describing, deciding, reporting])
def test_a_file_is_there_whole_or_not_at_all(office: Office, command: Command) -> None:
    def run(target: Path, decide: Decide) -> Ended:
        return Running(*command(office, target / "file"), names=WRITES).serve(decide)

    target = office.world.target()
    watch = record(changes(target))
    code = run(target, watch).code
    whole = (target / "file").read_bytes()
    assert code in {0, 3}
    assert [path.name for path in target.iterdir()] == ["file"]
    for point in range(1, len(watch.calls) + 1):
        for decision in (Kill(), Fail(errno.ENOSPC)):
            target = office.world.target()
            ended = run(target, at(point, changes(target), decision))
            assert ended.killed == isinstance(decision, Kill), ended.words
            if (target / "file").exists():
                # A report names the time at which it was made, and so differs in a few bytes.
                assert abs(len((target / "file").read_bytes()) - len(whole)) < 100
                assert (target / "file").read_bytes().endswith(whole[-6:])
            elif not ended.killed:
                assert ended.code == 2, ended.words
                require_advice(ended)
                assert list(target.iterdir()) == []
    require_tried("another file killed", len(watch.calls))
    require_tried("another file fails", len(watch.calls))
    office.world.require_untouched()
