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
    from evidpack.disclosure.pending import Pending
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
@click.option(
    "--bundle",
    type=_File,
    help="With --check: the bundle, so that new findings are told from those sealed and withheld.",
)
@click.option("--json", "as_json", is_flag=True, help="The same facts for machines.")
@pack_passphrase_option
def command(
    pack_a: Path,
    pack_b: Path,
    check: Path | None,
    bundle: Path | None,
    as_json: bool,
    passphrase_file: Path | None,
) -> int:
    """Compare PACK_A, the earlier issue, with PACK_B. Signers and times are not judged here."""
    from evidpack.disclosure.compare import compare_packs

    with plain_file(pack_a, passphrase_file) as one, plain_file(pack_b, passphrase_file) as other:
        earlier, later = (
            _opened(path, plain.stream) for path, plain in ((pack_a, one), (pack_b, other))
        )
        comparison = compare_packs(earlier, later)
        pending = () if check is None else _pending(later, check, bundle)
    if as_json:
        say_json(_as_json(comparison, pending))
    else:
        _print(comparison, pending, bundle=bundle)
    return 0


def _pending(pack: OpenedPack, check: Path, bundle: Path | None) -> Sequence[Pending]:
    """What a later check found and the pack does not show."""
    from evidpack.disclosure.pending import not_yet_disclosed
    from evidpack.disclosure.sealed_bundle import open_sealed_bundle

    if bundle is None:
        return not_yet_disclosed(pack, _findings(check))
    with bundle.open("rb") as stream:
        sealed = open_sealed_bundle(stream, path=str(bundle))
        origin = pack.required_statement().origin
        if sealed.statement_sha256 != origin:
            raise UsageError(
                "the packs were not made from this bundle",
                path=str(bundle),
                expected=origin.hex(),
                observed=sealed.statement_sha256.hex(),
            )
        return not_yet_disclosed(pack, _findings(check), bundle=sealed)


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


def _print(comparison: Comparison, pending: Sequence[Pending], *, bundle: Path | None) -> None:
    say(f"Issue {comparison.earlier_issue} → issue {comparison.later_issue}.")
    if comparison.same:
        say("This is one and the same pack.")
    elif not comparison.follows:
        say("The later one does not name the earlier one as the issue before it.")
    for change in comparison.changes:
        exhibit = "" if change.exhibit is None else f", exhibit {change.exhibit}"
        say(
            f"{change.how.upper()}: entry {change.entry}{exhibit}: {change.description} "
            f"({change.detail})",
            hanging=2,
        )
    say(f"{len(comparison.changes)} changed, {comparison.unchanged} as before.")
    for one in pending:
        finding = one.finding
        say(
            f"NOT YET DISCLOSED: finding of check {finding.get('check')}, {finding.get('subject')}: "
            f"{finding.get('outcome')}. {finding.get('sentence')}{_since(one, bundle)}",
            hanging=2,
        )
    if pending and bundle is None:
        say("Which of these are new and which were sealed and withheld is told with --bundle.")


def _since(pending: Pending, bundle: Path | None) -> str:
    if pending.entry is not None:
        return f" (sealed as entry {pending.entry}; {pending.became} in this issue)"
    return "" if bundle is None else " (new since the day was sealed)"


def _as_json(comparison: Comparison, pending: Sequence[Pending]) -> dict[str, JsonValue]:
    changes: list[JsonValue] = [change.to_json() for change in comparison.changes]
    findings: list[JsonValue] = [
        {**one.finding, "sealed_entry": one.entry, "became": one.became} for one in pending
    ]
    return {
        "earlier_issue": comparison.earlier_issue,
        "later_issue": comparison.later_issue,
        "follows": comparison.follows,
        "changes": changes,
        "unchanged": comparison.unchanged,
        "not_yet_disclosed": findings,
    }
