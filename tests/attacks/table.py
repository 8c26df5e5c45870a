"""The table of attacks in docs/threat-model.md: class, cases tried, refused, by which step.

python -m tests.attacks.table [--write]

Every case is run for the table: nothing in it is taken on trust.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from evidpack.verifying.report import STEP_TITLES
from tests.attacks.attack import Attack, complaint, report_on
from tests.attacks.families import all_attacks

DOCUMENT = Path(__file__).parents[2] / "docs" / "threat-model.md"
BEGIN, END = "<!-- attacks: begin -->\n", "<!-- attacks: end -->\n"


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """One attack, run: the step that must refuse it, and what was wrong with how it was met."""

    attack: Attack
    complaint: str | None


def run(attacks: Iterable[Attack]) -> list[Result]:
    """Run every attack once; its bytes are let go of, since all of them are many."""
    return [
        Result(attack=replace(attack, data=b""), complaint=complaint(attack, report_on(attack)))
        for attack in attacks
    ]


def text(results: Iterable[Result]) -> str:
    """The table, one line a class, and the sums."""
    classes: dict[tuple[str, str], list[Result]] = {}
    for result in results:
        attack = result.attack
        classes.setdefault((attack.family, attack.kind), []).append(result)
    rows = [_row(family, kind, found) for (family, kind), found in classes.items()]
    tried = sum(len(found) for found in classes.values())
    refused = sum(one.complaint is None for found in classes.values() for one in found)
    head = ["| family | what is tried | cases | refused | by step |", "|---|---|---|---|---|"]
    return "\n".join([*head, *rows, f"| all | | {tried} | {refused} | |", ""])


def _row(family: str, kind: str, found: list[Result]) -> str:
    steps = sorted({one.attack.step for one in found})
    shown = ", ".join(f"{step} {STEP_TITLES[step]}" for step in steps)
    refused = sum(one.complaint is None for one in found)
    return f"| {family} | {kind} | {len(found)} | {refused} | {shown} |"


def in_document(document: str) -> str:
    """What stands between the two marks. Raises ValueError where they are missing."""
    return document[document.index(BEGIN) + len(BEGIN) : document.index(END)]


def written(document: str, table: str) -> str:
    """The document with this table between its marks."""
    start, end = document.index(BEGIN) + len(BEGIN), document.index(END)
    return document[:start] + table + document[end:]


if __name__ == "__main__":
    results = run(all_attacks())
    for result in results:
        if result.complaint is not None:
            sys.stderr.write(f"NOT AS IT MUST BE: {result.attack.title}: {result.complaint}\n")
    table = text(results)
    if "--write" in sys.argv[1:]:
        DOCUMENT.write_text(written(DOCUMENT.read_text(encoding="utf-8"), table), encoding="utf-8")
    sys.stdout.write(table)
