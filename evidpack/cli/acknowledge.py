"""evidpack acknowledge: put on record that a recipient has a pack."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from evidpack.cli.passphrases import passphrase, passphrase_option
from evidpack.cli.screen import say
from evidpack.cli.sealing_choices import load_signer
from evidpack.cli.trust_options import read_limited
from evidpack.errors import UsageError
from evidpack.limits import MAX_PEM_BYTES, MAX_SIGNATURE_BYTES, MAX_STATEMENT_BYTES

if TYPE_CHECKING:
    from evidpack.disclosure.release_lines import LogLine

_EXAMPLE = """\b
Example:
  evidpack acknowledge demo/bundle.zip --code ABCD-2345 --who "Invented Defence" \\
      --how telephone --key demo/keys/signer.key --cert demo/keys/signer.pem --by "C. Nobody"
"""

_File = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command(name="acknowledge", epilog=_EXAMPLE)
@click.argument("bundle", type=_File, metavar="BUNDLE")
@click.option("--code", metavar="CODE", help="The code that was read back from the pack's index.")
@click.option("--who", metavar="NAME", help="Who read it back.")
@click.option("--how", metavar="TEXT", help="By which channel: telephone, letter, in person.")
@click.option("--when", metavar="TIME", help="When, RFC 3339; now where left out.")
@click.option("--receipt", type=_File, metavar="FILE", help="A receipt that the recipient signed.")
@click.option("--signature", type=_File, metavar="P7S", help="Its detached CMS signature (DER).")
@click.option(
    "--anchor",
    "anchors",
    multiple=True,
    type=_File,
    metavar="PEM",
    help="With --receipt: a certificate you trust for the recipient.",
)
@click.option("--by", required=True, metavar="NAME", help="Who writes this down.")
@click.option("--key", required=True, type=_File, metavar="PEM", help="Your signing key.")
@click.option("--cert", required=True, type=_File, metavar="PEM", help="Its certificate.")
@click.option("--chain", type=_File, metavar="PEM", help="Intermediate certificates.")
@passphrase_option
def command(
    bundle: Path,
    code: str | None,
    who: str | None,
    how: str | None,
    when: str | None,
    receipt: Path | None,
    signature: Path | None,
    anchors: tuple[Path, ...],
    by: str,
    key: Path,
    cert: Path,
    chain: Path | None,
    passphrase_file: Path | None,
) -> int:
    """Record in the release log beside BUNDLE that a pack was received.

    Either a code that was read back (--code, --who, --how), or a signed receipt (--receipt,
    --signature).
    """
    from evidpack.disclosure.publishing import releases_beside
    from evidpack.disclosure.releases import acknowledge, record_receipt
    from evidpack.trust.certificates import load_certificates

    log, now = releases_beside(bundle), datetime.now(UTC).replace(microsecond=0)
    by_code = code is not None and who is not None and how is not None
    if by_code == (receipt is not None and signature is not None):
        raise UsageError(
            "say how it was acknowledged, one way",
            hint="--code CODE --who NAME --how TEXT     a code that was read back\n"
            "--receipt FILE --signature P7S        a receipt that the recipient signed",
        )
    signer = load_signer(
        key, cert, chain, lambda: passphrase(passphrase_file, prompt=f"Passphrase of {key}")
    )
    if code is not None and who is not None and how is not None:
        line = acknowledge(
            log, code=code, who=who, how=how, when=_time(when, now), at=now, by=by, signer=signer
        )
    elif receipt is not None and signature is not None:
        line = record_receipt(
            log,
            read_limited(receipt, MAX_STATEMENT_BYTES),
            read_limited(signature, MAX_SIGNATURE_BYTES),
            anchors=[
                certificate
                for path in anchors
                for certificate in load_certificates(
                    read_limited(path, MAX_PEM_BYTES), path=str(path)
                )
            ],
            at=now,
            by=by,
            signer=signer,
        )
    else:  # the check above leaves no other case
        raise AssertionError
    _say_recorded(line, log)
    return 0


def _say_recorded(line: LogLine, log: Path) -> None:
    """Which pack it was, so that a code that was misheard as another's is noticed."""
    from evidpack.disclosure.releases import read_releases, releases_in

    for release in releases_in(read_releases(log)):
        if release.pack == line.said.pack:
            say(
                f"{release.reference}: issue {release.issue}, case {release.case}, to "
                f"{release.recipient}.",
                hanging=2,
            )
    say(f"Recorded as line {line.number} of {log}.")


def _time(text: str | None, now: datetime) -> datetime:
    if text is None:
        return now
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        found = None
    if found is None or found.tzinfo is None:
        raise UsageError(
            "this is no time with an offset",
            expected="2026-06-01T10:00:00+01:00",
            observed=text[:40],
        )
    return found
