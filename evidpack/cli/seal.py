"""evidpack seal: a described day, or a folder to be described later, into a signed bundle."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import click

from evidpack.cli.passphrases import passphrase, passphrase_option
from evidpack.cli.screen import Progress, megabytes, mention, say, say_json
from evidpack.cli.sealing_choices import load_signer, previous_statement
from evidpack.errors import UsageError
from evidpack.sealing.gather import gather_day, gather_undescribed, rule_file, sealing_note
from evidpack.sealing.order import SealOrder
from evidpack.sealing.seal import Sealed, seal
from evidpack.trust.tsa_client import fetch_token

_EXAMPLE = """\b
Example:
  evidpack seal demo/day.toml --key demo/keys/signer.key --cert demo/keys/signer.pem \\
      --passphrase-file demo/keys/passphrase.txt --no-time-stamp -o sealed.zip
"""

_File = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command(name="seal", epilog=_EXAMPLE)
@click.argument("source", type=click.Path(exists=True, path_type=Path), metavar="DAY.toml")
@click.option(
    "--undescribed",
    is_flag=True,
    help="SOURCE is a folder: secure its files now, describe and check them later.",
)
@click.option("--reference", metavar="TEXT", help="With --undescribed: the day reference.")
@click.option("--key", required=True, type=_File, metavar="PEM", help="The signing key.")
@click.option("--cert", required=True, type=_File, metavar="PEM", help="Its certificate.")
@click.option("--chain", type=_File, metavar="PEM", help="Intermediate certificates.")
@click.option("--tsa", metavar="URL", help="Where to get a time stamp (RFC 3161).")
@click.option("--no-time-stamp", is_flag=True, help="Seal with the time only as claimed.")
@click.option(
    "--rules", type=_File, metavar="FILE", help="A rule set; else the built-in general one."
)
@click.option(
    "--corrects", type=_File, metavar="BUNDLE", help="An earlier bundle that this corrects."
)
@click.option("--supplements", type=_File, metavar="BUNDLE", help="An earlier bundle this adds to.")
@click.option(
    "--describes", type=_File, metavar="BUNDLE", help="The undescribed bundle of the same files."
)
@click.option("--reason", metavar="TEXT", help="Why. It is signed: name no person in it.")
@click.option(
    "--no-pixel-proof",
    is_flag=True,
    help="Do not commit to the pixels of stills; redacted copies can then not be proved.",
)
@click.option(
    "--paper",
    type=click.Choice(["A4", "Letter"]),
    default="A4",
    show_default=True,
    help="Paper of the index.",
)
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="BUNDLE.zip",
    help="Where to write. Nothing is overwritten.",
)
@click.option("--json", "as_json", is_flag=True, help="The same facts for machines.")
@passphrase_option
def command(
    source: Path,
    undescribed: bool,
    reference: str | None,
    key: Path,
    cert: Path,
    chain: Path | None,
    tsa: str | None,
    no_time_stamp: bool,
    rules: Path | None,
    corrects: Path | None,
    supplements: Path | None,
    describes: Path | None,
    reason: str | None,
    no_pixel_proof: bool,
    paper: str,
    output: Path,
    as_json: bool,
    passphrase_file: Path | None,
) -> int:
    """Seal the day described in DAY.toml (or, with --undescribed, a folder) into BUNDLE.zip.

    A check that fails does not stop the seal: the failure is evidence and is sealed too.
    """
    time_stamp = _time_stamp(tsa, no_time_stamp)
    previous = previous_statement(
        {"correction": corrects, "supplement": supplements, "description": describes}, reason
    )
    signer = load_signer(
        key, cert, chain, lambda: passphrase(passphrase_file, prompt=f"Passphrase of {key}")
    )
    now = datetime.now(UTC).replace(microsecond=0)
    note = sealing_note(document_number=secrets.token_hex(8), paper=paper)
    if undescribed:
        if rules is not None or source.is_file():
            raise UsageError("--undescribed takes a folder and no rules", path=str(source))
        gathered = gather_undescribed(
            source, reference=reference or _default_reference(source, now), now=now, note=note
        )
    else:
        if source.is_dir():
            raise UsageError(
                "this is a folder, not a day.toml",
                path=str(source),
                hint=f"evidpack describe {source} -o day.toml\nor, to secure the files first:\n"
                f"evidpack seal {source} --undescribed …",
            )
        gathered = gather_day(source, rule_file(rules), now=now, note=note)
    with Progress("sealing", gathered.total_bytes, quiet=as_json) as progress:
        order = SealOrder(
            signer=signer,
            output=output,
            claimed_time=now,
            random=secrets.token_bytes,
            time_stamp=time_stamp,
            previous=previous,
            pixel_proof=not no_pixel_proof,
            paper=paper,
            on_bytes=progress.add,
        )
        sealed = seal(gathered, order)
    report_sealed(sealed, output, as_json=as_json)
    return 0


def _time_stamp(tsa: str | None, no_time_stamp: bool) -> Callable[[bytes], bytes] | None:
    if (tsa is None) != no_time_stamp:
        raise UsageError(
            "say whether the seal is to be time stamped",
            hint="--tsa URL            an RFC 3161 authority that your office uses\n"
            "--no-time-stamp      the time is then only as claimed by you, and every output says so",
        )
    if tsa is None:
        return None
    return lambda signature: fetch_token(tsa, signature, nonce=secrets.randbits(64))


def _default_reference(folder: Path, now: datetime) -> str:
    kept = "".join(c if c.isascii() and c.isalnum() else "-" for c in folder.absolute().name)
    return f"{kept.strip('-')[:60] or 'day'}-{now:%Y%m%dT%H%M%SZ}"


def report_sealed(sealed: Sealed, output: Path, *, as_json: bool) -> None:
    """What was sealed, and the digest to hand on."""
    statement = sealed.statement
    if as_json:
        say_json(
            {
                "bundle": str(output),
                "reference": statement.day,
                "statement_sha256": sealed.statement_sha256,
                "chain_head": statement.chain_head.hex(),
                "tree_root": statement.tree_root.hex(),
                "entries": dict(statement.entries),
                "findings": dict(statement.findings),
                "files": sealed.files,
                "bytes": sealed.bytes_written,
                "claimed_time": statement.claimed_time.isoformat(),
                "time_stamp": None if sealed.time_stamp is None else sealed.time_stamp.isoformat(),
            }
        )
        return
    say(
        f"Sealed {sealed.files} files ({megabytes(sealed.bytes_written)}) of {statement.day} into {output}."
    )
    say(", ".join(f"{count} {kind} entries" for kind, count in statement.entries.items()) + ".")
    said = ", ".join(f"{count} {outcome}" for outcome, count in statement.findings.items() if count)
    if said:
        say(f"Findings: {said}.")
    if sealed.time_stamp is None:
        say(f"Time: {statement.claimed_time.isoformat()}, only as claimed by you (no time stamp).")
    else:
        say(f"Time stamp: {sealed.time_stamp.isoformat()}.")
    say("SHA-256 of the seal statement:")
    say(sealed.statement_sha256, indent=2)
    mention(
        "Give that digest to another party today (the prosecutor's office, say): with it they "
        "can show later that this seal, and no later one, existed today."
    )
