"""evidpack check: what a cross-examiner will find, while it can still be explained."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

import click

from evidpack.cli.screen import CAUTION, mention, say, say_json
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding, Outcome
from evidpack.model.records import Record
from evidpack.model.values import JsonValue
from evidpack.rules.ruleset import RuleSet

_EXAMPLE = """\b
Example:
  evidpack check demo/day.toml

\b
Ends with
  0  nothing adverse
  1  a check fails
  3  a query, or an input that the rule set requires is missing
  2  wrong usage, or a path that cannot be read
"""

_File = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command(name="check", epilog=_EXAMPLE)
@click.argument("day", type=_File)
@click.option(
    "--rules", type=_File, metavar="FILE", help="A rule set; else the built-in general one."
)
@click.option(
    "--explain",
    metavar="CHECK",
    help="Show how one check (such as 6) was computed, with its numbers and sources.",
)
@click.option(
    "--later",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    metavar="DIR",
    help="A folder of tables that came after the day: events, later certificates.",
)
@click.option("--json", "as_json", is_flag=True, help="The same facts for machines.")
def command(
    day: Path, rules: Path | None, explain: str | None, later: Path | None, as_json: bool
) -> int:
    """Check the day described in DAY (a day.toml) and say what is adverse first.

    Each run adds one line to the run log (runs.jsonl) beside DAY, which the seal includes.  A note
    in notes.toml is shown beside the finding that its subject names; it removes nothing.
    """
    from evidpack.proof.digests import sha256
    from evidpack.sealing.gather import gather_day, rule_file
    from evidpack.sealing.run_log import FILE_NAME, append_run

    now = datetime.now(UTC).replace(microsecond=0)
    rules_file = rule_file(rules)
    gathered = gather_day(day, rules_file, now=now, later=later)
    rule_set = gathered.required_rules()
    if explain is not None:
        from evidpack.checks.explain import explain as explain_check

        say(explain_check(explain, gathered.intake.day, rule_set, later=later is not None))
        return 0
    number = append_run(
        day.absolute().parent,
        at=now,
        rules=rule_set,
        rules_sha256=sha256(rules_file.data),
        findings=gathered.findings,
    )
    code = exit_code(gathered.findings)
    if as_json:
        say_json(_as_json(gathered.findings, rule_set, number, code))
    else:
        notes = gathered.intake.day.of(RecordKind.NOTE)
        print_findings(gathered.findings, rule_set, notes)
        mention(f"Run {number} was added to {day.absolute().parent / FILE_NAME}.")
    return code


def exit_code(findings: Sequence[Finding]) -> int:
    """0 nothing adverse, 1 a fail, 3 a query or a required input missing."""
    adverse = [finding for finding in findings if finding.adverse]
    if any(finding.outcome is Outcome.FAIL for finding in adverse):
        return 1
    return 3 if adverse else 0


def _as_json(
    findings: Sequence[Finding], rules: RuleSet, number: int, code: int
) -> dict[str, JsonValue]:
    counts = Counter(finding.outcome.value for finding in findings)
    return {
        "run": number,
        "rule_set": {"name": rules.name, "edition": rules.edition, "title": rules.title},
        "exit_code": code,
        "counts": {outcome.value: counts[outcome.value] for outcome in Outcome},
        "findings": [finding.to_values() for finding in findings],
        "caution": CAUTION,
    }


_FIRST = (Outcome.FAIL, Outcome.QUERY, Outcome.NOT_DETERMINABLE)


def print_findings(
    findings: Sequence[Finding], rules: RuleSet, notes: Sequence[Record] = ()
) -> None:
    """The adverse first, one block each; then what could not be determined; then a count."""
    adverse = [finding for finding in findings if finding.adverse]
    say(f"Checked against the rule set {rules.title} ({rules.edition}).")
    say()
    if not adverse:
        say("Nothing adverse.")
    for outcome in _FIRST:
        for finding in adverse:
            if finding.outcome is outcome:
                _print_finding(finding)
                for note in notes:
                    if is_about(note, finding):
                        _print_note(note)
    missing = [
        finding
        for finding in findings
        if finding.outcome is Outcome.NOT_DETERMINABLE and not finding.adverse
    ]
    if missing:
        say()
        say("Could not be determined, and not required by this rule set:")
        for finding in missing:
            say(
                f"- check {finding.check}, {finding.subject}: {finding.sentence}",
                indent=2,
                hanging=2,
            )
    say()
    counts = Counter(finding.outcome.value for finding in findings)
    say(", ".join(f"{counts[outcome.value]} {outcome.value}" for outcome in Outcome) + ".")
    say(CAUTION)


def is_about(note: Record, finding: Finding) -> bool:
    """A note is about a finding where its subject names the check, what was examined, or both."""
    check = f"check {finding.check}"
    return note.text("subject") in (check, finding.subject, f"{check}, {finding.subject}")


def _print_note(note: Record) -> None:
    moment = note.stamp("time")
    when = "" if moment is None else f", {moment.local.isoformat(' ', 'minutes')}"
    say(f"Note by {note.text('by')}{when}: {note.text('text')}", indent=4, hanging=2)


def _print_finding(finding: Finding) -> None:
    say(f"{finding.outcome.value.upper()}  check {finding.check}, {finding.subject}", hanging=2)
    say(finding.sentence, indent=4)
    if finding.measured is not None or finding.limit is not None:
        unit = f" {finding.unit}" if finding.unit else ""
        shown = [
            f"{name} {value}{unit}"
            for name, value in (("measured", finding.measured), ("limit", finding.limit))
            if value is not None
        ]
        say("; ".join(shown), indent=4)
    if finding.source:
        say(f"Source of the limit: {finding.source}", indent=4, hanging=2)
    if finding.advice:
        say(f"What to do: {finding.advice}", indent=4, hanging=2)
