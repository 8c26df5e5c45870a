"""Does the small picture inside each still's EXIF show that still? Part of check 11.

Many editing programs leave the thumbnail as it was, so a thumbnail that shows another picture is a
reason to ask. Intake measures how far both agree; the rule set says how far they must.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from evidpack.checks.look import Look
from evidpack.checks.saying import Say, captures, figure
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import Record
from evidpack.rules.rule_values import RuleValue

_SEVERAL: Final = 3
_UNJOINED: Final = "stills without a reading"
_ORIGINAL: Final = (
    "The operator can say whether the still is as the camera wrote it, and supply the original."
)


def thumbnails_agree(look: Look, say: Say) -> Iterator[Finding]:
    """A pass, a query for each still whose thumbnail shows something else, and what can't be told."""
    rule = look.rules.find("thumbnail_correlation_min")
    if rule is None:
        yield say.not_applicable(
            "thumbnails", "The rule set does not ask whether thumbnails show their pictures."
        )
        return
    same: list[tuple[float, int | None]] = []
    other: list[tuple[float, Record]] = []
    none: list[int | None] = []
    for still in look.day.of(RecordKind.STILL):
        if still.flag("readable") is False:
            continue
        number, measured = _number(still), still.number("thumbnail_correlation")
        fault = still.text("thumbnail_fault")
        if fault is not None:
            yield _not_compared(say, still, fault)
        elif measured is None:
            none.append(number)
        elif measured < rule.number:
            other.append((measured, still))
        else:
            same.append((measured, number))
    if len(other) >= _SEVERAL and len(other) > len(same):
        yield _made_otherwise(say, rule, other)
    else:
        yield from (_other_picture(say, rule, still, measured) for measured, still in other)
    yield from _summed_up(say, rule, same, none)


def _number(still: Record) -> int | None:
    """The number of the capture that the still was joined to, where it was joined to one."""
    joined = still.values.get("captures")
    first = joined[0] if isinstance(joined, list) and joined else None
    return first if isinstance(first, int) else None


def _whose(numbers: list[int | None]) -> str:
    known = [number for number in numbers if number is not None]
    return captures(known) if known else _UNJOINED


def _of(numbers: list[int | None]) -> str:
    """``the stills of captures 1–4``; those that belong to no reading are counted."""
    known = [number for number in numbers if number is not None]
    lost = len(numbers) - len(known)
    parts = [f"the stills of {captures(known)}"] if known else []
    if lost:
        parts.append(f"{lost} {'still' if lost == 1 else 'stills'} without a reading")
    return " and ".join(parts)


def _made_otherwise(say: Say, rule: RuleValue, other: list[tuple[float, Record]]) -> Finding:
    """Most of the day's thumbnails differ: rather the way in which the camera makes them."""
    numbers = [_number(still) for _, still in other]
    low, high = (figure(pick(measured for measured, _ in other)) for pick in (min, max))
    return say.query(
        _whose(numbers),
        f"The thumbnails inside {_of(numbers)} do not show these stills: they agree to {low:g} to "
        f"{high:g}, where 1 is the same picture and 0 another, and at least {rule.number:g} is "
        "expected; since they are most of the day's, the camera may make its thumbnails from another "
        "part of the picture.",
        "The maker can say how the camera makes its thumbnails; the operator, whether the stills are "
        "as the camera wrote them.",
        measured=[low, high],
        rule=rule,
    )


def _other_picture(say: Say, rule: RuleValue, still: Record, measured: float) -> Finding:
    return say.query(
        _whose([_number(still)]),
        f"The thumbnail inside {_one(still)} does not show that still: both agree to "
        f"{figure(measured):g}, where 1 is the same picture and 0 another, and at least "
        f"{rule.number:g} is expected.",
        _ORIGINAL,
        measured=figure(measured),
        rule=rule,
    )


def _not_compared(say: Say, still: Record, fault: str) -> Finding:
    return say.missing(
        _whose([_number(still)]),
        f"Whether the thumbnail inside {_one(still)} shows that still can't be told: {fault}.",
        _ORIGINAL,
        needs="thumbnail",
    )


def _one(still: Record) -> str:
    """``image 9981 of capture 1``, or what is known of that."""
    number, image = _number(still), still.integer("image_number")
    named = "a still" if image is None else f"image {image}"
    return f"{named} without a reading" if number is None else f"{named} of capture {number}"


def _summed_up(
    say: Say, rule: RuleValue, same: list[tuple[float, int | None]], none: list[int | None]
) -> Iterator[Finding]:
    if none:
        yield say.missing(
            _whose(none),
            f"There is no thumbnail inside {_of(none)} to compare with the picture.",
            "Stills as the camera wrote them may hold one; a copy often does not.",
            needs="thumbnail",
            measured=len(none),
        )
    if same:
        lowest = min(measured for measured, _ in same)
        numbers = [number for _, number in same]
        yield say.passed(
            _whose(numbers),
            f"The thumbnails inside {_of(numbers)} show these stills: they agree to "
            f"{figure(lowest):g} or better, where 1 is the same picture and 0 another.",
            measured=figure(lowest),
            rule=rule,
        )
