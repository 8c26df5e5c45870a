"""The sealer's check of its own work before a bundle gets its name: steps 1 to 5.

The finished file is read as a verifier reads it, but for the bytes of the payload: each of them
was read back from the file and compared with what was digested as it was written
(`ZipWriter(read_back=True)`), and the files still stand where they were written.  A digest made
of them again would be one of the same bytes.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import BinaryIO

from evidpack.container import layout
from evidpack.container.zip_writer import Written
from evidpack.errors import SealError
from evidpack.limits import MAX_SIGNATURE_BYTES
from evidpack.trust.cms import parse_signature, require_signature
from evidpack.verifying.bundle import open_bundle
from evidpack.verifying.report import Step, StepOutcome


def require_own_work(
    stream: BinaryIO,
    *,
    path: str,
    compared: Mapping[str, Written],
) -> None:
    """Raises SealError where what was just written does not verify, naming the first fault."""
    stream.seek(0)
    opened = open_bundle(stream, path=path, compared=compared)
    steps = (opened,) if isinstance(opened, Step) else opened.steps
    for step in steps:
        if step.outcome is not StepOutcome.HOLDS:
            raise _failed(step)
    if isinstance(opened, Step):  # a step alone is a failed one, so this cannot be reached
        raise _failed(opened)
    signature = opened.archive.read(layout.SIGNATURE, limit=MAX_SIGNATURE_BYTES)
    require_signature(parse_signature(signature, path=layout.SIGNATURE), opened.statement_bytes)


def _failed(step: Step) -> SealError:
    fault = step.faults[0]
    return SealError(
        f"the bundle just written does not verify (step {step.number}): {fault.message}",
        path=fault.item,
        expected=fault.expected,
        observed=fault.observed,
        hint="The disk or the memory of this computer may be failing: seal to another disk, and "
        "keep the export as it is.",
    )
