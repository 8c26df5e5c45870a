"""Do readings and device tests name the meter of their session? The end of check 1."""

from __future__ import annotations

from collections.abc import Iterator

from evidpack.checks.certificate_lookup import SERIAL_SOURCE, plain
from evidpack.checks.look import Look
from evidpack.checks.saying import Say, captures
from evidpack.model.findings import Finding


def serials_in_logs(look: Look, say: Say) -> Iterator[Finding]:
    """Readings and device tests that name another meter than their session."""
    known: dict[tuple[str, str], bool] = {}

    def same(first: str, second: str) -> bool:
        key = (first, second)
        if key not in known:
            known[key] = plain(first) == plain(second)
        return known[key]

    advice = "The operator can say which meter was used and which entry is wrong."
    for session in look.sessions:
        others: dict[str, list[int]] = {}
        readings = look.readings_of(session)
        column = readings.column("meter") or ()
        stated_here = {one for one in set(column) if isinstance(one, str)}
        wrong = {stated for stated in stated_here if not same(stated, session.meter)}
        if wrong:
            for stated, number in zip(column, readings.numbers, strict=True):
                if isinstance(stated, str) and stated in wrong:
                    others.setdefault(stated, []).append(number)
        for stated, numbers in sorted(others.items()):
            yield say.failed(
                session.subject,
                f"The log names meter {stated} for {captures(numbers)}, but session {session.id} "
                f"was done with meter {session.meter}.",
                advice,
                measured=stated,
                limit=session.meter,
                source=SERIAL_SOURCE,
            )
        tested = {record.text("meter") for record in look.tests_of(session)}
        for stated in sorted(serial for serial in tested if serial is not None):
            if not same(stated, session.meter):
                yield say.failed(
                    session.subject,
                    f"Device tests of session {session.id} were done on meter {stated}, not on "
                    f"meter {session.meter}.",
                    advice,
                    measured=stated,
                    limit=session.meter,
                    source=SERIAL_SOURCE,
                )
