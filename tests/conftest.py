"""Fixtures shared by the rooms that need a whole sealed day.

What they need is imported only when a test asks for it, so that the tests of one room do not
depend on every other.
"""

from __future__ import annotations

import signal
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

if TYPE_CHECKING:
    from evidpack.trust.authority import DemoAuthority
    from tests.sealed_days import SealedDay

# A busy machine is no fault of the code: speed is measured by tests/bench, not by the tests.
settings.register_profile("any machine", deadline=None)
settings.load_profile("any machine")

# A run in the background (nohup, `&`) starts with these ignored, and what is ignored stays so in
# evidpack; the tests that send them need them as in the foreground.
if signal.getsignal(signal.SIGHUP) is signal.SIG_IGN:
    signal.signal(signal.SIGHUP, signal.SIG_DFL)
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)


@pytest.fixture(scope="session")
def authority() -> DemoAuthority:
    from tests.sealed_days import make_authority

    return make_authority()


@pytest.fixture(scope="session")
def sealed_day(tmp_path_factory: pytest.TempPathFactory, authority: DemoAuthority) -> SealedDay:
    from tests.sealed_days import make_sealed_day

    return make_sealed_day(tmp_path_factory.mktemp("day"), authority)
