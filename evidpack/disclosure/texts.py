"""The texts inside a value."""

from __future__ import annotations

from collections.abc import Iterable

from evidpack.model.values import JsonValue


def texts_in(value: JsonValue) -> Iterable[str]:
    """Every text inside a value."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, list):
        for one in value:
            yield from texts_in(one)
    elif isinstance(value, dict):
        for name, one in value.items():
            yield name
            yield from texts_in(one)
