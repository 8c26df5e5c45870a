"""evidpack disclose: from decisions to a signed pack, plain or encrypted."""

from __future__ import annotations

import json
import secrets
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from evidpack.cli.pack_files import plain_file
from evidpack.cli.passphrases import passphrase, passphrase_option
from evidpack.cli.screen import megabytes, mention, say, say_json
from evidpack.cli.sealing_choices import load_signer
from evidpack.cli.trust_options import read_limited
from evidpack.errors import UsageError
from evidpack.limits import MAX_DESCRIPTION_BYTES
from evidpack.trust.tsa_client import fetch_token

if TYPE_CHECKING:
    from evidpack.disclosure.decisions import Decisions
    from evidpack.disclosure.earlier import EarlierPack
    from evidpack.disclosure.publishing import Published
    from evidpack.disclosure.sealed_bundle import SealedBundle
    from evidpack.model.findings import Finding
    from evidpack.model.values import JsonValue
    from evidpack.proof.disclosure_statement import EarlierVerification

_EXAMPLE = """\b
Example:
  evidpack disclose demo/bundle.zip --decisions demo/decisions.toml --key demo/keys/signer.key \\
      --cert demo/keys/signer.pem --passphrase-file demo/keys/passphrase.txt -o pack.zip
"""

_File = click.Path(exists=True, dir_okay=False, path_type=Path)
_New = click.Path(dir_okay=False, path_type=Path)


@click.command(name="disclose", epilog=_EXAMPLE)
@click.argument("bundle", type=_File, metavar="BUNDLE")
@click.option(
    "--decisions", required=True, type=_File, metavar="TOML", help="What was decided of each entry."
)
@click.option("--key", required=True, type=_File, metavar="PEM", help="The discloser's key.")
@click.option("--cert", required=True, type=_File, metavar="PEM", help="Its certificate.")
@click.option("--chain", type=_File, metavar="PEM", help="Intermediate certificates.")
@click.option("--tsa", metavar="URL", help="Where to get a time stamp (RFC 3161).")
@click.option(
    "--verified",
    type=_File,
    metavar="REPORT.json",
    help="The report of `evidpack verify --json` on this bundle: the pack then says whether, when "
    "and by which report the bundle was verified.",
)
@click.option("--previous", type=_File, metavar="PACK", help="The issue before this one.")
@click.option("--encrypt", is_flag=True, help="Encrypt the pack; needs --slip.")
@click.option(
    "--slip",
    type=_New,
    metavar="PATH",
    help="Where the slip with the passphrase goes (PATH.pdf and PATH.txt).",
)
@click.option(
    "--slip-beside",
    is_flag=True,
    help="Allow the slip in the pack's own folder, from where it must not be sent along.",
)
@click.option(
    "--sensitive",
    type=_New,
    metavar="PATH",
    help="Where the prosecutor's schedule of sensitive material goes.",
)
@click.option(
    "-o",
    "--output",
    required=True,
    type=_New,
    metavar="PACK.zip",
    help="Where to write. Nothing is overwritten.",
)
@click.option("--json", "as_json", is_flag=True, help="The same facts for machines.")
@passphrase_option
def command(
    bundle: Path,
    decisions: Path,
    key: Path,
    cert: Path,
    chain: Path | None,
    tsa: str | None,
    verified: Path | None,
    previous: Path | None,
    encrypt: bool,
    slip: Path | None,
    slip_beside: bool,
    sensitive: Path | None,
    output: Path,
    as_json: bool,
    passphrase_file: Path | None,
) -> int:
    """Make a pack from BUNDLE: exactly what was decided, proved, and nothing else."""
    from evidpack.disclosure.decisions import load_decisions
    from evidpack.disclosure.publishing import Publication, publish
    from evidpack.disclosure.sealed_bundle import open_sealed_bundle

    if encrypt != (slip is not None):
        raise UsageError(
            "an encrypted pack and its slip go together",
            hint="--encrypt --slip PATH     the slip goes another way than the pack",
        )
    signer = load_signer(
        key, cert, chain, lambda: passphrase(passphrase_file, prompt=f"Passphrase of {key}")
    )
    decided = load_decisions(read_limited(decisions, MAX_DESCRIPTION_BYTES), path=str(decisions))
    with bundle.open("rb") as stream:
        sealed = open_sealed_bundle(stream, path=str(bundle))
        made = publish(
            sealed,
            decided,
            Publication(
                bundle=bundle,
                signer=signer,
                output=output,
                slip=slip,
                slip_beside=slip_beside,
                sensitive=sensitive,
                now=datetime.now(UTC).replace(microsecond=0),
                random=secrets.token_bytes,
                time_stamp=None
                if tsa is None
                else lambda signature: fetch_token(tsa, signature, nonce=secrets.randbits(64)),
                verification=_verification(verified, sealed),
                earlier=_earlier(previous, sealed, decided),
            ),
        )
    report_published(made, output, as_json=as_json)
    return 0


def _verification(path: Path | None, sealed: SealedBundle) -> EarlierVerification | None:
    """What a report of `verify --json` says, if it is about this seal."""
    from evidpack.proof.digests import sha256
    from evidpack.proof.disclosure_statement import EarlierVerification
    from evidpack.verifying.report import Verdict

    if path is None:
        return None
    data = read_limited(path, MAX_DESCRIPTION_BYTES)
    try:
        report = json.loads(data)
        about, verdict = report["statement_sha256"], Verdict(report["verdict"]).value
        at = datetime.fromisoformat(report["verified_at"])
    except (ValueError, KeyError, TypeError) as error:
        raise UsageError(
            "this is no report of `evidpack verify --json`", path=str(path), hint=str(error)
        ) from error
    if about != sealed.statement_sha256.hex():
        raise UsageError(
            "the report is about another seal",
            path=str(path),
            expected=sealed.statement_sha256.hex(),
            observed=str(about),
        )
    return EarlierVerification(report=sha256(data), verdict=verdict, at=at)


def _earlier(path: Path | None, sealed: SealedBundle, decided: Decisions) -> EarlierPack | None:
    from evidpack.disclosure.earlier import earlier_pack

    if path is None:
        return None
    with plain_file(path, None) as plain:
        return earlier_pack(plain.stream, path=str(path), bundle=sealed, decisions=decided)


def report_published(made: Published, output: Path, *, as_json: bool) -> None:
    """What was made, and what to do with it."""
    if as_json:
        say_json(_as_values(made, output))
        return
    statement = made.pack.statement
    say(f"Made {output} ({megabytes(made.file_size)}), issue {statement.issue}, {statement.pack}.")
    said = ", ".join(f"{count} {name}" for name, count in statement.accounting.items() if count)
    say(f"{sum(statement.accounting.values())} sealed entries: {said}.")
    say("SHA-256 of the file:")
    say(made.file_sha256, indent=2)
    for path in made.slips:
        say(f"Slip with the passphrase: {path}. Send it another way than the pack.")
    _say_copies(made.pack.redaction_findings)
    _remark(made)


def _as_values(made: Published, output: Path) -> dict[str, JsonValue]:
    statement = made.pack.statement
    return {
        "pack": str(output),
        "reference": statement.pack,
        "issue": statement.issue,
        "statement_sha256": made.pack.statement_sha256,
        "sha256": made.file_sha256,
        "bytes": made.file_size,
        "accounting": dict(statement.accounting),
        "slip": [str(path) for path in made.slips],
        "same_issue": [*made.same_issue],
        "sensitive": len(made.pack.plan.sensitive),
        "redaction_findings": [one.to_values() for one in made.pack.redaction_findings],
    }


def _say_copies(findings: Sequence[Finding]) -> None:
    """What check 19 says of the redacted copies; one that failed is not given out."""
    from evidpack.model.findings import Outcome

    passed = sum(one.outcome is Outcome.PASS for one in findings)
    if passed:
        copies = "1 redacted copy holds" if passed == 1 else f"{passed} redacted copies hold"
        say(f"Check 19: {copies} pixels and nothing else, every region asked for covered.")
    for finding in findings:
        if finding.adverse:
            say(f"Check {finding.check}, {finding.subject}: {finding.sentence}", hanging=2)


def _remark(made: Published) -> None:
    """What whoever made the pack may have forgotten."""
    statement = made.pack.statement
    if made.pack.plan.sensitive:
        mention(
            f"{len(made.pack.plan.sensitive)} sensitive entries stand in the prosecutor's schedule; "
            "in the pack they look like any other withheld one."
        )
    if made.same_issue:
        mention(
            f"The release log has issue {statement.issue} for this case and recipient already: "
            f"{', '.join(made.same_issue)}. If this pack follows on it, make it again with "
            "--previous: exhibits keep their numbers, and the pack says what it changes."
        )
    if statement.verification is None:
        mention(
            "The pack does not say that the bundle was verified before. Give --verified with the "
            "report of `evidpack verify --json`, so that it does."
        )
