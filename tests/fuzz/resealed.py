"""A whole sealed day with one file exchanged for any bytes, committed to and signed as it should be.

Everything up to step 7 agrees, so that the re-check reads the bytes as it would read the sealer's.
"""

from __future__ import annotations

import functools
import io
from collections.abc import Callable
from datetime import UTC, datetime

from evidpack.proof.digests import sha256
from evidpack.verifying.any_file import verify_file
from evidpack.verifying.bundle import Options
from evidpack.verifying.report import StepOutcome
from tests.attacks.content_resigned import entry_of, reopened, signed
from tests.attacks.good import Good, good
from tests.bundles import rebuilt
from tests.verifying.test_forgery import lines_of

PLACES = {
    "recheck_day": "office/day.toml",
    "recheck_rules": "office/rules.toml",
    "recheck_note": "office/sealing.json",
    "recheck_unit": "office/unit/unit.toml",
    "recheck_log": "export/readings.csv",
    "recheck_still": "export/stills/C1_0001.jpg",
}


@functools.cache
def _good() -> Good:
    return good()


def rechecked(path: str) -> Callable[[bytes], None]:
    """Verify the day with these bytes at `path`; steps 3 to 7 must hold whatever they are."""

    def run(data: bytes) -> None:
        one = _good()
        number, opened = entry_of(lines_of(one.members)[1], path)
        opened["values"] |= {"size": len(data), "sha256": sha256(data).hex()}
        members = signed(reopened(one, number, opened) | {f"data/{path}": data}, one.day.authority)
        bundle = rebuilt(one.top, members)
        report = verify_file(
            io.BytesIO(bundle),
            path="hostile",
            size=len(bundle),
            options=Options(now=datetime(2026, 6, 1, tzinfo=UTC), trust=one.day.trust),
        )
        for step in report.steps[:7]:
            assert step.outcome is StepOutcome.HOLDS, step
        assert report.step(8).outcome is not StepOutcome.NOT_APPLICABLE

    return run
