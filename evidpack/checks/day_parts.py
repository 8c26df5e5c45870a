"""Readings and sessions, each read once."""

from __future__ import annotations

from datetime import date
from typing import Final

from evidpack.checks.times import Moment, read_instant, read_moment
from evidpack.model.records import Record
from evidpack.model.values import JsonValue

_SPEEDS: Final = (("speed_mph", "mph"), ("speed_kmh", "km/h"), ("speed_mps", "m/s"))
_FOOT_M: Final = 0.3048


def _number(value: JsonValue) -> float | None:
    if isinstance(value, (int, float)) and value is not True and value is not False:
        return float(value)
    return None


class Reading:
    """One capture's reading, read once: speed in its exported unit, range in metres, time as
    seconds since 1970 UTC (None where it names no instant; `half_width_s` where it may mean two).
    """

    __slots__ = (
        "at_s",
        "half_width_s",
        "number",
        "range_m",
        "record",
        "session",
        "speed",
        "speed_unit",
    )

    def __init__(self, number: int, record: Record, session: str | None) -> None:
        # One of these is made for each reading of the day: cells are read without the getters.
        values = record.values
        self.number = number
        self.record = record
        self.session = session
        self.at_s, self.half_width_s = read_instant(values.get("time"))
        self.speed: float | None = None
        self.speed_unit = ""
        for name, unit in _SPEEDS:
            speed = values.get(name)
            if speed is not None:
                self.speed = _number(speed)
                self.speed_unit = unit
                break
        self.range_m = _number(values.get("range_m"))
        if self.range_m is None:
            feet = _number(values.get("range_ft"))
            self.range_m = None if feet is None else feet * _FOOT_M

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
