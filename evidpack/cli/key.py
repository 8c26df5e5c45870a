"""evidpack key: a signing key with its request and fingerprint sheet; a demonstration authority."""

from __future__ import annotations

import os
from datetime import UTC, datetime
from pathlib import Path

import click

from evidpack.cli.passphrases import passphrase, passphrase_option
from evidpack.cli.screen import mention, say
from evidpack.errors import UsageError

_Out = click.Path(file_okay=False, path_type=Path)


@click.group(name="key")
def command() -> None:
    """Make a signing key, or a demonstration authority."""


@command.command(
    name="new",
    epilog="""\b
Example:
  evidpack key new --name "Thistlemoor Roads Unit, back office" -o keys
""",
)
@click.option("--name", required=True, help="Whose key it is, as the certificate shall say.")
@click.option("-o", "--output", required=True, type=_Out, metavar="DIR", help="A new folder.")
@passphrase_option
def new(name: str, output: Path, passphrase_file: Path | None) -> int:
    """Make an encrypted P-256 key, a certificate request and a fingerprint sheet.

    Send the request to the authority that certifies your unit; hand the sheet over once, by another
    way than the bundles, to everybody who is to verify them.
    """
    from evidpack.trust.keys import new_signing_key, signing_request
    from evidpack.trust.sheet import fingerprint_sheet

    secret = passphrase(passphrase_file, prompt="Passphrase for the new key", confirm=True)
    key, pem = new_signing_key(secret)
    folder = _new_folder(output)
    write_private(folder / "signer.key", pem)
    (folder / "signer.csr").write_bytes(signing_request(key, name))
    sheet = fingerprint_sheet(key.public_key(), name=name, made=datetime.now(UTC))
    (folder / "fingerprint.txt").write_text(sheet, encoding="utf-8")
    say(sheet)
    mention(
        f"Written to {folder}: signer.key (encrypted), signer.csr (send to your authority), "
        "fingerprint.txt (print it and hand it over once)."
    )
    return 0


@command.command(
    name="demo-authority",
    epilog="""\b
Example:
  evidpack key demo-authority -o demo-keys
""",
)
@click.option("-o", "--output", required=True, type=_Out, metavar="DIR", help="A new folder.")
def demo_authority(output: Path) -> int:
    """Make a demonstration authority, a time-stamp authority and a signer. They prove nothing."""
    from evidpack.cli.demo_keys import write_demo_keys

    folder = _new_folder(output)
    write_demo_keys(folder, now=datetime.now(UTC).replace(microsecond=0))
    mention(f"Written to {folder}. For demonstrations only: anybody can make the same.")
    return 0


def _new_folder(path: Path) -> Path:
    try:
        path.mkdir(parents=True)
    except FileExistsError as error:
        raise UsageError(
            "something of that name exists already",
            path=str(path),
            hint="Give -o the name of a new folder; no key is ever overwritten.",
        ) from error
    return path


def write_private(path: Path, data: bytes) -> None:
    """Write a file that only its owner may read; never over another."""
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    with os.fdopen(os.open(path, flags, 0o600), "wb") as stream:
        stream.write(data)
