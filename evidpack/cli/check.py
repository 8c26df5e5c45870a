"""evidpack check: what a cross-examiner will find, while it can still be explained."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

import click

from evidpack.cli.findings import as_values, print_findings
from evidpack.cli.screen import mention, say, say_json
from evidpack.model.findings import Finding, Outcome

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

        text = explain_check(explain, gathered.intake.day, rule_set, later=later is not None)
        for line in text.splitlines():
            words = line.lstrip()
            say(words, indent=len(line) - len(words), hanging=2)
        return 0
    added = append_run(
        day.absolute().parent,
        at=now,
        rules=rule_set,
        rules_sha256=sha256(rules_file.data),
        findings=gathered.findings,
    )
    code = exit_code(gathered.findings)
    if as_json:
        said = as_values(gathered.intake.day, gathered.findings, rule_set)
        say_json({"run": added.number, "exit_code": code, **said})
    else:
        print_findings(gathered.intake.day, gathered.findings, rule_set)
        mention(f"Run {added.number} was added to {day.absolute().parent / FILE_NAME}.")
    if added.after_torn_line:
        mention(
            "The line before it was cut short, by a power cut perhaps. It stays as it is, and the "
            "seal will hold it as a line that could not be read."
        )
    return code


def exit_code(findings: Sequence[Finding]) -> int:
    """0 nothing adverse, 1 a fail, 3 a query or a required input missing."""
    adverse = [finding for finding in findings if finding.adverse]
    if any(finding.outcome is Outcome.FAIL for finding in adverse):
        return 1
    return 3 if adverse else 0
