"""Showing a check's computation: formula, limits with their sources, numbers, findings."""

from __future__ import annotations

from collections.abc import Iterator

from evidpack.checks.definition import Check
from evidpack.checks.formulas import FORMULAS, KEYS_READ
from evidpack.checks.look import Look
from evidpack.checks.registry import check, run_checks
from evidpack.checks.saying import measured_and_limit, shown_value
from evidpack.checks.workings import MAX_LINES, WORKINGS
from evidpack.model.day import Day
from evidpack.model.findings import Finding
from evidpack.rules.keys import INPUTS
from evidpack.rules.rule_values import RuleSet


def explain(number: str, day: Day, rules: RuleSet, *, later: bool = False) -> str:
    """How the check with this number comes to its findings about a day, as text of many lines.

    Raises UsageError where there is no such check.
    """
    one = check(number)
    look = Look(day, rules)
    return "\n".join(_lines(one, look, later=later)) + "\n"


def _lines(one: Check, look: Look, *, later: bool) -> Iterator[str]:
    yield f"Check {one.number}: {one.title} (version {one.version}, phase {one.phase.value})"
    yield f"Source: {one.source}"
    yield ""
    yield "Computation"
    yield from (f"  {line}" for line in FORMULAS[one.number])
    yield ""
    yield f"Limits, from rule set {look.rules.name}, {look.rules.edition}"
    for key in KEYS_READ.get(one.number, ()):
        value = look.rules.find(key)
        if value is not None:
            yield f"  {key} = {shown_value(value.json, value.unit)} ({value.cite})"
    if not any(look.rules.find(key) for key in KEYS_READ.get(one.number, ())):
        yield "  none"
    yield ""
    yield "Inputs"
    for name in one.inputs:
        word = "required" if look.rules.requires(name) else "not required"
        yield f"  {INPUTS[name]}: {word}"
    if not one.inputs:
        yield "  none"
    yield from _numbers(one, look)
    yield ""
    yield "Findings"
    for finding in run_checks(look.day, look.rules, later=later):
        if finding.check == one.number:
            yield from _finding(finding)


def _numbers(one: Check, look: Look) -> Iterator[str]:
    working = WORKINGS.get(one.number)
    if working is None:
        return
    yield ""
    yield "Numbers"
    count = 0
    for line in working(look):
        count += 1
        if count <= MAX_LINES:
            yield f"  {line}"
    if not count:
        yield "  none"
    if count > MAX_LINES:
        yield f"  … and {count - MAX_LINES} more lines of this kind"


def _finding(finding: Finding) -> Iterator[str]:
    mark = ", adverse" if finding.adverse else ""
    yield f"  {finding.outcome.value}{mark}: {finding.sentence}"
    if figures := measured_and_limit(finding):
        yield f"    {figures}"
    if finding.source is not None:
        yield f"    source: {finding.source}"
    if finding.advice is not None:
        yield f"    what to do: {finding.advice}"
