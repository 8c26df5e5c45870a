"""Where a passphrase may come from: a file, an environment variable, or a prompt.

Never the command line: other users of the machine can read it there.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Final

import click

from evidpack.errors import UsageError

VARIABLE: Final = "EVIDPACK_PASSPHRASE"
_MAX_BYTES: Final = 1_024


def passphrase(file: Path | None, *, prompt: str, confirm: bool = False) -> bytes:
    """The passphrase, without its line end. Raises UsageError where it is empty or too long."""
    if file is not None:
        with file.open("rb") as stream:
            data = stream.read(_MAX_BYTES + 2).rstrip(b"\r\n")
    else:
        text = os.environ.get(VARIABLE)
        if text is None:
            text = click.prompt(prompt, hide_input=True, confirmation_prompt=confirm, err=True)
        # Bytes that are no UTF-8 come from both as they were.
        data = str(text).encode("utf-8", "surrogateescape")
    if not 0 < len(data) <= _MAX_BYTES:
        raise UsageError(
            "the passphrase is empty or too long",
            path=None if file is None else str(file),
            expected=f"1 to {_MAX_BYTES} bytes",
            observed=f"{len(data)} bytes",
        )
    return data


def passphrase_option(command: click.decorators.FC) -> click.decorators.FC:
    """The option --passphrase-file, alike for every command that uses a key."""
    return click.option(
        "--passphrase-file",
        type=click.Path(exists=True, dir_okay=False, path_type=Path),
        help=f"A file with the key's passphrase. Else {VARIABLE} is used, else you are asked.",
    )(command)
