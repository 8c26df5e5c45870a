"""Makes docs/record-kinds.md from evidpack/model/fields.py.

    python -m tests.model.record_kinds_page > docs/record-kinds.md

A test compares the page with what this makes, so that it can't drift.
"""

from __future__ import annotations

import sys
from typing import Final

from evidpack.model.fields import FIELDS, Field, FieldType

_HEAD: Final = """\
# Record kinds and their fields

This page is made from the code by `python -m tests.model.record_kinds_page` and compared with it in
every test run.

A log's `record = "…"` names one of these kinds, and its `[log.fields]` map columns to the fields. A
table typed by hand (`[[deletion]]`, `[[site]]`, …) is named after the kind and has the same fields,
plus `typed_by` and `typed_from`.

| type | in a log | typed by hand | kept as |
|---|---|---|---|
| text | the cell, outer white space removed | `"…"` | text |
| integer, number | with the log's `decimal` sign | `7`, `0.5` | JSON number |
| flag | with a `map` to `true` and `false` | `true` | true or false |
| choice | one of the words listed, or through a `map` | one of the words | text |
| speed | `unit = "mph"`, `"km/h"` or `"m/s"` | `{ value = 71, unit = "mph" }`, or `speed_mph = 71` | `<name>_mph`, `_kmh` or `_mps` |
| length | `unit = "m"` or `"ft"` | `{ value = 50, unit = "m" }`, or `range_m = 50` | `<name>_m` or `_ft` |
| series | a list in one cell, `separator = ";"` | `[0.0, 0.01]` | list of JSON numbers |
| time | `format = "…"`: strptime letters, `rfc3339`, `unix-seconds` or `unix-milliseconds` | RFC 3339, or local in the day's zone | RFC 3339, or the reason why it is not one instant |
| date | `format = "…"` | `2026-05-14` | `YYYY-MM-DD` |
"""


def page() -> str:
    """The whole page."""
    parts = [_HEAD]
    for kind, fields in FIELDS.items():
        parts.append(f"\n## {kind.value}\n")
        parts.append("| field | type | required | what |\n|---|---|---|---|")
        parts.extend(_row(field) for field in fields.values())
    return "\n".join(parts) + "\n"


def _row(field: Field) -> str:
    required = "yes" if field.required else ""
    about = field.about
    if field.type is FieldType.CHOICE:
        about += ": " + ", ".join(f"`{choice}`" for choice in field.choices)
    return f"| `{field.name}` | {field.type.value} | {required} | {about} |"


if __name__ == "__main__":
    sys.stdout.write(page())
