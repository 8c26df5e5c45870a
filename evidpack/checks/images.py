"""Do stills agree with record, clock and each other, and what did reviewers see? Checks 11, 13."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from evidpack.checks.clock_model import slack_s
from evidpack.checks.data_strips import strips_agree
from evidpack.checks.day_parts import Reading
from evidpack.checks.look import Look
from evidpack.checks.saying import Say, captures, figure, names
from evidpack.checks.thumbnails import thumbnails_agree
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import Record
from evidpack.model.values import JsonValue
from evidpack.rules.rule_values import RuleValue

_WORKSHOP: Final = "The workshop can say which camera body and settings were in use."
_REVIEWER: Final = "A reviewer can look at the still and say; a second reviewer can confirm."


def still_agrees(look: Look, say: Say) -> Iterator[Finding]:
    """Check 11: data strip, EXIF time, camera serial, pixel size and thumbnail."""
    if not look.still_count:
        yield say.not_applicable("day", "There are no stills on this day.")
        return
    yield from strips_agree(look, say)
    yield from _still_times(look, say)
    yield from _constant(look, say)
    yield from thumbnails_agree(look, say)


def _still_times(look: Look, say: Say) -> Iterator[Finding]:
    rule = look.rules.value("still_time_limit")
    near: list[int] = []
    untimed: list[int] = []
    for reading in look.readings.with_numbers(look.stills_of_captures):
        place = look.placements.get(reading.number)
        for still in look.stills_of_captures.get(reading.number, ()):
            taken = look.place(still, "time")
            slack = None if place is None or taken is None else slack_s(place, taken)
            lost = reading.number in look.rolled_readings  # check 6 says that its date is wrong
            if lost or place is None or taken is None or slack is None:
                untimed.append(reading.number)
                continue
            apart = taken.at_s - place.at_s
            if abs(apart) <= rule.number + slack:
                near.append(reading.number)
                continue
            yield say.query(
                f"capture {reading.number}",
                f"The still of capture {reading.number} was taken {figure(abs(apart), 1):g} s "
                f"{'after' if apart > 0 else 'before'} its reading by the reconciled clocks, whose "
                f"uncertainty explains {figure(slack, 1):g} s; {rule.number:g} s are allowed.",
                "The operator can say whether the still belongs to this reading.",
                measured=figure(apart, 1),
                rule=rule,
            )
    yield from _taken_together(say, rule, near, untimed)


def _taken_together(
    say: Say, rule: RuleValue, near: list[int], untimed: list[int]
) -> Iterator[Finding]:
    if untimed:
        yield say.missing(
            captures(untimed),
            f"Whether the stills of {captures(untimed)} were taken with their readings can't be "
            "told from their times: one is missing or lost its date, names no instant or comes from "
            "a clock that was never compared.",
            "A clock check of the camera, or its zone in day.toml, would tell.",
            needs="still_time",
            measured=len(set(untimed)),
        )
    if near:
        yield say.passed(
            captures(near),
            f"The stills of {captures(near)} were taken with their readings, within "
            f"{rule.number:g} s and the clocks' uncertainty.",
            measured=len(set(near)),
            rule=rule,
        )


def _constant(look: Look, say: Say) -> Iterator[Finding]:
    """One serial, pixel size and format per session and camera."""
    groups = _by_camera(look)
    steady = 0
    for (session, camera), stills in sorted(groups.items()):
        subject = f"session {session}" if session else "stills without a session"
        changes = tuple(_changes(say, subject, camera, stills))
        yield from changes
        steady += not changes
    if steady:
        yield say.passed(
            "day",
            f"Camera serial, pixel size and format are constant in {steady} of {len(groups)} "
            f"{'session' if len(groups) == 1 else 'sessions'} and cameras.",
            measured=steady,
            source="common practice, no source",
        )


def _by_camera(look: Look) -> dict[tuple[str, str], list[Record]]:
    """Stills by session and camera (its clock or counter)."""
    sessions = dict(zip(look.readings.numbers, look.readings.sessions, strict=True))
    groups: dict[tuple[str, str], list[Record]] = {}
    for still in look.day.of(RecordKind.STILL):
        session = still.text("session")
        joined = still.values.get("captures")
        if session is None and isinstance(joined, list) and joined:
            first = joined[0]
            session = sessions.get(first) if isinstance(first, int) else None
        camera = still.text("clock") or still.text("counter") or ""
        groups.setdefault((session or "", camera), []).append(still)
    return groups


def _changes(say: Say, subject: str, camera: str, stills: list[Record]) -> Iterator[Finding]:
    for word, value in (
        ("camera serial", lambda one: one.text("camera_serial")),
        ("pixel size", _size),
        ("format", lambda one: one.text("format")),
    ):
        seen = {found for still in stills if (found := value(still)) is not None}
        if len(seen) > 1:
            named = f" of camera {camera}" if camera else ""
            yield say.query(
                subject,
                f"The {word} of the stills{named} in {subject} changes: {names(sorted(seen))}.",
                _WORKSHOP,
                measured=[*sorted(seen)],
                limit=1,
                source="common practice, no source",
            )


def _size(still: Record) -> str | None:
    width, height = still.integer("width_px"), still.integer("height_px")
    return None if width is None or height is None else f"{width} × {height}"


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
        if record.flag("on_target") is False:
            yield say.query(
                subject,
                f"{who} saw the cross-hair off the vehicle in capture {reading.number}.",
                _REVIEWER,
                measured=False,
                limit=True,
                source="common practice, no source",
            )
