"""The tables of faults in docs/checks.md.

python -m tests.faulty.table [--write]
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.faulty.corpus import COURT, FAULTS
from tests.faulty.packs import PACK_FAULTS

DOCUMENT = Path(__file__).parents[2] / "docs" / "checks.md"
BEGIN, END = "<!-- faulty days: begin -->\n", "<!-- faulty days: end -->\n"


def text() -> str:
    """Both tables: one line a fault, and one line a class of what went wrong in court."""
    rows = [
        f"| `{one.name}` | {one.wrong} | {one.check} | {one.outcome} | {', '.join(one.subjects)} |"
        for one in FAULTS
    ]
    rows += [
        f"| `{one.name}` | {one.wrong} | {one.check} | {one.outcome} | the pack |"
        for one in PACK_FAULTS
    ]
    classes = [f"| {what} | {', '.join(f'`{day}`' for day in days)} |" for what, days in COURT]
    return "\n".join(
        [
            "| day or pack | what is wrong | check | outcome | about |",
            "|---|---|---|---|---|",
            *rows,
            "",
            "What went wrong in court, by class, and the days and packs that stand for it:",
            "",
            "| class | days and packs |",
            "|---|---|",
            *classes,
            "",
        ]
    )


def in_document(document: str) -> str:
    """What stands between the two marks. Raises ValueError where they are missing."""
    return document[document.index(BEGIN) + len(BEGIN) : document.index(END)]


def written(document: str) -> str:
    """The document with the tables of now. Raises ValueError where the marks are missing."""
    start, end = document.index(BEGIN) + len(BEGIN), document.index(END)
    return document[:start] + text() + document[end:]


if __name__ == "__main__":
    if "--write" in sys.argv[1:]:
        DOCUMENT.write_text(written(DOCUMENT.read_text(encoding="utf-8")), encoding="utf-8")
    sys.stdout.write(text())
