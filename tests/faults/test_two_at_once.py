"""Two processes that seal the same day to the same name."""

from __future__ import annotations

import pytest

from tests.faults.call_numbers import WRITES
from tests.faults.deciding import Counted, changes, record
from tests.faults.running import Ended, Running
from tests.faults.system_calls import Call
from tests.faults.world import BUNDLE, World, parts, require_advice


def test_of_two_at_once_one_seals_and_the_other_says_why_not(world: World) -> None:
    for _ in range(2):
        target = world.target()
        both = [Running(*world.seal_arguments(target / BUNDLE)) for _ in range(2)]
        first, second = sorted((one.wait() for one in both), key=lambda ended: ended.code)
        assert first.code == 0, first.words
        refused(second)
        assert world.whole(target / BUNDLE)
        assert parts(target) == []
        world.require_untouched()


@pytest.mark.usefixtures("held")
@pytest.mark.parametrize(
    "share", [0.0, 0.5, 1.0], ids=["begun", "half written", "about to name it"]
)
def test_a_seal_that_is_overtaken_takes_nothing_from_the_one_that_was_quicker(
    world: World, share: float
) -> None:
    target = world.target()
    watch = record(changes(target))
    assert world.seal(target, watch).code == 0
    (target / BUNDLE).unlink()
    named = next(n for n, call in enumerate(watch.calls, 1) if len(call.paths) == 2)
    point = max(2, round(share * named))
    quicker: list[tuple[Ended, bytes]] = []

    def decide(_call: Call, count: int) -> None:
        if count == point:
            ended = world.seal(target)
            quicker.append((ended, (target / BUNDLE).read_bytes()))

    slower = world.seal(target, Counted(changes(target), decide), names=WRITES)
    ((ended, bundle),) = quicker
    assert ended.code == 0, ended.words
    refused(slower, "another process is making" if point == 2 else "something stands under")
    assert (target / BUNDLE).read_bytes() == bundle
    assert world.whole(target / BUNDLE)
    assert parts(target) == []
    world.require_untouched()


def refused(ended: Ended, why: str = "something stands under this name already") -> None:
    assert ended.code == 2, ended.words
    require_advice(ended)
    assert why in ended.words


def test_two_seals_of_one_day_to_two_names_do_not_meet(world: World) -> None:
    targets = [world.target() for _ in range(2)]
    both = [Running(*world.seal_arguments(target / BUNDLE)) for target in targets]
    assert [one.wait().code for one in both] == [0, 0]
    for target in targets:
        assert world.whole(target / BUNDLE)
        assert parts(target) == []
