"""Do log and still name one image? Part of check 8."""

from __future__ import annotations

from collections.abc import Iterator

from evidpack.checks.look import Look
from evidpack.checks.saying import Say, spans
from evidpack.model.findings import Finding


def numbers_in_log(look: Look, say: Say) -> Iterator[Finding]:
    """Readings whose image number is that of none of their stills."""
    stills = look.stills_of_captures
    column = look.readings.column("image_number")
    if column is None or not stills:
        return
    for capture, noted in zip(look.readings.numbers, column, strict=True):
        shown = {
            number
            for still in stills.get(capture, ())
            if (number := still.integer("image_number")) is not None
        }
        if isinstance(noted, int) and shown and noted not in shown:
            yield say.query(
                f"capture {capture}",
                f"The log notes image {noted} for capture {capture}, whose stills bear "
                f"{spans(shown)}.",
                "The operator can say which still belongs to this reading.",
                measured=noted,
                limit=[*sorted(shown)],
                source="common practice, no source",
            )
