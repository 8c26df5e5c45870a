"""evidpack decide: a draft of decisions about every sealed entry."""

from __future__ import annotations

from pathlib import Path

import click

from evidpack.cli.new_files import write_new
from evidpack.cli.screen import mention, say

_EXAMPLE = """\b
Example:
  evidpack decide demo/bundle.zip --capture C033 -o decisions.toml
"""


@click.command(name="decide", epilog=_EXAMPLE)
@click.argument(
    "bundle", type=click.Path(exists=True, dir_okay=False, path_type=Path), metavar="BUNDLE"
)
@click.option(
    "--capture",
    "captures",
    multiple=True,
    required=True,
    metavar="ID",
    help="A capture of the case, by identifier or number; may be given again.",
)
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="decisions.toml",
    help="Where to write. Nothing is overwritten.",
)
def command(bundle: Path, captures: tuple[str, ...], output: Path) -> int:
    """Draft decisions about every sealed entry of BUNDLE for a case about some captures.

    The draft proposes; people decide. It holds everyone's data, as the bundle does.
    """
    from evidpack.disclosure.draft import draft_decisions
    from evidpack.disclosure.sealed_bundle import open_sealed_bundle

    with bundle.open("rb") as stream:
        text = draft_decisions(open_sealed_bundle(stream, path=str(bundle)), captures)
    write_new(output, text.encode())
    undecided = text.count('\ndecision = "undecided"')
    say(f"Wrote {output}: a draft, with {undecided} places that a person must decide.")
    mention(
        "Fill in case, recipient, decided_by and decided_at; read every proposal; then run "
        "evidpack disclose."
    )
    return 0
