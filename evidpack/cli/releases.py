"""evidpack releases: who was given what, when, acknowledged how."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from evidpack.cli.screen import say, say_json
from evidpack.cli.trust_options import read_limited
from evidpack.limits import MAX_PEM_BYTES
from evidpack.model.values import JsonValue

if TYPE_CHECKING:
    from evidpack.disclosure.release_lines import LogLine, Release

_EXAMPLE = """\b
Example:
  evidpack releases demo/bundle.zip
"""

_File = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command(name="releases", epilog=_EXAMPLE)
@click.argument("bundle", type=_File, metavar="BUNDLE")
@click.option(
    "--anchor",
    "anchors",
    multiple=True,
    type=_File,
    metavar="PEM",
    help="A certificate you trust: every line's signer must lead to it. May be given again.",
)
@click.option("--json", "as_json", is_flag=True, help="The same facts for machines.")
def command(bundle: Path, anchors: tuple[Path, ...], as_json: bool) -> int:
    """Show the release log beside BUNDLE: its chain and every signature are checked first."""
    from evidpack.disclosure.publishing import releases_beside
    from evidpack.disclosure.release_lines import Release
    from evidpack.disclosure.releases import read_releases
    from evidpack.trust.certificates import load_certificates

    trusted = [
        certificate
        for path in anchors
        for certificate in load_certificates(read_limited(path, MAX_PEM_BYTES), path=str(path))
    ]
    log = releases_beside(bundle)
    lines = read_releases(log, anchors=trusted)
    if as_json:
        listed: list[JsonValue] = [_as_json(line) for line in lines]
        say_json({"log": str(log), "lines": listed, "signers_anchored": bool(trusted)})
        return 0
    if not lines:
        say(f"No pack was made from a bundle in this folder: there is no {log.name}.")
        return 0
    for line in lines:
        if isinstance(line.said, Release):
            _print_release(line, line.said, lines)
    say(f"{len(lines)} lines, each signed and chained to the one before.")
    if not trusted:
        say("Who signed them was not judged: no anchor was given.")
    return 0


def _print_release(line: LogLine, release: Release, lines: tuple[LogLine, ...]) -> None:
    from evidpack.disclosure.release_lines import Acknowledgement, SignedReceipt
    from evidpack.disclosure.releases import acknowledgement_code
    from evidpack.trust.cms import parse_signature
    from evidpack.trust.fingerprints import name_of

    say(
        f"{line.at.isoformat()}  {release.reference}, issue {release.issue}, case {release.case}, "
        f"to {release.recipient}, by {line.by}",
        hanging=2,
    )
    say(f"SHA-256 {release.pack.hex()}", indent=2)
    if release.encrypted is not None:
        say(f"encrypted: SHA-256 {release.encrypted.hex()}", indent=2)
    answers = [one for one in lines if one.said is not release and one.said.pack == release.pack]
    for one in answers:
        if isinstance(one.said, Acknowledgement):
            said = f"acknowledged by {one.said.who}, {one.said.how}, {one.said.when.isoformat()}"
            say(f"{said} (written down by {one.by})", indent=2, hanging=2)
        elif isinstance(one.said, SignedReceipt):
            receipt = one.said.receipt
            when = receipt.received_at.isoformat()
            say(f"signed receipt by {receipt.received_by}, {when}", indent=2, hanging=2)
            certificate = parse_signature(one.said.signature, path="the receipt").certificate
            say(
                f"the certificate that it was signed with names {name_of(certificate)}, who is "
                "not judged here",
                indent=4,
                hanging=2,
            )
    if not answers:
        say(f"not acknowledged; its code is {acknowledgement_code(release.contents)}", indent=2)


def _as_json(line: LogLine) -> dict[str, JsonValue]:
    return {
        **line.said.to_json(),
        "at": line.at.isoformat(),
        "by": line.by,
        "number": line.number,
        "kind": type(line.said).__name__.lower(),
    }
