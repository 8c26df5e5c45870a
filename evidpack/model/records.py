"""What intake hands on: records, and the items (files) that they came from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from enum import StrEnum
from typing import Literal, cast

from evidpack.model.fields import RecordKind
from evidpack.model.stamps import Stamp
from evidpack.model.units import LENGTH_SUFFIX, SPEED_SUFFIX, Length, LengthUnit, Speed, SpeedUnit
from evidpack.model.values import JsonValue

Origin = Literal["export", "office"]


class ItemKind(StrEnum):
    """What a file is."""

    STILL = "still"
    CLIP = "clip"
    LOG = "log"
    REPORT = "report"
    CERTIFICATE = "certificate"
    DOCUMENT = "document"
    AUDIO = "audio"
    DESCRIPTION = "description"
    PROFILE = "profile"
    RULES = "rules"
    UNIT = "unit"
    NOTES = "notes"
    RUN_LOG = "run_log"
    SEALING = "sealing"
    UNDESCRIBED = "undescribed"


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Source:
    """Where a record was read: `path` relative to the bundle's data folder (``export/…`` or
    ``office/…``), the first line of the row (1-based; None for a whole file), and the place of
    the record among those of the same line (0-based).
    """

    path: str
    line: int | None = None
    place: int = 0

    def __str__(self) -> str:
        return self.path if self.line is None else f"{self.path}:{self.line}"

    @property
    def order(self) -> tuple[str, int, int]:
        """A key by which records stand in the order in which they were read."""
        return self.path, self.line or 0, self.place


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One file of the day. `path` is relative to the bundle's data folder."""

    path: str
    kind: ItemKind
    origin: Origin
    size: int
    modified: datetime
    original_name: str | None = None  # where the name had to be made safe; hex where not UTF-8


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """One normalised row or document.

    `raw` holds each cell as exported, by column name; `values` the normalised values, named and
    typed as in `evidpack.model.fields`.
    """

    kind: RecordKind
    source: Source
    raw: Mapping[str, str] = field(default_factory=dict)
    values: Mapping[str, JsonValue] = field(default_factory=dict)

    def text(self, name: str) -> str | None:
        """A text value, or None where absent."""
        value = self.values.get(name)
        return value if isinstance(value, str) else None

    def integer(self, name: str) -> int | None:
        """An integer value, or None where absent."""
        value = self.values.get(name)
        return value if isinstance(value, int) and not isinstance(value, bool) else None

    def number(self, name: str) -> float | None:
        """A number, or None where absent."""
        value = self.values.get(name)
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            return None
        return float(value)

    def flag(self, name: str) -> bool | None:
        """True, false, or None where absent."""
        value = self.values.get(name)
        return value if isinstance(value, bool) else None

    def series(self, name: str) -> tuple[float, ...] | None:
        """A list of numbers, or None where absent."""
        value = self.values.get(name)
        if not isinstance(value, list):
            return None
        return tuple(float(cast("float", number)) for number in value)

    def stamp(self, name: str) -> Stamp | None:
        """A recorded time, or None where absent."""
        value = self.values.get(name)
        return None if value is None else Stamp.from_json(value)

    def speed(self, name: str) -> Speed | None:
        """A speed in the unit in which it was exported, or None where absent."""
        for unit, suffix in SPEED_SUFFIX.items():
            value = self.number(f"{name}_{suffix}")
            if value is not None:
                return Speed(value=_decimal(value), unit=cast("SpeedUnit", unit))
        return None

    def length(self, name: str) -> Length | None:
        """A length in the unit in which it was exported, or None where absent."""
        for unit, suffix in LENGTH_SUFFIX.items():
            value = self.number(f"{name}_{suffix}")
            if value is not None:
                return Length(value=_decimal(value), unit=cast("LengthUnit", unit))
        return None


def _decimal(value: float) -> Decimal:
    """The shortest decimal that reads back as this float: what the cell said."""
    return Decimal(int(value)) if value.is_integer() else Decimal(repr(value))
