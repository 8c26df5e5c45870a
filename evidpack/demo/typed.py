"""What the office types: the unit's folder and day.toml."""

from __future__ import annotations

import random
from collections.abc import Iterable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from evidpack.demo import places
from evidpack.demo.logs import SURVEYED_M
from evidpack.demo.plan import DELETED, GAP_AFTER, TWO_STILLS, Capture, DayPlan, Session
from evidpack.demo.plan import SECOND_STILL_AFTER_S
from evidpack.demo.profile import PROFILE
from evidpack.demo.stills import LOCAL

_HEAD: Final = "# Invented for a demonstration: no such unit, person, meter or place exists.\n"
REPORT_FILE: Final = "reports/day_report_2026-05-14.pdf"
DELETION_FILE: Final = "reports/deletion_note.pdf"
CALIBRATION_FILE: Final = "certificates/calibration_OX-26-0417.pdf"
APPROVAL_FILE: Final = "certificates/approval_TA-0093.pdf"

Scalar = str | int | float | bool


def operator_file(person: places.Person) -> str:
    """Where an operator's certificate lies in the export."""
    return f"certificates/operator_{person.certificate}.pdf"


def write_unit(folder: Path) -> None:
    """Writes the unit's folder: what is typed once and used again."""
    _write(folder / "profile.toml", PROFILE)
    _write(folder / "meters.toml", _tables(_meters()))
    _write(folder / "operators.toml", _tables(_operators()))
    _write(folder / "certificates.toml", _tables(_certificates()))
    _write(folder / "sites.toml", _tables(_sites()))


def write_day(path: Path, plan: DayPlan) -> None:
    """Writes day.toml."""
    sessions = "\n".join(_session(session) for session in plan.sessions)
    rest = _tables([*_reports(plan), _deletion(plan), *_marks(plan)])
    _write(path, f"{_DAY}\n{sessions}\n{rest}")


def _write(path: Path, text: str) -> None:
    path.write_bytes((_HEAD + text).encode("utf-8"))


def _tables(tables: Iterable[tuple[str, dict[str, Scalar]]]) -> str:
    parts = []
    for name, values in tables:
        lines = [f"{key} = {_scalar(value)}" for key, value in values.items()]
        parts.append("\n".join((f"[[{name}]]", *lines, "")))
    return "\n" + "\n".join(parts)


def _scalar(value: Scalar) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return f'"{value}"' if isinstance(value, str) else repr(value)


def _typed(source: str) -> dict[str, Scalar]:
    return {"typed_by": places.CLERK, "typed_from": source}


def _meters() -> Iterable[tuple[str, dict[str, Scalar]]]:
    yield "meter", {
        "serial": places.METER_SERIAL,
        "type": places.METER_TYPE,
        "firmware": places.METER_FIRMWARE,
        "tamper_seal": places.TAMPER_SEAL,
        **_typed("label on the meter and its start-up screen, 13 May 2026"),
    }
    yield "meter_event", {
        "meter": places.METER_SERIAL,
        "date": "2026-01-28",
        "event": "repair",
        "detail": "front window replaced, before the calibration of 11 February 2026",
        **_typed("repair sheet R-26-008"),
    }


def _operators() -> Iterable[tuple[str, dict[str, Scalar]]]:
    for person in (places.OPERATOR, places.SECOND_OPERATOR):
        yield "operator", {
            "id": person.id,
            "name": person.name,
            **_typed(f"operator certificate {person.certificate}"),
        }


def _certificates() -> Iterable[tuple[str, dict[str, Scalar]]]:
    yield "certificate", {
        "certificate": "calibration",
        "number": "OX-26-0417",
        "serial": places.METER_SERIAL,
        "type": places.METER_TYPE,
        "firmware": places.METER_FIRMWARE,
        "calibrated": "2026-02-11",
        "issued": "2026-02-13",
        "laboratory": places.LABORATORY,
        "traceability": "time and length traceable to national standards",
        "conditions": "20 C, 46 % relative humidity",
        "method": "simulated targets at 20, 60 and 120 mph; fixed range of 50 m",
        "speed_error_mph": -0.2,
        "speed_error_found_mph": -0.3,
        "speed_uncertainty_mph": 0.4,
        "tolerance_low_mph": -2,
        "tolerance_high_mph": 1,
        "document": CALIBRATION_FILE,
        **_typed("certificate OX-26-0417, pages 1 and 2"),
    }
    yield "certificate", {
        "certificate": "approval",
        "number": "TA-0093",
        "type": places.METER_TYPE,
        "issued": "2023-09-04",
        "valid_from": "2023-09-04",
        "range_min_m": 20,
        "range_max_m": 600,
        "speed_min_mph": 10,
        "speed_max_mph": 180,
        "document": APPROVAL_FILE,
        **_typed("approval TA-0093, page 1"),
    }
    for person in (places.OPERATOR, places.SECOND_OPERATOR):
        yield "certificate", {
            "certificate": "operator",
            "number": person.certificate,
            "holder": person.id,
            "type": places.METER_TYPE,
            "issued": "2025-03-03",
            "valid_from": "2025-03-03",
            "valid_until": "2028-03-02",
            "document": operator_file(person),
            **_typed(f"certificate {person.certificate}"),
        }


def _sites() -> Iterable[tuple[str, dict[str, Scalar]]]:
    for site in (places.ROADSIDE, places.BRIDGE):
        yield "site", {
            "id": site.id,
            "name": site.name,
            "limit_mph": site.limit_mph,
            "direction": site.direction,
            "offset_m": site.offset_m,
            "height_m": site.height_m,
            "authorised_from": "2024-02-01",
            "authorised_until": "2027-01-31",
            **_typed(f"site file {site.id}, sheet 1"),
        }
        yield "limit_order", {
            "site": site.id,
            "number": site.order,
            "limit_mph": site.limit_mph,
            "from": "2011-06-01" if site.receding else "1984-10-15",
            "signs_seen": "2026-05-14",
            **_typed(f"order {site.order}; signs from the operator's log of 14 May 2026"),
        }


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


def _local(moment: datetime) -> str:
    return moment.astimezone(LOCAL).strftime("%Y-%m-%dT%H:%M:%S")


def _session(session: Session) -> str:
    return "\n".join(
        (
            "[[session]]",
            f'id = "{session.id}"',
            f'meter = "{places.METER_SERIAL}"',
            f'site = "{session.site.id}"',
            f'start = "{_local(session.start)}"',
            f'end = "{_local(session.end)}"',
            f'operators = [{{ id = "{places.OPERATOR.id}", role = "operator" }}, '
            f'{{ id = "{places.SECOND_OPERATOR.id}", role = "observer" }}]',
            "",
        )
    )


def _reports(plan: DayPlan) -> Iterable[tuple[str, dict[str, Scalar]]]:
    for number, session in enumerate(plan.sessions, start=1):
        yield "report", {
            "session": session.id,
            "version": "1",
            "captures": len(session.captures),
            "image_first": session.captures[0].images[0],
            "image_last": session.captures[-1].images[-1],
            "signed_by": places.OPERATOR.name,
            "signed": _local(plan.signed),
            "document": REPORT_FILE,
            **_typed(f"day report of 14 May 2026, part {number}"),
        }


def deleted_at(plan: DayPlan) -> datetime:
    """When the two pictures were deleted, UTC."""
    before = next(one for one in plan.captures if one.number == GAP_AFTER)
    return before.at + timedelta(seconds=60)


def _deletion(plan: DayPlan) -> tuple[str, dict[str, Scalar]]:
    return "deletion", {
        "image_first": DELETED[0],
        "image_last": DELETED[1],
        "counter": "image",
        "reason": DELETION_REASON,
        "by": places.OPERATOR.id,
        "time": _local(deleted_at(plan)),
        **_typed("deletion note of 14 May 2026"),
    }


DELETION_REASON: Final = "two pictures of the tripod's foot, released while it was moved"


def _marks(plan: DayPlan) -> Iterable[tuple[str, dict[str, Scalar]]]:
    for capture in plan.captures:
        if capture.number in TWO_STILLS:
            yield "mark", {
                "capture": capture.id,
                "still": capture.still_name(1),
                "interval_s": SECOND_STILL_AFTER_S,
                "distance_m": _marked_m(capture),
                "distance_uncertainty_m": 0.15,
                "interval_uncertainty_s": 0.001,
                "typed_by": places.REVIEWER,
                "typed_from": "both stills against the painted marks, 10 m apart",
            }


def _marked_m(capture: Capture) -> float:
    """What a reader of the marks makes of the distance, to 0.1 m."""
    rng = random.Random(capture.id)  # noqa: S311 - an invented day, not a secret
    return round(capture.true_mps * SECOND_STILL_AFTER_S + rng.gauss(0.0, 0.05), 1)


SURVEY_TEXT: Final = f"{SURVEYED_M:.2f} m, surveyed with a steel tape"
