"""The day as the checks see it: items and records, sorted by what they are about."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from evidpack.model.fields import RecordKind
from evidpack.model.records import Item, Record


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """A clock of the day. `zone` is an IANA name, ``UTC``, a fixed offset such as ``+01:00``, or
    None where nobody declared it; `resolution_s` is the smallest step that it shows, seconds.
    """

    name: str
    zone: str | None
    resolution_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Counter:
    """An image counter: numbers run from `first` to `modulus` − 1 and start again."""

    name: str
    modulus: int | None
    first: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Description:
    """What day.toml says of the day itself, so far as the checks need it."""

    reference: str
    unit: str
    date: date
    zone: str
    clocks: Mapping[str, Clock]
    counters: Mapping[str, Counter]
    log_clocks: Mapping[str, str]  # path of a log or still → name of the clock that stamped it


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """Everything the checks may look at."""

    description: Description
    items: tuple[Item, ...]
    records: Mapping[RecordKind, Sequence[Record]]
    now: datetime  # the time of the check or the claimed sealing time; aware

    def of(self, kind: RecordKind) -> Sequence[Record]:
        """The records of one kind, in ledger order."""
        return self.records.get(kind, ())


def sort_records(records: Iterable[Record]) -> Mapping[RecordKind, Sequence[Record]]:
    """Records by kind, each in the order of its source."""
    found: dict[RecordKind, list[Record]] = {}
    for record in records:
        found.setdefault(record.kind, []).append(record)
    return {kind: tuple(group) for kind, group in found.items()}
