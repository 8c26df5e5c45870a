"""Fixtures shared by the rooms that need a whole sealed day.

What they need is imported only when a test asks for it, so that the tests of one room do not
depend on every other.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

if TYPE_CHECKING:
    from evidpack.trust.authority import DemoAuthority
    from tests.sealed_days import SealedDay

# A busy machine is no fault of the code: speed is measured by tests/bench, not by the tests.
settings.register_profile("any machine", deadline=None)
settings.load_profile("any machine")


# How long an example takes depends on what else the machine does; speed is measured by tests/bench.
settings.register_profile("evidpack", deadline=None)
settings.load_profile("evidpack")


# A machine may be busy with other things, and speed is measured elsewhere (tests/bench).
settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")


@pytest.fixture(scope="session")
def authority() -> DemoAuthority:
    from tests.sealed_days import make_authority

    return make_authority()


@pytest.fixture(scope="session")
def sealed_day(tmp_path_factory: pytest.TempPathFactory, authority: DemoAuthority) -> SealedDay:
    from tests.sealed_days import make_sealed_day

    return make_sealed_day(tmp_path_factory.mktemp("day"), authority)
