"""The numbers behind the checks of stills and clips, for `explain`."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from statistics import median

from evidpack.checks.continuity import image_numbers
from evidpack.checks.counters import course_of
from evidpack.checks.data_strips import FIELDS, strips_by_still
from evidpack.checks.look import Look
from evidpack.checks.saying import spans
from evidpack.checks.video import frames_of
from evidpack.checks.workings_times import stills_of
from evidpack.model.fields import RecordKind
from evidpack.model.records import Record


def image_counters(look: Look) -> Iterator[str]:
    """Check 8: how each counter runs, what was seen, expected and deleted."""
    for name, numbers in sorted(image_numbers(look).items()):
        course = course_of(name, look.day.description.counters.get(name))
        runs = f"from {course.first}"
        if course.size is not None:
            runs += f" to {course.first + course.size - 1}, then again from {course.first}"
        yield f"counter {name} runs {runs}; seen {len(numbers)}: {spans(numbers)}"
    for record in look.day.of(RecordKind.REPORT):
        yield _span(record, "report expects")
    for record in look.day.of(RecordKind.DELETION):
        yield _span(record, "deleted, as noted,")


def _span(record: Record, words: str) -> str:
    first, last = record.integer("image_first"), record.integer("image_last")
    return f"{words} {first} to {last} [{record.source}]"


def clips(look: Look) -> Iterator[str]:
    """Check 9: frames, rate and longest step of each clip."""
    for name, frames in frames_of(look):
        if len(frames) < 2:
            yield f"clip {name}: {len(frames)} frames with a time"
            continue
        times = [at_s for _, at_s in sorted(frames)]
        steps = [later - earlier for earlier, later in pairwise(times)]
        yield (
            f"clip {name}: {len(frames)} frames, numbers {spans(number for number, _ in frames)}; "
            f"steps {min(steps):.4f} to {max(steps):.4f} s, median {median(steps):.4f} s"
        )


def stills(look: Look) -> Iterator[str]:
    """Check 11: each still beside its reading, with its strip and thumbnail."""
    strips = strips_by_still(look)
    for reading in look.readings.with_numbers(look.stills_of_captures):
        yield f"capture {reading.number} [{reading.record.source}]"
        place = look.placements.get(reading.number)
        if place is not None:
            yield from stills_of(look, reading.number, place)
        for still in look.stills_of_captures[reading.number]:
            name = (still.text("path") or "").rpartition("/")[2]
            yield f"  {_camera(still)}"
            for strip in strips.get(name, ()):
                yield f"  strip: {_fields(strip)}; record: {_fields(reading.record)} [{strip.source}]"


def _camera(still: Record) -> str:
    agrees = still.number("thumbnail_correlation")
    shown = still.text("thumbnail_fault") or "none" if agrees is None else f"agrees to {agrees:g}"
    return (
        f"camera {still.text('camera_serial') or 'not stated'}, {still.integer('width_px')} × "
        f"{still.integer('height_px')}, {still.text('format')}; thumbnail {shown}"
    )


def _fields(record: Record) -> str:
    parts: Sequence[object] = (
        record.speed("speed"),
        record.length("range"),
        record.values.get("time"),
        record.text("site") if "site" in FIELDS else None,
    )
    return ", ".join(str(part) for part in parts if part is not None)


def reviews(look: Look) -> Iterator[str]:
    """Check 13: what each reviewer said."""
    for record in look.day.of(RecordKind.REVIEW):
        numbers = [reading.number for reading in look.identified(record.text("capture"))]
        seen = record.integer("vehicles")
        aim = {True: "on target", False: "off target", None: "aim not stated"}[
            record.flag("on_target")
        ]
        yield (
            f"capture {spans(numbers) or 'unknown'}: {record.text('reviewer')} saw "
            f"{'no number of vehicles stated' if seen is None else f'{seen} in the beam'}, {aim} "
            f"[{record.source}]"
        )
