"""What the day's three clocks show: true time plus an offset that grows since each was set."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from typing import Final

LOCAL: Final = timezone(timedelta(hours=1))  # the place's time on the day
SET_AT: Final = datetime(2026, 5, 7, 15, 30, tzinfo=UTC)
_WEEK_S: Final = 7 * 86_400.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """A clock that was set right at SET_AT. `gains_s` is gained a week, seconds; `found_s` the
    offset found just before it was set; `step_s` the smallest step that it shows.
    """

    name: str
    gains_s: float
    found_s: float
    step_s: float

    def shows(self, instant: datetime) -> datetime:
        """What it shows at a true instant, cut to its step; aware, UTC."""
        elapsed_s = (instant - SET_AT).total_seconds()
        offset_s = self.gains_s * elapsed_s / _WEEK_S
        shown = instant + timedelta(seconds=offset_s)
        return shown - _cut_off(shown, self.step_s)


def _cut_off(shown: datetime, step_s: float) -> timedelta:
    return timedelta(microseconds=shown.microsecond % round(step_s * 1_000_000))


METER: Final = Clock(name="meter", gains_s=0.62, found_s=0.84, step_s=0.01)
CAMERA: Final = Clock(name="camera", gains_s=0.18, found_s=0.25, step_s=0.01)
VIDEO: Final = Clock(name="video", gains_s=-0.30, found_s=-0.41, step_s=0.001)
ALL: Final = (METER, CAMERA, VIDEO)
