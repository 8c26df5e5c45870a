"""Readings and sessions, each read once."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from evidpack.checks.times import Moment, read_moment
from evidpack.model.records import Record


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One capture's reading: speed in its exported unit, range in metres, time as seconds since
    1970 UTC (None where it names no instant; `half_width_s` where it may mean two).
    """

    number: int
    record: Record
    session: str | None
    at_s: float | None
    half_width_s: float
    speed: float | None
    speed_unit: str
    range_m: float | None

    @property
    def moment(self) -> Moment | None:
        """The recorded time in full."""
        return read_moment(self.record.values.get("time"))


class Session:
    """One session: its typed bounds and what belongs to it."""

    __slots__ = ("end", "id", "meter", "record", "site", "start")

    def __init__(self, record: Record) -> None:
        self.record = record
        self.id = record.text("id") or ""
        self.meter = record.text("meter") or ""
        self.site = record.text("site") or ""
        self.start = read_moment(record.values.get("start"))
        self.end = read_moment(record.values.get("end"))

    @property
    def dates(self) -> tuple[date, date] | None:
        """First and last local date; None where a bound is unknown."""
        if self.start is None or self.end is None:
            return None
        return self.start.local.date(), self.end.local.date()

    @property
    def subject(self) -> str:
        """How findings name it."""
        return f"session {self.id}"

    def contains(self, at_s: float, slack_s: float = 0.0) -> bool:
        """Whether a time lies between start and end."""
        start, end = self.start, self.end
        if start is None or end is None or start.at_s is None or end.at_s is None:
            return False
        return start.at_s - slack_s <= at_s <= end.at_s + slack_s
