"""evidpack reader: the page that opens and verifies bundles in a browser, with nothing installed."""

from __future__ import annotations

import hashlib
from importlib.resources import files
from pathlib import Path

import click

from evidpack.cli.screen import say
from evidpack.container.place import new_file
from evidpack.errors import UsageError

_EXAMPLE = """\b
Example:
  evidpack reader -o reader.html

\b
Open the page in a browser, choose a bundle, and give the certificates of the authorities
that you trust. Nothing is sent anywhere.
"""
# Others are to open it: on a shared folder, or as a file attached to a letter.
_READABLE_BY_ALL = 0o644


@click.command(name="reader", epilog=_EXAMPLE)
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE.html",
    help="Where to write the page. It is never written over another file.",
)
def command(output: Path) -> int:
    """Write the page that verifies bundles in a browser, with nothing installed."""
    page = reader_page()
    with new_file(output) as placement:
        left = memoryview(page)
        while left:
            left = left[placement.stream.write(left) :]
        placement.temporary.chmod(_READABLE_BY_ALL)
        placement.publish()
    say(f"Written: {output} ({len(page)} bytes)")
    say(f"SHA-256 {hashlib.sha256(page).hexdigest()}")
    say("The page shows the same digest at its foot. Tell it to whoever gets the page.")
    return 0


def reader_page() -> bytes:
    """The bytes of the built page.

    Raises:
        UsageError: this copy of evidpack was installed without it.
    """
    page = files("evidpack").joinpath("reader", "built", "reader.html")
    if not page.is_file():
        raise UsageError(
            "this copy of evidpack holds no built reader",
            expected="evidpack/reader/built/reader.html",
            observed="no such file",
            hint="Build it: npm ci && npm run build in evidpack/reader.",
        )
    return page.read_bytes()
