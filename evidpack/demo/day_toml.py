"""day.toml: sessions, and what was typed from the day's papers and stills."""

from __future__ import annotations

import random
from collections.abc import Iterable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from evidpack.demo import places
from evidpack.demo.clocks import LOCAL
from evidpack.demo.plan import (
    DELETED,
    GAP_AFTER,
    SECOND_STILL_AFTER_S,
    TWO_STILLS,
    Capture,
    DayPlan,
    Session,
)
from evidpack.demo.tables import Table, tables_text, typed_from, write_toml

REPORT_FILE: Final = "reports/day_report_2026-05-14.pdf"
DELETION_FILE: Final = "reports/deletion_note.pdf"
DELETION_REASON: Final = "two pictures of the tripod's foot, released while it was moved"
_DAY: Final = f"""format = "evidpack-day-1"
profile = "unit/profile.toml"

[day]
reference = "{places.REFERENCE}"
unit = "{places.UNIT}"
date = 2026-05-14
zone = "{places.ZONE}"
export = "export"
unit_folder = "unit"
"""


def write_day(path: Path, plan: DayPlan) -> None:
    """Writes day.toml."""
    sessions = "\n".join(_session(session) for session in plan.sessions)
    typed = tables_text([*_reports(plan), _deletion(plan), *_marks(plan)])
    write_toml(path, f"{_DAY}\n{sessions}{typed}")


def _local(moment: datetime) -> str:
    return moment.astimezone(LOCAL).strftime("%Y-%m-%dT%H:%M:%S")


def _session(session: Session) -> str:
    roles = ((places.OPERATOR, "operator"), (places.SECOND_OPERATOR, "observer"))
    people = [f'{{ id = "{person.id}", role = "{role}" }}' for person, role in roles]
    return "\n".join(
        (
            "[[session]]",
            f'id = "{session.id}"',
            f'meter = "{places.METER_SERIAL}"',
            f'site = "{session.site.id}"',
            f'start = "{_local(session.start)}"',
            f'end = "{_local(session.end)}"',
            f"latitude_deg = {session.site.position[0] + 0.0001:.4f}",
            f"longitude_deg = {session.site.position[1]:.4f}",
            f'direction = "{session.site.direction}"',
            f"operators = [{', '.join(people)}]",
            "",
        )
    )


def _reports(plan: DayPlan) -> Iterable[Table]:
    for number, session in enumerate(plan.sessions, start=1):
        yield Table(
            "report",
            {
                "session": session.id,
                "version": "1",
                "captures": len(session.captures),
                "image_first": session.captures[0].images[0],
                "image_last": session.captures[-1].images[-1],
                "signed_by": places.OPERATOR.name,
                "signed": _local(plan.signed),
                "document": REPORT_FILE,
                **typed_from(f"day report of 14 May 2026, part {number}"),
            },
        )


def deleted_at(plan: DayPlan) -> datetime:
    """When the two pictures were deleted, UTC."""
    before = next(one for one in plan.captures if one.number == GAP_AFTER)
    return before.at + timedelta(seconds=60)


def _deletion(plan: DayPlan) -> Table:
    return Table(
        "deletion",
        {
            "image_first": DELETED[0],
            "image_last": DELETED[1],
            "counter": "image",
            "reason": DELETION_REASON,
            "by": places.OPERATOR.id,
            "time": _local(deleted_at(plan)),
            **typed_from("deletion note of 14 May 2026"),
        },
    )


def _marks(plan: DayPlan) -> Iterable[Table]:
    for capture in plan.captures:
        if capture.number in TWO_STILLS:
            yield Table(
                "mark",
                {
                    "capture": capture.id,
                    "still": capture.still_name(1),
                    "interval_s": SECOND_STILL_AFTER_S,
                    "distance_m": _marked_m(capture),
                    "distance_uncertainty_m": 0.15,
                    "interval_uncertainty_s": 0.001,
                    "typed_by": places.REVIEWER,
                    "typed_from": "both stills against the painted marks, 10 m apart",
                },
            )


def _marked_m(capture: Capture) -> float:
    """What a reader of the marks makes of the distance, to 0.1 m."""
    rng = random.Random(capture.id)  # noqa: S311 - an invented day, not a secret
    return round(capture.true_mps * SECOND_STILL_AFTER_S + rng.gauss(0.0, 0.05), 1)
