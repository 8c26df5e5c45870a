"""Is a redaction sound? Check 19 speaks when copies are released, not when a day is sealed."""

from __future__ import annotations

from collections.abc import Iterator

from evidpack.checks.look import Look
from evidpack.checks.saying import Say
from evidpack.model.findings import Finding


def redaction_sound(look: Look, say: Say) -> Iterator[Finding]:
    """Check 19: no released copy belongs to a sealed day, so there is none to look at here."""
    yield say.not_applicable(
        "day", f"No copy of day {look.day.description.reference} is released by sealing it."
    )
