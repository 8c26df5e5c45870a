"""What a meter may measure, by the approval of its type, else by the rule set. Part of check 10."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from evidpack.checks.certificate_lookup import certificates, device_of, plain
from evidpack.checks.day_parts import Session
from evidpack.checks.look import Look
from evidpack.checks.saying import Say
from evidpack.checks.times import read_date
from evidpack.model.findings import Finding
from evidpack.model.records import Record
from evidpack.model.units import Speed

_OFFICE: Final = "The approving authority or the maker can supply the approval in force."
_SOURCE: Final = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """What a meter may measure: ranges in metres, speeds in metres per second (None: no limit
    stated), each with where it comes from.
    """

    range_min_m: float
    range_max_m: float
    speed_min: Speed | None
    speed_max: Speed | None
    range_source: str
    speed_source: str


def window_for(look: Look, session: Session | None) -> Window:
    """The approval's limits where an approval for the meter's type states them, else the rule
    set's.
    """
    approval = _approval(look, session)
    low, high = look.rules.value("range_min"), look.rules.value("range_max")
    range_min, range_max, source = low.metres, high.metres, low.cite
    speed_low, speed_high = look.rules.find("speed_min"), look.rules.find("speed_max")
    speed_min = None if speed_low is None else speed_low.speed
    speed_max = None if speed_high is None else speed_high.speed
    speed_source = "" if speed_high is None else speed_high.cite
    if approval is not None:
        stated = f"approval {approval.text('number') or ''}".strip()
        shortest, longest = approval.length("range_min"), approval.length("range_max")
        range_min = range_min if shortest is None else shortest.metres
        range_max = range_max if longest is None else longest.metres
        if shortest is not None or longest is not None:
            source = stated
        lowest, highest = approval.speed("speed_min"), approval.speed("speed_max")
        speed_min, speed_max = lowest or speed_min, highest or speed_max
        if lowest is not None or highest is not None:
            speed_source = stated
    return Window(
        range_min_m=range_min,
        range_max_m=range_max,
        speed_min=speed_min,
        speed_max=speed_max,
        range_source=source,
        speed_source=speed_source,
    )


def _approvals(look: Look, session: Session) -> list[Record]:
    """The approvals for the type of the session's meter, the latest issue last."""
    device = device_of(look, session.meter)
    kind = device.text("type") if device is not None else None
    if kind is None:
        return []
    found = [
        record
        for record in certificates(look, "approval")
        if plain(record.text("type") or "") == plain(kind)
    ]
    return sorted(found, key=lambda one: (str(one.values.get("issued", "")), one.source.order))


def _approval(look: Look, session: Session | None) -> Record | None:
    """The latest approval in force on the dates of the session, else the latest of all."""
    if session is None:
        return None
    found = _approvals(look, session)
    in_force = [record for record in found if _in_force(record, session)]
    return next(reversed(in_force or found), None)


def _in_force(record: Record, session: Session) -> bool:
    first, last = (
        read_date(record.values.get("valid_from")),
        read_date(record.values.get("valid_until")),
    )
    if session.dates is None:
        return True
    begins, ends = session.dates
    return (first is None or first <= begins) and (last is None or ends <= last)


def approval_in_force(look: Look, say: Say, session: Session) -> Iterator[Finding]:
    """A query where the approval that gives the limits was not in force; not determinable where none
    is for this type of meter.
    """
    record = _approval(look, session)
    if record is None:
        yield say.missing(
            session.subject,
            f"No approval for the type of meter {session.meter} is on record, so the limits of the "
            "rule set are used.",
            _OFFICE,
            needs="approval",
        )
    elif not _in_force(record, session) and session.dates is not None:
        number = record.text("number") or "without number"
        first, last = (record.values.get(name) for name in ("valid_from", "valid_until"))
        yield say.query(
            session.subject,
            f"Approval {number} is valid {first or 'from a day not stated'} to "
            f"{last or 'no stated end'}, not on {session.dates[0]}, when session {session.id} was; "
            "its limits are used none the less.",
            _OFFICE,
            measured=session.dates[0].isoformat(),
            limit=f"{first or '…'} to {last or '…'}",
            unit="date",
            source=_SOURCE,
        )
