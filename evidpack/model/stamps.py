"""A recorded time, and what it can honestly be said to mean.

A stamp is kept as it was recorded.  Where a local time is ambiguous (clocks went back) or does
not exist (clocks went forward), or no zone was declared, the stamp says so and nothing is
silently resolved (PEP 495: fold 0 is the earlier instant, fold 1 the later).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from evidpack.model.values import JsonValue


class StampStatus(StrEnum):
    """Whether a recorded time names one instant."""

    DETERMINED = "determined"
    AMBIGUOUS = "ambiguous"
    NONEXISTENT = "nonexistent"
    NO_ZONE = "no zone"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """A recorded time.

    `local` is naive, as the clock showed it.  `instants` holds the aware times (offset as in the
    declared zone) that it may mean: one when determined, two when ambiguous (earlier first),
    none otherwise.
    """

    local: datetime
    status: StampStatus
    instants: tuple[datetime, ...]

    @property
    def determined(self) -> datetime | None:
        """The one instant, or None where the stamp does not name one."""
        return self.instants[0] if self.status is StampStatus.DETERMINED else None

    def to_json(self) -> JsonValue:
        """An RFC 3339 text where determined, else an object that says why not."""
        if self.status is StampStatus.DETERMINED:
            return self.instants[0].isoformat()
        return {
            "local": self.local.isoformat(),
            "status": self.status.value,
            "instants": [instant.isoformat() for instant in self.instants],
        }

    @classmethod
    def from_json(cls, value: JsonValue) -> Stamp:
        """The inverse of `to_json`. Raises ValueError for any other shape."""
        if isinstance(value, str):
            return cls.at(datetime.fromisoformat(value))
        if not isinstance(value, dict) or set(value) != {"local", "status", "instants"}:
            raise ValueError("a time is RFC 3339 text or {local, status, instants}")
        instants = value["instants"]
        if not isinstance(instants, list):
            raise ValueError("instants is a list")  # noqa: TRY004
        return cls(
            local=datetime.fromisoformat(str(value["local"])),
            status=StampStatus(str(value["status"])),
            instants=tuple(datetime.fromisoformat(str(instant)) for instant in instants),
        )

    @classmethod
    def at(cls, instant: datetime) -> Stamp:
        """A stamp that names exactly this aware time. Raises ValueError for a naive one."""
        if instant.tzinfo is None:
            raise ValueError("an instant needs an offset")
        return cls(
            local=instant.replace(tzinfo=None, fold=0),
            status=StampStatus.DETERMINED,
            instants=(instant,),
        )
