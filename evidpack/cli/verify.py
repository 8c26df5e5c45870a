"""evidpack verify: the numbered steps, the three answers, the verdict."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime
from pathlib import Path

import click

from evidpack.cli.pack_files import pack_passphrase_option, plain_file
from evidpack.cli.screen import CAUTION, Progress, say, say_json
from evidpack.cli.trust_options import load_trust, read_limited, trust_options
from evidpack.errors import ContainerError, UsageError
from evidpack.limits import MAX_TOKEN_BYTES
from evidpack.verifying.any_file import unreadable, verify_file
from evidpack.verifying.bundle import Options
from evidpack.verifying.court_page import SENTENCES, answer_word, report_content
from evidpack.verifying.report import NOT_PROVED, Report, Step, StepOutcome

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
@trust_options
@click.option(
    "--time-stamp",
    type=_File,
    metavar="FILE",
    help="A time-stamp token that was kept apart from the bundle.",
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
@pack_passphrase_option
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
    passphrase_file: Path | None,
) -> int:
    """Verify FILE, a bundle, a pack or an encrypted pack: container, contents, ledger, signature,
    signer, time, and for a pack the accounting."""
    if report is not None and report.exists():
        raise UsageError(
            "a file of that name exists already",
            path=str(report),
            hint="Give --report another name; nothing is overwritten.",
        )
    with Progress("verifying", file.stat().st_size, quiet=as_json) as progress:
        options = Options(
            now=datetime.now(UTC),
            trust=load_trust(anchors, tsa_anchors, crls),
            time_stamp=None if time_stamp is None else read_limited(time_stamp, MAX_TOKEN_BYTES),
            accept_claimed_time=accept_claimed_time,
            recheck=not no_recheck,
            file_sha256=_digest(file) if report is not None else None,
            on_bytes=progress.add,
        )
        result = examine(file, passphrase_file, options)
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


def examine(file: Path, passphrase_file: Path | None, options: Options) -> Report:
    """The report on a file. One that cannot be decrypted fails step 1."""
    try:
        with plain_file(file, passphrase_file) as plain:
            return verify_file(plain.stream, path=str(file), size=plain.size, options=options)
    except ContainerError as error:
        return unreadable(error, path=str(file), size=file.stat().st_size, options=options)


def print_report(report: Report) -> None:
    """The report for a person: verdict first, then steps, answers, and what was not proved."""
    say(f"{report.verdict.value.upper()}: {report.path}")
    if report.statement_sha256 is not None:
        name = "disclosure statement" if report.origin_sha256 is not None else "seal statement"
        say(
            f"{report.kind} {report.reference}; {name} SHA-256 {report.statement_sha256}", hanging=2
        )
    if report.origin_sha256 is not None:
        say(f"from the seal statement SHA-256 {report.origin_sha256}", hanging=2)
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
        say(f"- {fault.place}: {fault.message}", indent=4, hanging=2)
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
    from evidpack.cli.new_files import write_new
    from evidpack.index.report import build_report

    write_new(path, build_report(report_content(result)))
