"""What a verifier brings, as options that several commands share."""

from __future__ import annotations

from pathlib import Path

import click
from cryptography import x509

from evidpack.errors import UsageError
from evidpack.limits import MAX_PEM_BYTES
from evidpack.trust.certificates import load_certificates
from evidpack.trust.revocation import load_crls
from evidpack.verifying.signing_steps import Trust

_File = click.Path(exists=True, dir_okay=False, path_type=Path)


def trust_options(command: click.decorators.FC) -> click.decorators.FC:
    """--anchor, --tsa-anchor, --crl and --accept-claimed-time."""
    for option in reversed(
        (
            click.option(
                "--anchor",
                "anchors",
                multiple=True,
                type=_File,
                metavar="PEM",
                help="A certificate you trust for signers; may be given again.",
            ),
            click.option(
                "--tsa-anchor",
                "tsa_anchors",
                multiple=True,
                type=_File,
                metavar="PEM",
                help="A certificate you trust for time stamps; may be given again.",
            ),
            click.option(
                "--crl",
                "crls",
                multiple=True,
                type=_File,
                metavar="FILE",
                help="A revocation list (DER or PEM) to check the signer against.",
            ),
            click.option(
                "--accept-claimed-time",
                is_flag=True,
                help="Accept the time that the signer claims; the result says so.",
            ),
        )
    ):
        command = option(command)
    return command


def load_trust(
    anchors: tuple[Path, ...], tsa_anchors: tuple[Path, ...], crls: tuple[Path, ...]
) -> Trust:
    """The certificates and revocation lists in these files, each file one or more."""

    def load(paths: tuple[Path, ...]) -> tuple[x509.Certificate, ...]:
        return tuple(
            certificate
            for path in paths
            for certificate in load_certificates(read_limited(path, MAX_PEM_BYTES), path=str(path))
        )

    return Trust(
        anchors=load(anchors),
        tsa_anchors=load(tsa_anchors),
        revocation_lists=tuple(
            crl
            for path in crls
            for crl in load_crls(read_limited(path, MAX_PEM_BYTES), path=str(path))
        ),
    )


def read_limited(path: Path, limit: int) -> bytes:
    """A whole file of at most `limit` bytes. Raises UsageError where it is larger."""
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
