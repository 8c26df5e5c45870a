"""One world for the tests of failing machines."""

from __future__ import annotations

import importlib

import pytest

from evidpack.cli.main import COMMANDS
from tests.faults.system_calls import why_not
from tests.faults.world import World, make_world
from tests.sealed_days import seal_day


@pytest.fixture(scope="session")
def world(tmp_path_factory: pytest.TempPathFactory) -> World:
    made = make_world(tmp_path_factory.mktemp("world").resolve())
    _import_all(made)
    return made


def _import_all(world: World) -> None:
    """Import once here what every child would import anew: the commands, and what they need late."""
    for module, _ in COMMANDS.values():
        importlib.import_module(f"evidpack.cli.{module}")
    target = world.target()
    seal_day(world.day, target / "warm.zip", world.authority)


@pytest.fixture
def held() -> None:
    """Skips where this machine does not let system calls be held."""
    reason = why_not()
    if reason is not None:
        pytest.skip(reason)
