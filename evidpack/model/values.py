"""The values that a record, a finding or a statement may hold: what JSON can say, and no more."""

from __future__ import annotations

from typing import TypeAlias, Union

JsonValue: TypeAlias = Union[None, bool, int, float, str, list["JsonValue"], dict[str, "JsonValue"]]
