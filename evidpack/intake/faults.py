"""Collects every fault of a description, so that one run shows all of them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

from evidpack.errors import DescriptionError
from evidpack.intake.toml_lines import KeyPath, TomlText
from evidpack.limits import MAX_DESCRIPTION_FAULTS


class DescriptionFaultsError(DescriptionError):
    """One or more faults of a description; `faults` holds each with its line and hint."""

    def __init__(self, faults: Iterable[DescriptionError]) -> None:
        self.faults = tuple(faults)
        first = self.faults[0]
        message = first.message
        if len(self.faults) > 1:
            others = "\n".join(f"  {fault}" for fault in self.faults[1:])
            message = f"{message}\n{len(self.faults) - 1} more:\n{others}"
        super().__init__(
            message,
            path=first.path,
            line=first.line,
            expected=first.expected,
            observed=first.observed,
            hint=first.hint,
        )


class Faults:
    """The faults found so far."""

    def __init__(self) -> None:
        self._found: list[DescriptionError] = []

    def add(self, message: str, *, path: str, line: int | None, hint: str) -> None:
        """Notes a fault. `hint` is a correct example. Raises as `keep` does."""
        self.keep(DescriptionError(message, path=path, line=line, hint=hint))

    def keep(self, error: DescriptionError) -> None:
        """Notes a fault that was raised elsewhere.

        Raises DescriptionFaultsError with those noted once they are MAX_DESCRIPTION_FAULTS:
        nobody reads more, and a hostile file could hold millions.
        """
        self._found.append(error)
        if len(self._found) >= MAX_DESCRIPTION_FAULTS:
            self.raise_any()

    def __len__(self) -> int:
        return len(self._found)

    def raise_any(self) -> None:
        """Raises DescriptionFaultsError where anything was noted."""
        if self._found:
            raise DescriptionFaultsError(
                sorted(self._found, key=lambda fault: (fault.path or "", fault.line or 0))
            )


class TableReader:
    """Reads the keys of one table, noting what is wrong and going on."""

    def __init__(self, toml: TomlText, key: KeyPath, table: Any, faults: Faults) -> None:
        self.toml = toml
        self.key = key
        self.faults = faults
        self.table: Mapping[str, Any] = table if isinstance(table, Mapping) else {}
        if not isinstance(table, Mapping):
            self.fault("this is not a table", hint='a table has keys: { column = "Speed" }')

    @property
    def line(self) -> int | None:
        """The line of the table's header; the first of the file for the file itself."""
        return self.toml.line(*self.key) if self.key else 1

    def fault(self, message: str, *, name: str | None = None, hint: str) -> None:
        """Notes a fault at a key of this table, or at the table."""
        line = self.toml.line(*self.key, name) if name is not None else self.line
        self.faults.add(message, path=self.toml.path, line=line, hint=hint)

    def only(self, allowed: Iterable[str], *, what: str) -> None:
        """Notes each key that is none of those allowed."""
        names = sorted(allowed)
        for name in self.table:
            if name not in names:
                self.fault(
                    f"{what} has no key {name!r}", name=name, hint=f"keys: {', '.join(names)}"
                )

    def text(self, name: str, *, hint: str, required: bool = False) -> str | None:
        """A text that is not blank, or None."""
        value = self._value(name, required=required, hint=hint)
        if value is None:
            return None
        if not isinstance(value, str):
            self.fault(f"{name} must be a text in quotes", name=name, hint=hint)
            return None
        if required and not value.strip():
            self.fault(f"{name} is empty", name=name, hint=hint)
            return None
        return value

    def choice(
        self, name: str, choices: Iterable[str], *, hint: str, required: bool = False
    ) -> str | None:
        """One of some texts, or None."""
        value = self.text(name, hint=hint, required=required)
        known = tuple(choices)
        if value is not None and value not in known:
            self.fault(
                f"{name} is {value!r}, which is none of: {', '.join(known)}", name=name, hint=hint
            )
            return None
        return value

    def number(self, name: str, *, hint: str, required: bool = False) -> float | None:
        """A finite number, which may stand in quotes (as a confirmed guess does), or None."""
        value = self._value(name, required=required, hint=hint)
        if isinstance(value, str):
            try:
                value = float(value) if len(value) <= 32 and value.isascii() else None
            except ValueError:
                value = None
            if value is None:
                self.fault(f"{name} must be a number", name=name, hint=hint)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            self.fault(f"{name} must be a number", name=name, hint=hint)
            return None
        if abs(value) > 1e15 or not math.isfinite(value):
            self.fault(f"{name} is out of bounds", name=name, hint=hint)
            return None
        return float(value)

    def integer(
        self, name: str, *, hint: str, least: int = 0, required: bool = False
    ) -> int | None:
        """A whole number, or None."""
        value = self.number(name, hint=hint, required=required)
        if value is None:
            return None
        if not value.is_integer() or value < least:
            self.fault(f"{name} must be a whole number from {least}", name=name, hint=hint)
            return None
        return int(value)

    def texts(self, name: str, *, hint: str) -> tuple[str, ...] | None:
        """A list of texts, or None."""
        value = self.table.get(name)
        if value is None:
            return None
        if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
            self.fault(f"{name} must be a list of texts", name=name, hint=hint)
            return None
        return tuple(value)

    def tables(self, name: str, *, hint: str) -> tuple[TableReader, ...]:
        """The tables of ``[[name]]``."""
        value = self.table.get(name)
        if value is None:
            return ()
        if not isinstance(value, list):
            self.fault(f"{name} must be written as [[{name}]]", name=name, hint=hint)
            return ()
        return tuple(
            TableReader(self.toml, (*self.key, name, number), one, self.faults)
            for number, one in enumerate(value)
        )

    def _value(self, name: str, *, required: bool, hint: str) -> Any:
        value = self.table.get(name)
        if value is None and required:
            self.fault(f"{name} is missing", hint=hint)
        return value
