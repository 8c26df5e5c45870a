"""evidpack compare: what the later issue of a pack adds, changes or withdraws."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

import click

from evidpack.cli.pack_files import pack_passphrase_option, plain_file
from evidpack.cli.screen import say, say_json
from evidpack.cli.trust_options import read_limited
from evidpack.errors import UsageError
from evidpack.limits import MAX_TAG_FILE_BYTES
from evidpack.model.values import JsonValue

if TYPE_CHECKING:
    from evidpack.disclosure.compare import Comparison
    from evidpack.verifying.pack import OpenedPack

_EXAMPLE = """\b
Example:
  evidpack compare issue-1.zip issue-2.zip --check later.json
"""

_File = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command(name="compare", epilog=_EXAMPLE)
@click.argument("pack_a", type=_File)
@click.argument("pack_b", type=_File)
@click.option(
    "--check",
    type=_File,
    metavar="FINDINGS.json",
    help="What `evidpack check --json` says of the day now: findings that PACK_B does not disclose "
    "yet are pointed out.",
)
@click.option("--json", "as_json", is_flag=True, help="The same facts for machines.")
@pack_passphrase_option
def command(
    pack_a: Path, pack_b: Path, check: Path | None, as_json: bool, passphrase_file: Path | None
) -> int:
    """Compare PACK_A, the earlier issue, with PACK_B. Signers and times are not judged here."""
    from evidpack.disclosure.compare import compare_packs, not_yet_disclosed

    with plain_file(pack_a, passphrase_file) as one, plain_file(pack_b, passphrase_file) as other:
        earlier, later = (
            _opened(path, plain.stream) for path, plain in ((pack_a, one), (pack_b, other))
        )
        comparison = compare_packs(earlier, later)
        missing = not_yet_disclosed(later, [] if check is None else _findings(check))
    if as_json:
        say_json(_as_json(comparison, missing))
    else:
        _print(comparison, missing)
    return 0


def _opened(path: Path, stream: BinaryIO) -> OpenedPack:
    """A pack the accounting and contents of which hold. Raises UsageError otherwise."""
    from evidpack.container.zip_reader import read_archive
    from evidpack.verifying.pack import open_pack
    from evidpack.verifying.report import Step, StepOutcome

    opened = open_pack(read_archive(stream, path=str(path)), path=str(path))
    steps = (opened,) if isinstance(opened, Step) else (*opened.steps, opened.accounting)
    for step in steps:
        if step.outcome is not StepOutcome.HOLDS:
            raise UsageError(
                f"this is no pack that verifies (step {step.number}): "
                + (step.faults[0].message if step.faults else step.examined),
                path=str(path),
                hint=f"evidpack verify {path}",
            )
    if isinstance(opened, Step):  # a step alone is a failed one
        raise AssertionError  # noqa: TRY004
    return opened


def _findings(path: Path) -> list[dict[str, JsonValue]]:
    try:
        findings = json.loads(read_limited(path, MAX_TAG_FILE_BYTES))["findings"]
        return [dict(finding) for finding in findings]
    except (ValueError, KeyError, TypeError) as error:
        raise UsageError(
            "this is no output of `evidpack check --json`", path=str(path), hint=str(error)
        ) from error


def _print(comparison: Comparison, missing: Sequence[dict[str, JsonValue]]) -> None:
    say(f"Issue {comparison.earlier_issue} → issue {comparison.later_issue}.")
    if not comparison.follows:
        say("The later one does not name the earlier one as the issue before it.")
    for change in comparison.changes:
        exhibit = "" if change.exhibit is None else f", exhibit {change.exhibit}"
        say(
            f"{change.how.upper()}: entry {change.entry}{exhibit}: {change.description} "
            f"({change.detail})",
            hanging=2,
        )
    say(f"{len(comparison.changes)} changed, {comparison.unchanged} as before.")
    for finding in missing:
        say(
            f"NOT YET DISCLOSED: finding of check {finding.get('check')}, {finding.get('subject')}: "
            f"{finding.get('outcome')}",
            hanging=2,
        )


def _as_json(
    comparison: Comparison, missing: Sequence[dict[str, JsonValue]]
) -> dict[str, JsonValue]:
    changes: list[JsonValue] = [change.to_json() for change in comparison.changes]
    pending: list[JsonValue] = [*missing]
    return {
        "earlier_issue": comparison.earlier_issue,
        "later_issue": comparison.later_issue,
        "follows": comparison.follows,
        "changes": changes,
        "unchanged": comparison.unchanged,
        "not_yet_disclosed": pending,
    }
