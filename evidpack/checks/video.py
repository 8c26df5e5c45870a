"""Is the video continuous? Check 9."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final

from evidpack.checks.look import Look
from evidpack.checks.saying import Say, figure, join_spans, spans
from evidpack.checks.times import read_instant
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import Record

_ADVICE: Final = "The operator can explain the break, or supply the original recording."
_DIGITS: Final = 6  # microseconds: frame times are not finer


def video_continuous(look: Look, say: Say) -> Iterator[Finding]:
    """Check 9: frame rate and gaps of each clip, from the frame log or from the clip's own
    timing.
    """
    clips = _clips(look)
    if not clips:
        yield say.not_applicable("day", "There are no clips on this day.")
    logged = _logged(look)
    for clip, name in clips:
        subject = f"clip {name}"
        frames = _frames(clip, logged.get(name))
        if frames is None or len(frames) < 2:
            yield say.missing(
                subject,
                f"The times of the frames of clip {name} are not on record and can't be read from "
                f"it{_why(clip, frames)}.",
                "The video unit's frame log or the maker's reader can supply them.",
                needs="frame_times",
            )
            continue
        frames.sort()
        yield from _numbers(say, subject, name, [number for number, _ in frames])
        yield from _times(look, say, subject, name, frames)


def frames_of(look: Look) -> Iterator[tuple[str, Sequence[tuple[int, float]]]]:
    """The name of each clip with its frames: number and seconds."""
    logged = _logged(look)
    for clip, name in _clips(look):
        yield name, _frames(clip, logged.get(name)) or ()


def _clips(look: Look) -> list[tuple[Record, str]]:
    """The clips with their file names, by path."""
    clips = sorted(look.day.of(RecordKind.CLIP), key=lambda one: one.text("path") or "")
    return [(clip, (clip.text("path") or "").rpartition("/")[2]) for clip in clips]


def _frames(clip: Record, logged: list[tuple[int, float]] | None) -> list[tuple[int, float]] | None:
    """Frames from the frame log, else from the clip's own timing."""
    if logged is not None:
        return logged
    times = clip.series("frame_times_s")
    return None if times is None else list(enumerate(times))


def _why(clip: Record, frames: Sequence[tuple[int, float]] | None) -> str:
    """Why the file itself doesn't say when its frames were taken, in words."""
    if frames is not None:
        return ": one frame alone has no rate" if frames else ""
    fault = clip.text("timing_fault")
    return f": {fault}" if fault else ""


def _logged(look: Look) -> dict[str, list[tuple[int, float]]]:
    """(frame number, seconds) by the file name of the clip."""
    found: dict[str, list[tuple[int, float]]] = {}
    for record in look.day.of(RecordKind.FRAME_TIME):
        at_s = read_instant(record.values.get("time"))[0]
        number = record.integer("frame")
        clip = (record.text("clip") or "").rpartition("/")[2]
        if at_s is not None and number is not None:
            found.setdefault(clip, []).append((number, at_s))
    return found


def _numbers(say: Say, subject: str, name: str, numbers: Sequence[int]) -> Iterator[Finding]:
    gaps = [(a + 1, b - 1) for a, b in pairwise(numbers) if b > a + 1]
    if gaps:
        count = sum(last - first + 1 for first, last in gaps)
        yield say.failed(
            subject,
            f"{count} frames of clip {name} are missing: {join_spans(gaps)}.",
            _ADVICE,
            measured=count,
            limit=0,
            source="SI 2022/71 Sch. 1 paras 2-4: sequentially numbered",
        )
    below = [number for number in numbers if number < 0]
    if below:
        yield say.query(
            subject,
            f"Frame numbers of clip {name} are below 0, the first is {below[0]}.",
            "The video unit's maker can say how frames are numbered.",
            measured=len(below),
            limit=0,
            source="SI 2022/71 Sch. 1 paras 2-4: sequentially numbered",
        )
    twice = [a for a, b in pairwise(numbers) if a == b]
    if twice:
        yield say.query(
            subject,
            f"Frame numbers of clip {name} occur more than once: {spans(twice)}.",
            "The video unit's maker can say why a number is used again.",
            measured=len(twice),
            limit=0,
            source="SI 2022/71 Sch. 1 paras 2-4: sequentially numbered",
        )


def _times(
    look: Look, say: Say, subject: str, name: str, frames: Sequence[tuple[int, float]]
) -> Iterator[Finding]:
    from statistics import median

    rate_rule = look.rules.value("frame_rate_min")
    # The step to the next frame, per frame number: a missing frame is told by its number.
    steps = [round((b[1] - a[1]) / max(1, b[0] - a[0]), _DIGITS) for a, b in pairwise(frames)]
    period = median(steps)
    back = sum(1 for step in steps if step <= 0)
    if back or period <= 0:
        yield say.query(
            subject,
            f"The frame times of clip {name} stand still or run backwards {back} times.",
            "The video unit's maker can say how frames are timed.",
            measured=back,
            limit=0,
            source="SI 2022/71 Sch. 1 paras 2-4: each frame timed",
        )
        return
    rate = 1 / period
    if round(rate, _DIGITS) < rate_rule.number:
        yield say.failed(
            subject,
            f"Clip {name} has {figure(rate):g} frames a second, fewer than {rate_rule.number:g}.",
            "The operator can say how the video unit was set.",
            measured=figure(rate),
            rule=rate_rule,
        )
    gap = _longest_gap(look, say, subject, name, steps)
    if gap is not None:
        yield gap
    elif round(rate, _DIGITS) >= rate_rule.number:
        periods = look.rules.value("frame_gap_periods").number
        yield say.passed(
            subject,
            f"Clip {name} has {len(frames)} frames, {figure(rate):g} a second, none further apart "
            f"than {periods:g} frame periods.",
            measured=figure(rate),
            rule=rate_rule,
        )


def _longest_gap(
    look: Look, say: Say, subject: str, name: str, steps: Sequence[float]
) -> Finding | None:
    """A query where a step is longer than the rule set's number of frame periods."""
    from statistics import median

    gap_rule = look.rules.value("frame_gap_periods")
    period = median(steps)
    limit_s = gap_rule.number * period
    gaps = [step for step in steps if round(step - limit_s, _DIGITS) > 0]
    if not gaps:
        return None
    return say.query(
        subject,
        f"Clip {name} has {len(gaps)} {'gap' if len(gaps) == 1 else 'gaps'} in time, the "
        f"longest {figure(max(gaps), 3):g} s, where a frame is due every {figure(period, 3):g} s "
        f"and {gap_rule.number:g} frame periods are allowed.",
        _ADVICE,
        measured=figure(max(gaps) / period),
        rule=gap_rule,
        unit="frame periods",
    )
