"""Makes the table of failing machines in docs/threat-model.md.

    python -m tests.faults.table --write

A test compares the page with what this makes, and each test of a fault fails where it tries fewer
points than the table says.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Final

from tests.faults.figures import FAULTS

PAGE: Final = Path(__file__).parents[2] / "docs" / "threat-model.md"
_BEGIN: Final = "<!-- made by tests/faults/table.py: begin -->\n"
_END: Final = "<!-- made by tests/faults/table.py: end -->\n"


def table() -> str:
    """The table, between the marks that stand in the page."""
    rows = [
        f"| {one.fault} | {one.made_by} | {one.left} | `tests/faults/`: {one.tested_in} | "
        f"{one.tried or 'single cases'} |\n"
        for one in FAULTS
    ]
    head = "| fault | made by | what is left | tested in | points tried |\n|---|---|---|---|---|\n"
    return _BEGIN + head + "".join(rows) + _END


def written() -> str:
    """What stands in the page."""
    text = PAGE.read_text(encoding="utf-8")
    return text[text.index(_BEGIN) : text.index(_END) + len(_END)]


def main() -> None:
    """Print the table, or put it into the page."""
    if "--write" in sys.argv[1:]:
        text = PAGE.read_text(encoding="utf-8")
        PAGE.write_text(text.replace(written(), table()), encoding="utf-8")
    else:
        sys.stdout.write(table())


if __name__ == "__main__":
    main()
