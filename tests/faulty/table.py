"""The table of faults in docs/checks.md.

python -m tests.faulty.table [--write]
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.faulty.corpus import FAULTS

DOCUMENT = Path(__file__).parents[2] / "docs" / "checks.md"
BEGIN, END = "<!-- faulty days: begin -->\n", "<!-- faulty days: end -->\n"


def text() -> str:
    """The table, one line a fault."""
    rows = [f"| `{one.name}` | {one.wrong} | {one.check} | {one.outcome} |" for one in FAULTS]
    return "\n".join(["| day | what is wrong | check | outcome |", "|---|---|---|---|", *rows, ""])


def in_document(document: str) -> str:
    """What stands between the two marks. Raises ValueError where they are missing."""
    return document[document.index(BEGIN) + len(BEGIN) : document.index(END)]


def written(document: str) -> str:
    """The document with the table of now, at its end where it had none."""
    if BEGIN not in document:
        head = "\n## Faulty days\n\nOne fault each, made by editing files of an invented export;"
        head += "\nnothing else is adverse. Written by `python -m tests.faulty.table --write`.\n\n"
        document = document + head + BEGIN + END
    start, end = document.index(BEGIN) + len(BEGIN), document.index(END)
    return document[:start] + text() + document[end:]


if __name__ == "__main__":
    if "--write" in sys.argv[1:]:
        DOCUMENT.write_text(written(DOCUMENT.read_text(encoding="utf-8")), encoding="utf-8")
    sys.stdout.write(text())
