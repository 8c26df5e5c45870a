"""evidpack open: decrypt a pack, verify it, and only then unpack it."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from evidpack.cli.pack_files import pack_passphrase_option, plain_file
from evidpack.cli.screen import say
from evidpack.cli.trust_options import load_trust, trust_options
from evidpack.cli.verify import print_report
from evidpack.errors import ContainerError, UsageError
from evidpack.verifying.any_file import unreadable
from evidpack.verifying.bundle import Options
from evidpack.verifying.report import Report, Verdict

_EXAMPLE = """\b
Example:
  evidpack open demo/pack.zip -o pack --anchor demo/keys/authority.pem \\
      --tsa-anchor demo/keys/tsa-authority.pem

\b
Ends as `evidpack verify` does; nothing is unpacked where that is 1.
"""


@click.command(name="open", epilog=_EXAMPLE)
@click.argument("pack", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="A new folder to unpack into.",
)
@trust_options
@pack_passphrase_option
def command(
    pack: Path,
    output: Path,
    anchors: tuple[Path, ...],
    tsa_anchors: tuple[Path, ...],
    crls: tuple[Path, ...],
    accept_claimed_time: bool,
    passphrase_file: Path | None,
) -> int:
    """Decrypt PACK where it is encrypted, verify it, and unpack it into a new folder."""
    if output.exists():
        raise UsageError(
            "something stands under this name already, and nothing is ever replaced",
            path=str(output),
            hint="Name a new folder.",
        )
    options = Options(
        now=datetime.now(UTC),
        trust=load_trust(anchors, tsa_anchors, crls),
        accept_claimed_time=accept_claimed_time,
    )
    try:
        report, top = _verify_and_unpack(pack, output, passphrase_file, options)
    except ContainerError as error:
        report, top = (
            unreadable(error, path=str(pack), size=pack.stat().st_size, options=options),
            None,
        )
    print_report(report)
    say()
    if top is None:
        say("Nothing was unpacked: the file does not verify.")
    else:
        say(f"Unpacked into {top}. Begin with {top / 'index.pdf'}.")
    return report.verdict.exit_code


def _verify_and_unpack(
    pack: Path, output: Path, passphrase_file: Path | None, options: Options
) -> tuple[Report, Path | None]:
    """The report, and where the pack was unpacked, None where it does not verify."""
    from evidpack.container.zip_reader import read_archive
    from evidpack.disclosure.unpacking import unpack
    from evidpack.verifying.pack import is_pack, verify_pack

    with plain_file(pack, passphrase_file) as plain:
        archive = read_archive(plain.stream, path=str(pack))
        if not is_pack(archive):
            raise UsageError(
                "this is no pack",
                path=str(pack),
                hint=f"evidpack verify {pack}    verifies a bundle; it is not unpacked by evidpack",
            )
        report = verify_pack(archive, path=str(pack), size=plain.size, options=options)
        if report.verdict is Verdict.DOES_NOT_VERIFY:
            return report, None
        return report, unpack(archive, output)
