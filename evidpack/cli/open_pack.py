"""evidpack open: decrypt a pack, verify it, and only then unpack it."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

import click

from evidpack.cli.pack_files import pack_passphrase_option, plain_file
from evidpack.cli.screen import say, say_command
from evidpack.cli.trust_options import load_trust, trust_options
from evidpack.cli.verify import print_report
from evidpack.container import layout
from evidpack.errors import ContainerError, UsageError
from evidpack.limits import COPY_BUFFER_BYTES, MAX_DISCLOSURE_STATEMENT_BYTES
from evidpack.verifying.any_file import unreadable
from evidpack.verifying.bundle import Options
from evidpack.verifying.report import Report, Verdict

if TYPE_CHECKING:
    from evidpack.container.archive import Archive

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
@click.option(
    "--receipt",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Write a receipt for you to sign here, where the pack verifies.",
)
@click.option("--received-by", metavar="NAME", help="With --receipt: who received the pack.")
@trust_options
@pack_passphrase_option
def command(
    pack: Path,
    output: Path,
    receipt: Path | None,
    received_by: str | None,
    anchors: tuple[Path, ...],
    tsa_anchors: tuple[Path, ...],
    crls: tuple[Path, ...],
    accept_claimed_time: bool,
    passphrase_file: Path | None,
) -> int:
    """Decrypt PACK where it is encrypted, verify it, and unpack it into a new folder."""
    for path in (output, receipt):
        if path is not None and os.path.lexists(path):
            raise UsageError(
                "something stands under this name already, and nothing is ever replaced",
                path=str(path),
                hint="Name a new one.",
            )
    if (receipt is None) != (received_by is None):
        raise UsageError(
            "a receipt says who received the pack",
            hint='--receipt receipt.json --received-by "R. Name"',
        )
    options = Options(
        now=datetime.now(UTC),
        trust=load_trust(anchors, tsa_anchors, crls),
        accept_claimed_time=accept_claimed_time,
    )
    try:
        found = _verify_and_unpack(pack, output, passphrase_file, options, received_by)
    except ContainerError as error:
        report = unreadable(error, path=str(pack), size=pack.stat().st_size, options=options)
        found = _Opened(report=report)
    print_report(found.report)
    say()
    if found.top is None:
        say("Nothing was unpacked: the file does not verify.")
        return found.report.verdict.exit_code
    say(f"Unpacked into {found.top}. Begin with {found.top / 'index.pdf'}.")
    if receipt is not None and found.receipt is not None:
        _write_receipt(receipt, found.receipt)
    return found.report.verdict.exit_code


@dataclass(frozen=True, slots=True, kw_only=True)
class _Opened:
    """The report; where the pack was unpacked, None where it does not verify; the receipt to be
    signed, where one was asked for."""

    report: Report
    top: Path | None = None
    receipt: bytes | None = None


def _verify_and_unpack(
    pack: Path,
    output: Path,
    passphrase_file: Path | None,
    options: Options,
    received_by: str | None,
) -> _Opened:
    from evidpack.container.zip_reader import read_archive
    from evidpack.disclosure.unpacking import unpack
    from evidpack.verifying.any_file import is_pack
    from evidpack.verifying.pack import verify_pack

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
            return _Opened(report=report)
        receipt = None
        if received_by is not None:
            receipt = _receipt(archive, plain.stream, received_by, options.now)
        return _Opened(report=report, top=unpack(archive, output), receipt=receipt)


def _receipt(archive: Archive, plain: BinaryIO, received_by: str, now: datetime) -> bytes:
    """The receipt for a pack that was verified: canonical JSON, to be signed byte for byte."""
    from evidpack.disclosure.receipts import Receipt
    from evidpack.proof.disclosure_statement import parse_disclosure_statement

    statement = parse_disclosure_statement(
        archive.read(layout.DISCLOSURE_STATEMENT, limit=MAX_DISCLOSURE_STATEMENT_BYTES),
        path=layout.DISCLOSURE_STATEMENT,
    )
    digest = hashlib.sha256()
    plain.seek(0)
    while piece := plain.read(COPY_BUFFER_BYTES):
        digest.update(piece)
    return Receipt(
        pack=digest.digest(),
        case=statement.case,
        recipient=statement.recipient,
        issue=statement.issue,
        received_by=received_by,
        received_at=now.replace(microsecond=0),
    ).to_bytes()


def _write_receipt(path: Path, receipt: bytes) -> None:
    try:
        with path.open("xb") as stream:
            stream.write(receipt)
    except FileExistsError:
        raise UsageError(
            "something stands under this name already, and nothing is ever replaced",
            path=str(path),
            hint="Choose another name.",
        ) from None
    say(f"Wrote {path}. Sign it as it is, and send both files to whoever gave you the pack:")
    say_command(
        f"openssl cms -sign -binary -in {path} -signer YOURS.pem -inkey YOURS.key -md sha256 "
        f"-nosmimecap -outform DER -out {path.with_suffix('.p7s')}"
    )
