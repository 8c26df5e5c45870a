"""evidpack verify: the numbered steps, the three answers, the verdict."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime
from pathlib import Path

import click
from cryptography import x509

from evidpack.cli.screen import CAUTION, Progress, say, say_json
from evidpack.errors import UsageError
from evidpack.limits import MAX_PEM_BYTES, MAX_TOKEN_BYTES
from evidpack.trust.certificates import load_certificates
from evidpack.trust.revocation import load_crls
from evidpack.verifying.bundle import Options, verify_bundle
from evidpack.verifying.court_page import SENTENCES, answer_word, report_content
from evidpack.verifying.report import NOT_PROVED, Report, Step, StepOutcome
from evidpack.verifying.signing_steps import Trust

_EXAMPLE = """\b
Example:
  evidpack verify demo/bundle.zip --anchor demo/keys/authority.pem \\
      --tsa-anchor demo/keys/tsa-authority.pem

\b
Ends with
  0  verified (with --accept-claimed-time: the time only as claimed)
  1  does not verify
  3  intact, but signer or time not established
  2  wrong usage, or a path that cannot be read
"""

_File = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command(name="verify", epilog=_EXAMPLE)
@click.argument("file", type=_File)
@click.option(
    "--anchor",
    "anchors",
    multiple=True,
    type=_File,
    metavar="PEM",
    help="A certificate you trust for signers; may be given again.",
)
@click.option(
    "--tsa-anchor",
    "tsa_anchors",
    multiple=True,
    type=_File,
    metavar="PEM",
    help="A certificate you trust for time stamps; may be given again.",
)
@click.option(
    "--crl",
    "crls",
    multiple=True,
    type=_File,
    metavar="FILE",
    help="A revocation list (DER or PEM) to check the signer against.",
)
@click.option(
    "--time-stamp",
    type=_File,
    metavar="FILE",
    help="A time-stamp token that was kept apart from the bundle.",
)
@click.option(
    "--accept-claimed-time",
    is_flag=True,
    help="Accept the time that the sealer claims; the result says so.",
)
@click.option(
    "--no-recheck",
    is_flag=True,
    help="Do not read the originals again and re-run the checks (step 8).",
)
@click.option(
    "--report",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="OUT.pdf",
    help="Write the one-page report for the court. It is never written over another file.",
)
@click.option("--json", "as_json", is_flag=True, help="The same facts for machines.")
def command(
    file: Path,
    anchors: tuple[Path, ...],
    tsa_anchors: tuple[Path, ...],
    crls: tuple[Path, ...],
    time_stamp: Path | None,
    accept_claimed_time: bool,
    no_recheck: bool,
    report: Path | None,
    as_json: bool,
) -> int:
    """Verify FILE, a bundle: its container, contents, ledger, signature, signer and time."""
    if report is not None and report.exists():
        raise UsageError(
            "a file of that name exists already",
            path=str(report),
            hint="Give --report another name; nothing is overwritten.",
        )
    size = file.stat().st_size
    with Progress("verifying", size, quiet=as_json) as progress, file.open("rb") as stream:
        options = Options(
            now=datetime.now(UTC),
            trust=load_trust(anchors, tsa_anchors, crls),
            time_stamp=None if time_stamp is None else _read(time_stamp, MAX_TOKEN_BYTES),
            accept_claimed_time=accept_claimed_time,
            recheck=not no_recheck,
            file_sha256=_digest(file) if report is not None else None,
            on_bytes=progress.add,
        )
        result = verify_bundle(stream, path=str(file), size=size, options=options)
    if report is not None:
        _write_report(result, report)
    if as_json:
        say_json(result.to_json())
    else:
        print_report(result)
    return result.verdict.exit_code


def _digest(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _read(path: Path, limit: int) -> bytes:
    with path.open("rb") as stream:
        data = stream.read(limit + 1)
    if len(data) > limit:
        raise UsageError(
            "the file is larger than it can be",
            path=str(path),
            expected=f"at most {limit} bytes",
            observed="more",
        )
    return data


def load_trust(
    anchors: tuple[Path, ...], tsa_anchors: tuple[Path, ...], crls: tuple[Path, ...]
) -> Trust:
    """The certificates and revocation lists in these files, each file one or more."""

    def load(paths: tuple[Path, ...]) -> tuple[x509.Certificate, ...]:
        return tuple(
            certificate
            for path in paths
            for certificate in load_certificates(_read(path, MAX_PEM_BYTES), path=str(path))
        )

    return Trust(
        anchors=load(anchors),
        tsa_anchors=load(tsa_anchors),
        revocation_lists=tuple(
            crl for path in crls for crl in load_crls(_read(path, MAX_PEM_BYTES), path=str(path))
        ),
    )


def print_report(report: Report) -> None:
    """The report for a person: verdict first, then steps, answers, and what was not proved."""
    say(f"{report.verdict.value.upper()}: {report.path}")
    if report.statement_sha256 is not None:
        say(
            f"{report.kind} {report.reference}; seal statement SHA-256 {report.statement_sha256}",
            hanging=2,
        )
    say()
    for step in report.steps:
        _print_step(step)
    say()
    _print_answers(report)
    if report.certificates:
        say("Certificates (fingerprints are SHA-256, in the groups of the unit's sheet):")
        for one in report.certificates:
            say(f"{one.role}: {one.subject}", indent=2, hanging=2)
            say(one.fingerprint, indent=4)
        say()
    say("Not proved by this or any seal:")
    for text in NOT_PROVED:
        say(f"- {text}", indent=2, hanging=2)
    say()
    say(SENTENCES[report.verdict])
    say(CAUTION)


def _print_step(step: Step) -> None:
    say(
        f"{step.number} {step.title + ':':<12} {step.outcome.value.upper()}: {step.examined}",
        hanging=4,
    )
    for fault in step.faults:
        say(f"- {fault.item}: {fault.message}", indent=4, hanging=2)
        if fault.expected is not None:
            say(f"expected {fault.expected}", indent=6, hanging=2)
            say(f"found    {fault.observed}", indent=6, hanging=2)
    if step.next_step is not None and step.outcome is not StepOutcome.HOLDS:
        say(f"What to do: {step.next_step}", indent=4, hanging=2)


def _print_answers(report: Report) -> None:
    for whose, answers in report.answers.items():
        say(f"Three answers for the {whose}, kept apart:")
        for question, answer in (
            ("signature valid", answers.signature),
            ("signer known", answers.signer),
            ("time established", answers.time),
        ):
            say(f"{question + ':':<17} {answer_word(answer.outcome)}", indent=2)
        say()


def _write_report(result: Report, path: Path) -> None:
    from evidpack.index.report import build_report

    with path.open("xb") as stream:
        stream.write(build_report(report_content(result)))
