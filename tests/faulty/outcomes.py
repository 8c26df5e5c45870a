"""What each check can answer, as docs/checks.md says, and who gives the answers that no file of the
corpus gives.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from pathlib import Path

from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding, Outcome
from evidpack.rules.ruleset import RuleSet
from tests.checks.days import GENERAL, MPH, Record, change, clean_records, day_of, is_a, record
from tests.checks.days import run_checks as run

DOCUMENT = Path(__file__).parents[2] / "docs" / "checks.md"


def documented(number: str) -> frozenset[Outcome]:
    """The outcomes that the section of a check lists behind ``Outcomes:``, each before what is said
    of it in brackets. Raises ValueError where there is no such list.
    """
    text = DOCUMENT.read_text(encoding="utf-8")
    section = re.search(rf"^## {number} .*?(?=^## )", text, flags=re.MULTILINE | re.DOTALL)
    listed = re.search(r"Outcomes: (.*?)(?:\n\n|\Z)", section[0] if section else "", re.DOTALL)
    if listed is None:
        raise ValueError(f"check {number} has no list of outcomes")
    plain = re.sub(r"\([^()]*\)", "", " ".join(listed[1].split()))
    names = [part.strip() for part in plain.partition(".")[0].split(";")]
    return frozenset(Outcome(name) for name in names)


def _clip() -> Iterable[Record]:
    path = "export/video/V1.mp4"
    return [
        record(RecordKind.CLIP, path, None, path=path, joined="session", captures=[],
               timing_fault="the clip has no video track")
    ]  # fmt: skip


def _unjoined() -> Iterable[Record]:
    return change(clean_records(1), is_a(RecordKind.STILL), joined="not declared", captures=[])


MADE_UP: dict[str, tuple[Callable[[], Iterable[Record]], RuleSet]] = {
    "a day without anything": (lambda: (), GENERAL),
    "a clean day before its deadlines": (lambda: clean_records(2), MPH),
    "a clip that can't be read": (_clip, GENERAL),
    "stills that nobody says how to join": (_unjoined, GENERAL),
}


def findings_of(name: str) -> tuple[Finding, ...]:
    """What all checks say of a day made up of records, with what came later."""
    records, rules = MADE_UP[name]
    return run(day_of(records()), rules, later=True)
