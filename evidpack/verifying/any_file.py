"""Verifying a file, whatever it is: a bundle, a pack, or an encrypted pack."""

from __future__ import annotations

from typing import BinaryIO

from evidpack.container import layout
from evidpack.container.archive import Archive
from evidpack.container.zip_reader import read_archive
from evidpack.errors import ContainerError
from evidpack.verifying.bundle import ASK_AGAIN, Options, stopped, verify_bundle
from evidpack.verifying.report import Report, Step, StepOutcome, fault_from


def verify_file(stream: BinaryIO, *, path: str, size: int, options: Options) -> Report:
    """Verify a bundle or a pack from its bytes.

    Faults are in the report; only a file that cannot be read at all raises OSError.
    """
    try:
        archive = read_archive(stream, path=path)
    except ContainerError as error:
        return unreadable(error, path=path, size=size, options=options)
    if is_pack(archive):
        from evidpack.verifying.pack import verify_pack

        return verify_pack(archive, path=path, size=size, options=options)
    return verify_bundle(stream, path=path, size=size, options=options, archive=archive)


def is_pack(archive: Archive) -> bool:
    """Whether an archive claims to be a pack: it holds a statement of either kind of a pack."""
    return layout.DISCLOSURE_STATEMENT in archive or layout.ORIGIN_STATEMENT in archive


def unreadable(error: ContainerError, *, path: str, size: int, options: Options) -> Report:
    """The report on a file that cannot be read in one way only, or not be decrypted."""
    step = Step(
        number=1,
        outcome=StepOutcome.FAILS,
        examined="the file cannot be read in one way only, so nothing in it was examined",
        faults=(fault_from(error, path),),
        next_step=f"{error.hint} {ASK_AGAIN}" if error.hint else ASK_AGAIN,
    )
    return stopped(step, path=path, size=size, options=options)
