"""Findings as `evidpack check` prints them, for people and for machines."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Final

from evidpack.checks.earlier_runs import runs_text, superseded
from evidpack.checks.notes import Notes, note_line
from evidpack.checks.saying import measured_and_limit
from evidpack.cli.screen import CAUTION, say
from evidpack.model.day import Day
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding, Outcome
from evidpack.model.records import Record
from evidpack.model.values import JsonValue
from evidpack.rules.ruleset import RuleSet

_FIRST: Final = (Outcome.FAIL, Outcome.QUERY, Outcome.NOT_DETERMINABLE)
_SHOWN_SUPERSEDED: Final = 20


def as_values(day: Day, findings: Sequence[Finding], rules: RuleSet) -> dict[str, JsonValue]:
    """Everything that is printed and more: each finding whole with its notes, all notes, earlier
    runs and what they said that is not said any more."""
    notes = _notes(day)
    counts = Counter(finding.outcome.value for finding in findings)
    return {
        "rule_set": {"name": rules.name, "edition": rules.edition, "title": rules.title},
        "counts": {outcome.value: counts[outcome.value] for outcome in Outcome},
        "findings": [
            {**finding.to_values(), "notes": _values(notes.beside(finding))} for finding in findings
        ],
        "notes": _values(day.of(RecordKind.NOTE)),
        "earlier_runs": _values(day.of(RecordKind.PAST_RUN)),
        "superseded": _values(superseded(day, findings)),
        "caution": CAUTION,
    }


def _notes(day: Day) -> Notes:
    return Notes(day.of(RecordKind.NOTE), day.of(RecordKind.CAPTURE))


def _values(records: Iterable[Record]) -> list[JsonValue]:
    return [{**record.values, "source": str(record.source)} for record in records]


def print_findings(day: Day, findings: Sequence[Finding], rules: RuleSet) -> None:
    """The adverse first, one block each; then what could not be determined, notes that stand beside
    none of these, and earlier runs; then a count."""
    notes = _notes(day)
    adverse = [finding for finding in findings if finding.adverse]
    say(f"Checked against the rule set {rules.title} ({rules.edition}).")
    say()
    if not adverse:
        say("Nothing adverse.")
    for place, finding in enumerate(sorted(adverse, key=lambda one: _FIRST.index(one.outcome))):
        if place:
            say()
        _print_finding(finding)
        _print_notes(notes.beside(finding))
    _print_missing(findings, notes)
    _print_other_notes(notes.elsewhere(findings))
    _print_earlier(day, findings)
    say()
    counts = Counter(finding.outcome.value for finding in findings)
    say(", ".join(f"{counts[outcome.value]} {outcome.value}" for outcome in Outcome) + ".")
    say(CAUTION)


def _print_missing(findings: Sequence[Finding], notes: Notes) -> None:
    missing = [
        finding
        for finding in findings
        if finding.outcome is Outcome.NOT_DETERMINABLE and not finding.adverse
    ]
    if not missing:
        return
    say()
    say("Could not be determined, and not required by this rule set:")
    for finding in missing:
        say(f"- check {finding.check}, {finding.subject}: {finding.sentence}", indent=2, hanging=2)
        _print_notes(notes.beside(finding))


def _print_other_notes(notes: Sequence[Record]) -> None:
    if not notes:
        return
    say()
    say("Notes that stand beside none of these:")
    for note in notes:
        say(f"- about {note.text('subject') or 'the day'}. {note_line(note)}", indent=2, hanging=2)


def _print_earlier(day: Day, findings: Sequence[Finding]) -> None:
    """That earlier runs existed, and which of their findings this one does not have."""
    runs = day.of(RecordKind.PAST_RUN)
    if not runs:
        return
    gone = superseded(day, findings)
    say()
    word = "run" if len(runs) == 1 else "runs"
    say(f"{len(runs)} earlier {word} of the checks in the run log, superseded by this one.")
    silent = [run for run in runs if run.integer("adverse") and "new" not in run.values]
    if silent:
        say(f"The run log does not say what {len(silent)} of them found.")
    if not gone:
        say("No adverse finding of theirs has gone.")
        return
    say(
        f"Adverse then and not said any more, {len(gone)} in all; each is kept, and is to be "
        "considered for disclosure:"
    )
    for record in gone[:_SHOWN_SUPERSEDED]:
        say(
            f"- {runs_text(record)}, check {record.text('check')}, {record.text('subject')} "
            f"({record.text('outcome')}): {record.text('sentence')}",
            indent=2,
            hanging=2,
        )
    if len(gone) > _SHOWN_SUPERSEDED:
        say(f"- and {len(gone) - _SHOWN_SUPERSEDED} more, all of which --json gives", indent=2)


def _print_notes(notes: Sequence[Record]) -> None:
    for note in notes:
        say(note_line(note), indent=4, hanging=2)


def _print_finding(finding: Finding) -> None:
    say(f"{finding.outcome.value.upper()}  check {finding.check}, {finding.subject}", hanging=2)
    say(finding.sentence, indent=4)
    if figures := measured_and_limit(finding):
        say(figures, indent=4, hanging=2)
    if finding.source:
        say(f"Source of the limit: {finding.source}", indent=4, hanging=2)
    if finding.advice:
        say(f"What to do: {finding.advice}", indent=4, hanging=2)
