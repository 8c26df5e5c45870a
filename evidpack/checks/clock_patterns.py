"""What a wrong time looks like: a missed clock change, another zone, a lost date."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Final

from evidpack.checks.times import DAY_S

_QUARTER_S: Final = 900.0
_HOUR_S: Final = 3_600.0
_WIDEST_S: Final = 14 * _HOUR_S  # the largest offset from UTC in the time-zone data
_GPS_ROLLOVER: Final = timedelta(weeks=1024)

# First days of common time counts, and dates on which a clock starts that has lost its battery.
# From memory.
_EPOCHS: Final = (
    (date(1970, 1, 1), "1 January 1970, the first day of Unix time"),
    (date(1980, 1, 1), "1 January 1980, the first day of a common file date"),
    (date(1980, 1, 6), "6 January 1980, the first day of GPS time"),
    (date(1999, 8, 22), "22 August 1999, the first roll-over of GPS weeks"),
    (date(2000, 1, 1), "1 January 2000, where many clocks start"),
    (date(2019, 4, 7), "7 April 2019, the second roll-over of GPS weeks"),
)
_EPOCH_DAYS: Final = 60


def offset_pattern(offset_s: float, width_s: float) -> str | None:
    """What an offset looks like, or None: a whole hour (a missed clock change), whole quarter
    hours up to 14 h (another zone), whole days, each within `width_s` seconds.
    """
    size = abs(offset_s)
    if size <= width_s:
        return None
    if abs(size - _HOUR_S) <= width_s:
        return "as if a clock change had been missed or made twice"
    if size <= _WIDEST_S + width_s and _near(size, _QUARTER_S, width_s):
        sign = "+" if offset_s > 0 else "−"
        hours, minutes = divmod(round(size / _QUARTER_S) * 15, 60)
        return f"as if it kept a zone {sign}{hours:02d}:{minutes:02d} from the declared one"
    if size >= DAY_S - width_s and _near(size, DAY_S, width_s):
        return "as if its date were wrong"
    return None


def _near(size: float, step: float, width: float) -> bool:
    return abs(size - round(size / step) * step) <= width


def epoch_named(local: datetime, day: date | None = None) -> str | None:
    """What a lost date looks like: a clock that began again at a known first day within the last
    60 days of its own count, or one that is 1,024 weeks (a roll-over of GPS weeks) before `day`.
    """
    for first, words in reversed(_EPOCHS):
        if timedelta(0) <= local.date() - first <= timedelta(days=_EPOCH_DAYS):
            return f"as if it had started again at {words}"
    if day is not None and abs(day - local.date() - _GPS_ROLLOVER) <= timedelta(days=1):
        return "1,024 weeks before the day, a roll-over of GPS weeks"
    return None
