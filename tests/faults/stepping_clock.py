"""A clock that is set back while a command runs, as a PC does that finds its time server late."""

from __future__ import annotations

import sys
import time
from datetime import datetime, timedelta, tzinfo


def step_back(seconds: float) -> None:
    """From the second time that this process asks for the time of day, it is so much earlier.

    The time of day is no system call that could be held (vdso(7)), so it is changed where Python
    code asks for it: every module's `datetime`, and `time.time`.
    """
    asked = 0
    real_time = time.time

    class SteppedBack(datetime):
        @classmethod
        def now(cls, tz: tzinfo | None = None) -> datetime:
            nonlocal asked
            asked += 1
            return datetime.now(tz) - timedelta(seconds=seconds * (asked > 1))

    for name, module in list(sys.modules.items()):
        if name.startswith("evidpack.") and getattr(module, "datetime", None) is datetime:
            module.datetime = SteppedBack  # type: ignore[attr-defined]
    # Else a command imported later would ask the right clock.
    assert sys.modules["evidpack.cli.seal"].datetime is SteppedBack

    def stepped() -> float:
        return real_time() - seconds

    time.time = stepped
