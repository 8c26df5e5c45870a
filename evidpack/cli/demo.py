"""evidpack demo: an invented day from export to verified bundle."""

from __future__ import annotations

import json
import secrets
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

import click

from evidpack.cli.demo_keys import write_demo_keys
from evidpack.cli.findings import print_findings
from evidpack.cli.screen import Progress, mention, say, say_command
from evidpack.cli.seal import report_sealed
from evidpack.cli.trust_options import load_trust
from evidpack.cli.verify import print_report
from evidpack.container import layout
from evidpack.container.zip_reader import read_archive
from evidpack.demo.day import SEALED_AT, write_demo_day
from evidpack.errors import UsageError
from evidpack.limits import MAX_TAG_FILE_BYTES
from evidpack.proof.digests import sha256
from evidpack.proof.disclosure_statement import EarlierVerification
from evidpack.sealing.gather import gather_day, rule_file, sealing_note
from evidpack.sealing.order import Gathered, SealOrder, Signer
from evidpack.sealing.seal import seal
from evidpack.trust.authority import DemoAuthority, demo_time_stamp
from evidpack.trust.timestamps import request
from evidpack.verifying.bundle import Options, verify_bundle
from evidpack.verifying.report import Report, Verdict

_EXAMPLE = """\b
Example:
  evidpack demo demo
  evidpack verify demo/bundle.zip --anchor demo/keys/authority.pem \\
      --tsa-anchor demo/keys/tsa-authority.pem
"""

_SEED: Final = 1


@click.command(name="demo", epilog=_EXAMPLE)
@click.argument("folder", type=click.Path(path_type=Path), metavar="DIR")
def command(folder: Path) -> int:
    """Make an invented day in DIR, check it, seal it, index it and verify it.

    Everything in it is invented, the sealing time and the time stamp too: the demonstration
    authority stamps whatever time it is told.
    """
    if folder.exists() and any(folder.iterdir()):
        raise UsageError(
            "the folder is not empty",
            path=str(folder),
            hint="Name a new folder, or remove this one.",
        )
    folder.mkdir(parents=True, exist_ok=True)
    mention("Writing an invented day …")
    write_demo_day(folder, seed=_SEED)
    (folder / "keys").mkdir()
    authority = write_demo_keys(folder / "keys", now=SEALED_AT - timedelta(days=30))
    note = sealing_note(document_number=secrets.token_hex(8), paper="A4")
    gathered = gather_day(folder / "day.toml", rule_file(None), now=SEALED_AT, note=note)
    print_findings(gathered.intake.day, gathered.findings, gathered.required_rules())
    say()
    with Progress("sealing", gathered.total_bytes) as progress:
        _seal(folder, gathered, authority, progress)
    report = _verify(folder)
    if report.verdict is Verdict.VERIFIED:
        _disclose(folder, authority, report)
    _say_what_to_do(folder)
    return report.verdict.exit_code


def _disclose(folder: Path, authority: DemoAuthority, report: Report) -> None:
    """The report is kept as `verify --json` would print it: the pack names its digest."""
    from evidpack.cli.demo_disclosure import disclose_demo
    from evidpack.cli.disclose import report_published

    data = (json.dumps(report.to_json(), indent=2, sort_keys=True) + "\n").encode()
    (folder / "verified.json").write_bytes(data)
    decided_at = SEALED_AT + timedelta(days=20)
    published = disclose_demo(
        folder,
        Signer(key=authority.signer.key, certificate=authority.signer.certificate),
        decided_at=decided_at,
        verification=EarlierVerification(
            report=sha256(data), verdict=report.verdict.value, at=report.verified_at
        ),
        time_stamp=lambda signature: _stamp(
            signature, authority, decided_at + timedelta(minutes=31)
        ),
    )
    say()
    report_published(published, folder / "pack.zip", as_json=False)
    say(f"The same pack, not encrypted: {folder / 'pack-open.zip'}.")


def _seal(
    folder: Path,
    gathered: Gathered,
    authority: DemoAuthority,
    progress: Progress,
) -> None:

    bundle = folder / "bundle.zip"
    sealed = seal(
        gathered,
        SealOrder(
            signer=Signer(key=authority.signer.key, certificate=authority.signer.certificate),
            output=bundle,
            claimed_time=SEALED_AT,
            random=secrets.token_bytes,
            time_stamp=lambda signature: _stamp(
                signature, authority, SEALED_AT + timedelta(seconds=2)
            ),
            on_bytes=progress.add,
        ),
    )
    with bundle.open("rb") as stream:
        index = read_archive(stream, path=str(bundle)).read(layout.INDEX, limit=MAX_TAG_FILE_BYTES)
    (folder / "index.pdf").write_bytes(index)
    report_sealed(sealed, bundle, as_json=False)


def _stamp(signature: bytes, authority: DemoAuthority, at: datetime) -> bytes:
    wanted = request(signature, secrets.randbits(64))
    return demo_time_stamp(wanted, authority=authority, now=at)


def _verify(folder: Path) -> Report:
    bundle = folder / "bundle.zip"
    keys = folder / "keys"
    trust = load_trust((keys / "authority.pem",), (keys / "tsa-authority.pem",), ())
    with bundle.open("rb") as stream:
        report = verify_bundle(
            stream,
            path=str(bundle),
            size=bundle.stat().st_size,
            options=Options(now=datetime.now().astimezone(), trust=trust),
        )
    say()
    print_report(report)
    return report


def _say_what_to_do(folder: Path) -> None:
    anchors = (
        f"--anchor {folder / 'keys' / 'authority.pem'} "
        f"--tsa-anchor {folder / 'keys' / 'tsa-authority.pem'}"
    )
    say()
    say(f"Look at {folder / 'index.pdf'}, and verify again with:")
    say_command(f"evidpack verify {folder / 'bundle.zip'} {anchors}")
    say("The pack for the defence, with the passphrase on the slip, or the plain one:")
    say_command(f"evidpack open {folder / 'pack.zip'} -o {folder / 'opened'} {anchors}")
    say_command(f"evidpack verify {folder / 'pack-open.zip'} {anchors}")
