"""What a rule set is.  As a file it is TOML::

format = "evidpack-rules-1"
name = "general"
edition = "2026-1"
title = "…"
required = ["device_tests", …]

[values.distance_tolerance]
value = 0.3
unit = "m"
source = "…"
status = "published"
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

from evidpack.errors import DescriptionError
from evidpack.model.units import Length, Speed
from evidpack.model.values import JsonValue
from evidpack.rules.keys import INPUTS
from evidpack.rules.quantities import exact_length, exact_speed

Status = Literal["published", "common practice", "own measure", "example"]
STATUSES: Final = ("published", "common practice", "own measure", "example")
FORMAT: Final = "evidpack-rules-1"

RuleScalar = bool | int | float | str | tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleValue:
    """One value of a rule set, in `unit`, with its source and standing."""

    key: str
    value: RuleScalar
    unit: str
    source: str
    status: str

    @property
    def number(self) -> float:
        """The value as a float in `unit`. Raises DescriptionError where it is no number."""
        if isinstance(self.value, bool) or not isinstance(self.value, (int, float)):
            raise DescriptionError(f"{self.key} is not a number")
        return float(self.value)

    @property
    def whole(self) -> int:
        """The value as an int in `unit`. Raises DescriptionError where it is not whole."""
        if isinstance(self.value, bool) or not isinstance(self.value, int):
            raise DescriptionError(f"{self.key} is not a whole number")
        return self.value

    @property
    def flag(self) -> bool:
        """True where the value is the flag true."""
        return self.value is True

    @property
    def text(self) -> str:
        """The value as a text."""
        return str(self.value)

    @property
    def texts(self) -> tuple[str, ...]:
        """The value as a tuple of texts; a single text counts as one."""
        return self.value if isinstance(self.value, tuple) else (str(self.value),)

    @property
    def speed(self) -> Speed:
        """The value as a speed in its own unit."""
        return exact_speed(self.number, self.unit)

    @property
    def length(self) -> Length:
        """The value as a length in its own unit."""
        return exact_length(self.number, self.unit)

    @property
    def mps(self) -> float:
        """A speed value in metres per second."""
        return self.speed.mps

    @property
    def metres(self) -> float:
        """A length value in metres."""
        return self.length.metres

    @property
    def json(self) -> JsonValue:
        """The value as JSON has it."""
        return list(self.value) if isinstance(self.value, tuple) else self.value

    @property
    def cite(self) -> str:
        """The source and its standing, as findings print it."""
        if self.source.startswith(self.status):
            return self.source
        return f"{self.source} ({self.status})"


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleSet:
    """A validated rule set. `required` names inputs (`rules.keys.INPUTS`)."""

    name: str
    edition: str
    title: str
    required: frozenset[str]
    values: Mapping[str, RuleValue]

    def value(self, key: str) -> RuleValue:
        """The value under `key`. Raises DescriptionError where the rule set has none."""
        found = self.values.get(key)
        if found is None:
            raise DescriptionError(
                f"rule set {self.name} {self.edition} has no {key}",
                hint=f"add a table [values.{key}] with value, unit, source and status",
            )
        return found

    def find(self, key: str) -> RuleValue | None:
        """The value under `key`, or None."""
        return self.values.get(key)

    def requires(self, name: str) -> bool:
        """Whether the input `name` is required. Raises KeyError for a name not in INPUTS."""
        INPUTS[name]
        return name in self.required
