"""Recorded times as seconds since 1970 UTC, and back to text a person can read."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, tzinfo
from typing import Final

from evidpack.model.stamps import Stamp, StampStatus
from evidpack.model.values import JsonValue

EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
DAY_S: Final = 86_400.0

_parse = datetime.fromisoformat


class Moment:
    """A recorded time read once: `at_s` is the middle of what it may mean, `half_width_s` half
    of what an ambiguous stamp leaves open, `status` whether it names one instant.  Where it names
    none, `at_s` is None and only `local_s` (the clock's own face) is known.
    """

    __slots__ = ("at_s", "half_width_s", "status", "text")

    def __init__(
        self, at_s: float | None, half_width_s: float, status: StampStatus, text: str
    ) -> None:
        self.at_s = at_s
        self.half_width_s = half_width_s
        self.status = status
        self.text = text

    @property
    def local(self) -> datetime:
        """The time on the clock's face, naive."""
        return _parse(self.text).replace(tzinfo=None)


def read_moment(value: JsonValue) -> Moment | None:
    """A stamp's JSON read once; None where there is none."""
    if value is None:
        return None
    if isinstance(value, str):
        return Moment(_parse(value).timestamp(), 0.0, StampStatus.DETERMINED, value)
    stamp = Stamp.from_json(value)
    text = stamp.local.isoformat()
    if not stamp.instants:
        return Moment(None, 0.0, stamp.status, text)
    low, high = stamp.instants[0].timestamp(), stamp.instants[-1].timestamp()
    return Moment((low + high) / 2, (high - low) / 2, stamp.status, text)


def read_instant(value: JsonValue) -> tuple[float | None, float]:
    """`at_s` and `half_width_s` of a stamp's JSON, quicker than `read_moment`."""
    if isinstance(value, str):
        return _parse(value).timestamp(), 0.0
    moment = read_moment(value)
    return (None, 0.0) if moment is None else (moment.at_s, moment.half_width_s)


def clock_text(moment: Moment) -> str:
    """The time of day as recorded, with its offset: ``10:03:05.25+01:00``."""
    whole, point, rest = moment.text.rpartition("T")[2].partition(".")
    if not point:
        return whole
    zone = rest.lstrip("0123456789")
    digits = rest.removesuffix(zone).rstrip("0")
    return f"{whole}{'.' if digits else ''}{digits}{zone}"


def stamp_text(moment: Moment) -> str:
    """Date and time as recorded: ``2026-05-14 10:03:05.25+01:00``."""
    return f"{moment.local.date()} {clock_text(moment)}"


def utc_text(at_s: float) -> str:
    """RFC 3339 UTC to the second."""
    try:
        return (EPOCH + timedelta(seconds=round(at_s))).isoformat().replace("+00:00", "Z")
    except OverflowError:  # beyond the years 1 to 9999
        return f"{at_s:.0f} s from 1970"


def precise_utc_text(at_s: float) -> str:
    """RFC 3339 UTC to the hundredth of a second."""
    try:
        moment = EPOCH + timedelta(seconds=round(at_s, 2))
    except OverflowError:  # beyond the years 1 to 9999
        return f"{at_s:.0f} s from 1970"
    return f"{moment:%Y-%m-%dT%H:%M:%S}.{moment.microsecond // 10_000:02d}Z"


def read_date(value: JsonValue) -> date | None:
    """A date value, or None where absent."""
    return date.fromisoformat(value) if isinstance(value, str) else None


def add_months(start: date, months: int) -> date:
    """The same day of the month so many months later, or the last day of a shorter month."""
    from dateutil.relativedelta import relativedelta

    try:
        return start + relativedelta(months=months)
    except (ValueError, OverflowError):
        return date.max


def add_days(start: date, days: int) -> date:
    """So many days later (earlier where negative), at most the last or first day there is."""
    try:
        return start + timedelta(days=days)
    except OverflowError:
        return date.max if days > 0 else date.min


def local_date(at_s: float, zone: tzinfo) -> date | None:
    """The date of an instant in a zone; None beyond the years 1 to 9999."""
    try:
        return datetime.fromtimestamp(at_s, UTC).astimezone(zone).date()
    except (OverflowError, ValueError):
        return None


def duration_text(seconds: float) -> str:
    """``12.5 s``, ``1 h 0 min 2 s`` or ``3 days 2 h``, without sign."""
    seconds = abs(seconds)
    if seconds < 120:
        return f"{round(seconds, 2):g} s"
    whole = round(seconds)
    days, rest = divmod(whole, 86_400)
    hours, rest = divmod(rest, 3_600)
    minutes, last = divmod(rest, 60)
    if days:
        return f"{days} days {hours} h"
    if hours:
        return f"{hours} h {minutes} min {last} s"
    return f"{minutes} min {last} s"
