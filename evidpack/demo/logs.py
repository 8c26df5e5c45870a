"""The day's CSV logs, as the meter and the video unit export them (RFC 4180)."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from evidpack.demo import places
from evidpack.demo.clip import frame_times
from evidpack.demo.clocks import ALL, LOCAL, METER, SET_AT
from evidpack.demo.plan import SAME_VEHICLE, WITH_CLIP, Capture, DayPlan, Session, at
from evidpack.demo.stills import strip_time

SURVEYED_M: Final = 50.0
_TEST_STEPS_S: Final = (0, 35, 95, 150, 215, 260)
_TESTS: Final = (
    "Self test", "Display", "Sight alignment H", "Sight alignment V", "Fixed distance",
    "Zero velocity",
)  # fmt: skip


def write_logs(folder: Path, plan: DayPlan) -> None:
    """Writes every log into a folder."""
    _write(folder / "readings.csv", _READING_COLUMNS, _readings(plan))
    _write(folder / "device_tests.csv", _TEST_COLUMNS, _tests(plan))
    _write(folder / "clock_checks.csv", _CLOCK_COLUMNS, _clock_checks(plan))
    _write(folder / "data_strips.csv", _STRIP_COLUMNS, _strips(plan))
    _write(folder / "reviews.csv", _REVIEW_COLUMNS, _reviews(plan))
    _write(folder / "frame_times.csv", ("Clip", "Frame", "Time"), _frames(plan))


def _write(path: Path, columns: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows(rows)
    path.write_bytes(out.getvalue().encode("utf-8"))


def _hundredths(moment: datetime) -> str:
    return f"{moment:%H:%M:%S}.{moment.microsecond // 10_000:02d}"


_READING_COLUMNS: Final = (
    "Ref", "Session", "Meter", "Date", "Time", "Opinion", "Speed mph", "Range m", "Limit mph",
    "Direction", "Pulse times ms", "Pulse ranges m", "Plate", "Image", "Discarded", "Remark",
)  # fmt: skip


def _readings(plan: DayPlan) -> Iterator[Sequence[object]]:
    for capture in plan.captures:
        site = plan.site_of(capture)
        stamp = strip_time(capture)
        opinion = METER.shows(capture.at - timedelta(seconds=capture.opinion_before_s))
        yield (
            capture.id,
            capture.session,
            places.METER_SERIAL,
            f"{stamp:%d/%m/%Y}",
            _hundredths(stamp),
            _hundredths(opinion.astimezone(LOCAL)),
            capture.shown_mph,
            f"{capture.range_m:.1f}",
            site.limit_mph,
            "AWAY" if site.receding else "TOWARDS",
            ";".join(f"{time * 1000:.0f}" for time in capture.burst.times_s),
            ";".join(f"{one:.2f}" for one in capture.burst.ranges_m),
            capture.vehicle.plate,
            f"{capture.images[0]:04d}",
            "yes" if capture.discarded else "no",
            capture.remark,
        )


_TEST_COLUMNS: Final = (
    "Session", "Meter", "Date", "Time", "Test", "Outcome", "Measured m", "Surveyed m",
    "Shown mph", "Operator",
)  # fmt: skip


def _tests(plan: DayPlan) -> Iterator[Sequence[object]]:
    for session in plan.sessions:
        yield from _test_round(session, session.tests_before, 50.0)
        yield from _test_round(session, session.tests_after, 50.1)


def _test_round(session: Session, start: datetime, measured_m: float) -> Iterator[Sequence[object]]:
    for test, after_s in zip(_TESTS, _TEST_STEPS_S, strict=True):
        stamp = METER.shows(start + timedelta(seconds=after_s, milliseconds=370)).astimezone(LOCAL)
        distance = test == "Fixed distance"
        yield (
            session.id,
            places.METER_SERIAL,
            f"{stamp:%d/%m/%Y}",
            _hundredths(stamp),
            test,
            "OK",
            f"{measured_m:.1f}" if distance else "",
            f"{SURVEYED_M:.2f}" if distance else "",
            "0" if test == "Zero velocity" else "",
            places.OPERATOR.id,
        )


_CLOCK_COLUMNS: Final = (
    "Clock", "Shown", "Reference time", "Reference", "Uncertainty s", "Set right",
)  # fmt: skip
_REFERENCE: Final = "satellite time display, unit inventory 0042"


def _clock_checks(plan: DayPlan) -> Iterator[Sequence[object]]:
    """Both times are photographed together; each clock is set right a week before the day."""
    for number, clock in enumerate(ALL):
        reference = SET_AT - timedelta(minutes=len(ALL) - number)
        shown = reference + timedelta(seconds=clock.found_s)
        yield _clock_row(clock.name, shown, reference, set_right=True)
    evening = plan.sessions[-1].end + timedelta(minutes=4)
    for start in (at(8, 36), at(12, 30), evening):
        for number, clock in enumerate(ALL):
            reference = start + timedelta(minutes=number)
            yield _clock_row(clock.name, clock.shows(reference), reference, set_right=False)


def _clock_row(
    name: str, shown: datetime, reference: datetime, *, set_right: bool
) -> Sequence[object]:
    return (
        name,
        shown.astimezone(LOCAL).isoformat(timespec="milliseconds"),
        reference.astimezone(LOCAL).isoformat(timespec="milliseconds"),
        _REFERENCE,
        "0.1",
        "yes" if set_right else "no",
    )


_STRIP_COLUMNS: Final = ("Still", "Speed mph", "Range m", "Date", "Time", "Site")


def _strips(plan: DayPlan) -> Iterator[Sequence[object]]:
    for capture in plan.captures:
        stamp = strip_time(capture)
        for place in range(len(capture.images)):
            yield (
                capture.still_name(place),
                capture.shown_mph,
                f"{capture.range_m:.1f}",
                f"{stamp:%d/%m/%Y}",
                _hundredths(stamp),
                plan.site_of(capture).id,
            )


_REVIEW_COLUMNS: Final = (
    "Ref", "Reviewer", "Looked at", "Vehicles in beam", "On target", "Same vehicle as", "Remark",
)  # fmt: skip


def _reviews(plan: DayPlan) -> Iterator[Sequence[object]]:
    for place, capture in enumerate(plan.captures):
        looked = (plan.reviewed + timedelta(seconds=38 * place)).astimezone(LOCAL)
        yield (
            capture.id,
            places.REVIEWER,
            looked.isoformat(),
            1,
            "yes",
            f"C{SAME_VEHICLE[0]:03d}" if capture.number == SAME_VEHICLE[1] else "",
            _review_remark(capture),
        )


def _review_remark(capture: Capture) -> str:
    return "the other vehicle is in the next lane" if capture.companion is not None else ""


def _frames(plan: DayPlan) -> Iterator[Sequence[object]]:
    capture = next(one for one in plan.captures if one.number == WITH_CLIP)
    for number, moment in enumerate(frame_times(capture)):
        yield clip_name(capture), number, moment.isoformat(timespec="milliseconds")


def clip_name(capture: Capture) -> str:
    """File name of a capture's clip."""
    return f"{capture.id}.mp4"
