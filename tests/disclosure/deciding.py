"""Deciding a draft the way a person would, by editing its text."""

from __future__ import annotations

import re

from evidpack.disclosure.decisions import Decisions, load_decisions
from evidpack.disclosure.draft import draft_decisions
from evidpack.disclosure.sealed_bundle import SealedBundle

_TABLE = re.compile(r"^\[\[(?:class|entry)\]\]\n(?:(?!\n\[\[).*\n?)*", re.MULTILINE)


def filled(text: str, **case: str) -> str:
    """The draft with case, recipient and decider filled in, and all proposals taken."""
    values = {
        "case": "AB-12",
        "recipient": "Invented Defence",
        "decided_by": "C. Nobody",
        "decided_at": "2026-06-01T10:00:00+01:00",
    } | case
    for name, value in values.items():
        text = re.sub(rf'^{name} = "".*$', f'{name} = "{value}"', text, flags=re.MULTILINE)
    return _TABLE.sub(_taken, text)


def _taken(table: re.Match[str]) -> str:
    """A table whose proposal is taken as the decision."""
    text = table[0]
    proposed = re.search(r'^proposed = "(.*), (.*)"$', text, re.MULTILINE)
    if proposed is None:
        return text
    text = text.replace('use = "undecided"', f'use = "{proposed[2]}"')
    return text.replace('decision = "undecided"', f'decision = "{proposed[1]}"')


def with_entry(text: str, entry: int, table: str) -> str:
    """The text with an [[entry]] table for this entry, taken out of where it stood."""
    text = re.sub(rf"\n\[\[entry\]\]\nentry = {entry}\n(?:[^\n]+\n)*", "\n", text)
    text = re.sub(
        r'^entries = "(.*)"$', lambda found: _without(found, entry), text, flags=re.MULTILINE
    )
    return text + f"\n[[entry]]\nentry = {entry}\n{table}\n"


def _without(found: re.Match[str], entry: int) -> str:
    from evidpack.disclosure.decisions import format_ranges, parse_ranges

    numbers = parse_ranges(found[1])
    if entry not in numbers:
        return found[0]
    numbers.remove(entry)
    return f'entries = "{format_ranges(numbers)}"'


def decided(bundle: SealedBundle, captures: list[str], *edits: tuple[int, str]) -> Decisions:
    """All proposals taken, but for some entries decided by hand."""
    text = filled(draft_decisions(bundle, captures))
    for entry, table in edits:
        text = with_entry(text, entry, table)
    return load_decisions(text.encode(), path="decisions.toml")
