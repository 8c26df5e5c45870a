"""TOML tables as an office types them."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Final, NamedTuple

from evidpack.demo import places

_HEAD: Final = "# Invented for a demonstration: no such unit, person, meter or place exists.\n"

Scalar = str | int | float | bool


class Table(NamedTuple):
    """One table of an array of tables."""

    name: str
    values: dict[str, Scalar]


def typed_from(source: str) -> dict[str, Scalar]:
    """Who typed a table, and from which document."""
    return {"typed_by": places.CLERK, "typed_from": source}


def tables_text(tables: Iterable[Table]) -> str:
    """The tables as TOML."""
    parts = []
    for name, values in tables:
        lines = [f"{key} = {_scalar(value)}" for key, value in values.items()]
        parts.append("\n".join((f"[[{name}]]", *lines, "")))
    return "\n" + "\n".join(parts)


def write_toml(path: Path, text: str) -> None:
    """Writes a file that says first that it is invented."""
    path.write_bytes((_HEAD + text).encode("utf-8"))


def _scalar(value: Scalar) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return f'"{value}"' if isinstance(value, str) else repr(value)
