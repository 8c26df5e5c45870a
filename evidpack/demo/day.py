"""Writes the invented day."""

from __future__ import annotations

import os
import random
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from evidpack.demo.clip import clip_file
from evidpack.demo.day_toml import write_day
from evidpack.demo.documents import write_documents
from evidpack.demo.logs import clip_name, write_logs
from evidpack.demo.plan import WITH_CLIP, DayPlan, plan_day
from evidpack.demo.stills import StillPainter
from evidpack.demo.unit_folder import write_unit

# After the report was signed, whatever the seed; the invented office seals the same evening.
SEALED_AT: Final = datetime(2026, 5, 14, 18, 40, tzinfo=UTC)
_FOLDERS: Final = ("stills", "clips", "logs", "certificates", "reports")


def write_demo_day(folder: Path, *, seed: int) -> None:
    """Writes folder/export, folder/unit and folder/day.toml, about 8 MB.

    The same seed gives the same bytes and modification times under the same versions of Pillow
    and reportlab. Raises FileExistsError where one of the three is there already.
    """
    export, unit, day = folder / "export", folder / "unit", folder / "day.toml"
    for path in (export, unit, day):
        if path.exists():
            raise FileExistsError(f"{path} exists already")
    for name in _FOLDERS:
        (export / name).mkdir(parents=True)
    unit.mkdir()
    plan = plan_day(seed)
    write_logs(export / "logs", plan)
    write_documents(export, plan)
    write_unit(unit)
    write_day(day, plan)
    _write_pictures(export, plan, seed)
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            _date(path, plan.signed)


def _write_pictures(export: Path, plan: DayPlan, seed: int) -> None:
    for session in plan.sessions:
        rng = random.Random(f"scene-{seed}-{session.id}")  # noqa: S311 - no secret
        painter = StillPainter(session.site, rng)
        for capture in session.captures:
            for place in range(len(capture.images)):
                name = capture.still_name(place)
                still = painter.still(capture, place, f"still-{seed}-{name}")
                (export / "stills" / name).write_bytes(still)
            if capture.number == WITH_CLIP:
                clip = clip_file(capture, painter)
                (export / "clips" / clip_name(capture)).write_bytes(clip)


def _date(path: Path, moment: datetime) -> None:
    os.utime(path, (moment.timestamp(), moment.timestamp()))
