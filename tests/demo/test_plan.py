from __future__ import annotations

import pytest

from evidpack.demo.day import SEALED_AT
from evidpack.demo.plan import DELETED, DISCARDED, SAME_VEHICLE, TWO_STILLS, plan_day

SEEDS = range(25)


@pytest.mark.parametrize("seed", SEEDS)
def test_everything_happens_in_order(seed: int) -> None:
    plan = plan_day(seed)
    one, two = plan.sessions
    assert one.end < two.start
    for session in plan.sessions:
        times = [capture.at for capture in session.captures]
        assert times == sorted(times)
        assert session.start < session.tests_before < times[0]
        assert times[-1] < session.tests_after < session.end
    assert two.end < plan.reviewed < plan.signed < SEALED_AT


@pytest.mark.parametrize("seed", SEEDS)
def test_image_numbers_roll_over_and_lack_only_the_deleted(seed: int) -> None:
    plan = plan_day(seed)
    numbers = [number for capture in plan.captures for number in capture.images]
    expected = [*range(9981, 10_000), *range(1, 28)]
    assert sorted(set(expected) - set(numbers)) == list(DELETED)
    assert numbers == [number for number in expected if number not in DELETED]


def test_the_pair_is_one_vehicle_at_a_plausible_distance() -> None:
    first, second = (plan_day(1).captures[number - 1] for number in SAME_VEHICLE)
    assert second.vehicle == first.vehicle
    assert second.same_as == first.number
    mean_mps = (first.range_m - second.range_m) / (second.at - first.at).total_seconds()
    assert second.true_mps - 0.2 < mean_mps < first.true_mps + 0.2


def test_only_what_is_said_is_special() -> None:
    captures = plan_day(1).captures
    assert [one.number for one in captures if one.discarded] == [DISCARDED]
    assert tuple(one.number for one in captures if len(one.images) > 1) == TWO_STILLS


def test_seeds_differ() -> None:
    assert plan_day(1).captures != plan_day(2).captures
