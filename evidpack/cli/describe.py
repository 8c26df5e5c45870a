"""evidpack describe: a first day.toml, every guess marked."""

from __future__ import annotations

from pathlib import Path

import click

from evidpack.cli.new_files import write_new
from evidpack.cli.screen import mention, say_command

_EXAMPLE = """\b
Example:
  evidpack describe demo/export --unit demo/unit -o my-day.toml
"""


@click.command(name="describe", epilog=_EXAMPLE)
@click.argument("export", type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.option(
    "--unit",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    metavar="DIR",
    help="The unit folder, with meters, operators, certificates and sites.",
)
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="day.toml",
    help="Where to write. Nothing is overwritten.",
)
def command(export: Path, unit: Path | None, output: Path) -> int:
    """Write a first day.toml from what is in the folder EXPORT, which is only read.

    Each guess begins with "confirm: ". Check each one, and delete that word where it is right.
    """
    import os

    from evidpack.container.names import safe_name
    from evidpack.intake.describe import propose_day
    from evidpack.intake.source import FolderSource

    folder = output.absolute().parent
    text = propose_day(
        FolderSource(export, safe_name=safe_name),
        reference=f"confirm: {export.absolute().name}",
        unit_name="confirm: the name of your unit",
        export_path=Path(os.path.relpath(export.absolute(), folder)).as_posix(),
        unit_folder=None
        if unit is None
        else Path(os.path.relpath(unit.absolute(), folder)).as_posix(),
    )
    write_new(output, text.encode())
    guesses = text.count('"confirm: ')
    mention(f"{output} was written with {guesses} guesses to confirm. When that is done:")
    say_command(f"evidpack check {output}")
    return 0
