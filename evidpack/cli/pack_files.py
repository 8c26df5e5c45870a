"""Opening a file that may be an encrypted pack: asked for its passphrase, checked, decrypted."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Final, cast

import click

from evidpack.cli.screen import clean
from evidpack.container.aes_zip import decrypt_pack, is_encrypted
from evidpack.errors import ContainerError, UsageError

PACK_VARIABLE: Final = "EVIDPACK_PACK_PASSPHRASE"
_MAX_BYTES: Final = 1_024


@dataclass(frozen=True, slots=True, kw_only=True)
class PlainFile:
    """A file to read: as it is, or what was inside an encrypted pack."""

    stream: BinaryIO
    size: int
    was_encrypted: bool


def pack_passphrase_option(command: click.decorators.FC) -> click.decorators.FC:
    """The option --passphrase-file for commands that read packs."""
    return click.option(
        "--passphrase-file",
        type=click.Path(exists=True, dir_okay=False, path_type=Path),
        help="A file with the passphrase of an encrypted pack; several stand one a line, and each is "
        f"tried. Else {PACK_VARIABLE} is used, else you are asked.",
    )(command)


@contextmanager
def plain_file(path: Path, passphrase_file: Path | None) -> Iterator[PlainFile]:
    """The file, decrypted where it is an encrypted pack.

    The decrypted pack stands in a temporary file without a name, written only once all ciphertext
    was authenticated.  Raises UsageError for a passphrase that is mistyped, ContainerError where it does not fit.
    """
    with path.open("rb") as stream:
        if not is_encrypted(stream):
            yield PlainFile(stream=stream, size=path.stat().st_size, was_encrypted=False)
            return
        with tempfile.TemporaryFile() as target:
            plain = cast("BinaryIO", target)
            size = _decrypted(stream, plain, _passphrases(passphrase_file, path), path)
            plain.seek(0)
            yield PlainFile(stream=plain, size=size, was_encrypted=True)


def _decrypted(stream: BinaryIO, plain: BinaryIO, passphrases: Sequence[str], path: Path) -> int:
    """The size of the pack inside, by the first passphrase that opens it."""
    for place, passphrase in enumerate(passphrases, start=1):
        try:
            return decrypt_pack(stream, plain, passphrase=passphrase, path=str(path))
        except ContainerError:
            if place == len(passphrases):
                raise
            # A passphrase that opens the file by chance alone leaves nothing: the MAC comes first.
            plain.seek(0)
            plain.truncate()
    raise AssertionError  # there is at least one


def _passphrases(file: Path | None, path: Path) -> Sequence[str]:
    if file is not None:
        with file.open("rb") as stream:
            text = stream.read(_MAX_BYTES + 1).decode("utf-8-sig", "replace")
    elif PACK_VARIABLE in os.environ:
        text = os.environ[PACK_VARIABLE]
    else:
        text = click.prompt(f"Passphrase of {clean(str(path))}", hide_input=True, err=True)
    if not 0 < len(text.strip()) <= _MAX_BYTES:
        raise UsageError("the passphrase is empty or too long")
    from evidpack.disclosure.passphrase import require_passphrase

    return [require_passphrase(line) for line in text.splitlines() if line.strip()]
