"""Do stills agree with record, clock and each other, and what did reviewers see? Checks 11, 13."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from evidpack.checks.cameras import same_camera
from evidpack.checks.clock_model import Order, order
from evidpack.checks.data_strips import strips_agree
from evidpack.checks.day_parts import Reading
from evidpack.checks.look import Look
from evidpack.checks.saying import Say, captures, figure
from evidpack.checks.still_times import taken_with_readings
from evidpack.checks.thumbnails import thumbnails_agree
from evidpack.checks.times import duration_text
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import Record
from evidpack.model.values import JsonValue

_REVIEWER: Final = "A reviewer can look at the still and say; a second reviewer can confirm."


def still_agrees(look: Look, say: Say) -> Iterator[Finding]:
    """Check 11: data strip, EXIF time, camera, pixel size, format and thumbnail."""
    if not look.still_count:
        yield say.not_applicable("day", "There are no stills on this day.")
        return
    yield from strips_agree(look, say)
    yield from taken_with_readings(look, say)
    yield from same_camera(look, say)
    yield from thumbnails_agree(look, say)


def one_vehicle_and_aim(look: Look, say: Say) -> Iterator[Finding]:
    """Check 13: a reviewer saw one vehicle in the beam and the cross-hair on the target."""
    reviews: dict[int, list[Record]] = {}
    for record in look.day.of(RecordKind.REVIEW):
        for reading in look.identified(record.text("capture")):
            reviews.setdefault(reading.number, []).append(record)
    clear: list[int] = []
    unclear: list[int] = []
    for reading in look.readings.with_numbers(reviews):
        stated = reviews[reading.number]
        found = tuple(_review(look, say, reading, stated))
        yield from found
        if found:
            continue
        said = {
            name for record in stated for name in ("vehicles", "on_target") if name in record.values
        }
        (clear if len(said) == 2 else unclear).append(reading.number)
    silent = look.readings.without_numbers(reviews)
    if unclear:
        silent = [*silent, *unclear]
    if silent:
        yield say.missing(
            captures(silent),
            f"No reviewer says how many vehicles were in the beam and where the cross-hair was for "
            f"{captures(silent)}.",
            _REVIEWER,
            needs="review",
            measured=len(silent),
        )
    if clear:
        yield say.passed(
            captures(clear),
            f"A reviewer saw one vehicle in the beam and the cross-hair on it for "
            f"{captures(clear)}.",
            measured=len(clear),
            rule=look.rules.value("vehicles_in_beam"),
        )


def _review(look: Look, say: Say, reading: Reading, reviews: list[Record]) -> Iterator[Finding]:
    rule = look.rules.value("vehicles_in_beam")
    subject = f"capture {reading.number}"
    for record in reviews:
        who = record.text("reviewer") or "a reviewer"
        vehicles = record.integer("vehicles")
        if vehicles is not None and not 0 < vehicles <= rule.whole:
            seen: JsonValue = vehicles
            yield say.query(
                subject,
                f"{who} saw {vehicles} vehicles in the beam of capture {reading.number}, where "
                f"{rule.whole} may be.",
                _REVIEWER,
                measured=seen,
                rule=rule,
            )
        taken, looked = look.placements.get(reading.number), look.place(record, "time")
        rolled = reading.number in look.rolled_readings  # check 6 says that its date is wrong
        if taken and looked and not rolled and order(taken, looked) is Order.NO:
            yield say.query(
                subject,
                f"{who} looked at capture {reading.number} "
                f"{duration_text(taken.at_s - looked.at_s)} before it was taken.",
                "The reviewer can say when it was, or which capture is meant.",
                measured=figure(looked.at_s - taken.at_s),
                limit=0,
                unit="s",
                source="common practice, no source",
            )
        if record.flag("on_target") is False:
            yield say.query(
                subject,
                f"{who} saw the cross-hair off the vehicle in capture {reading.number}.",
                _REVIEWER,
                measured=False,
                limit=True,
                source="common practice, no source",
            )
