"""Check 9: video without gaps."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding, Outcome
from tests.checks.days import Record, at, findings, only, record, seconds_later

CLIP = "export/video/V1.mp4"


def clip(**more: object) -> Record:
    return record(RecordKind.CLIP, CLIP, None, path=CLIP, joined="session", captures=[], **more)


def frames(times: list[float], numbers: list[int] | None = None) -> list[Record]:
    return [
        record(
            RecordKind.FRAME_TIME,
            "export/video/frames.csv",
            n + 2,
            clip="V1.mp4",
            frame=(numbers or list(range(len(times))))[n],
            time=seconds_later(at("10:00:00"), time),
        )
        for n, time in enumerate(times)
    ]


def said(times: list[float], numbers: list[int] | None = None) -> tuple[Finding, ...]:
    return findings("9", [clip(), *frames(times, numbers)])


def even(count: int, rate: float) -> list[float]:
    return [n / rate for n in range(count)]


def test_an_even_clip_passes_with_its_rate() -> None:
    found = only(said(even(50, 25)), Outcome.PASS)
    assert found.measured == 25.0


@pytest.mark.parametrize(
    ("rate", "outcome"), [(5, Outcome.PASS), (4.9, Outcome.FAIL), (1, Outcome.FAIL)]
)
def test_five_frames_a_second_are_needed(rate: float, outcome: Outcome) -> None:
    """SI 2022/71 Sch. 1: at least five frames a second."""
    assert [one.outcome for one in said(even(30, rate))] == [outcome]


@pytest.mark.parametrize(
    ("gap", "outcome"), [(0.08, Outcome.PASS), (0.0801, Outcome.QUERY), (5, Outcome.QUERY)]
)
def test_a_gap_of_more_than_two_frame_periods_is_a_query(gap: float, outcome: Outcome) -> None:
    times = even(20, 25)
    times += [times[-1] + gap + n / 25 for n in range(20)]
    found = said(times)
    assert [one.outcome for one in found] == [outcome]


def test_missing_frame_numbers_fail_and_are_named() -> None:
    numbers = [0, 1, 2, 6, 7, 8, 9, 10]
    times = [n / 25 for n in numbers]
    found = said(times, numbers)
    assert "3 frames of clip V1.mp4 are missing: 3–5" in only(found, Outcome.FAIL).sentence


def test_a_frame_number_used_twice_is_a_query() -> None:
    found = said(even(6, 25), [0, 1, 1, 2, 3, 4])
    assert "more than once: 1" in only(found, Outcome.QUERY).sentence


def test_times_that_run_backwards_are_a_query() -> None:
    found = said([0, 0.04, 0.02, 0.06, 0.10])
    assert "stand still or run backwards 1 times" in only(found, Outcome.QUERY).sentence


@pytest.mark.parametrize("records", [[], frames([0.0])])
def test_a_clip_without_frame_times_is_not_determinable(records: list[Record]) -> None:
    found = only(findings("9", [clip(), *records]), Outcome.NOT_DETERMINABLE)
    assert not found.adverse


def test_the_clips_own_timing_counts_where_there_is_no_log() -> None:
    found = only(findings("9", [clip(frame_times_s=even(10, 10))]), Outcome.PASS)
    assert found.measured == 10.0


def test_frames_of_another_clip_do_not_count() -> None:
    other = [
        record(
            RecordKind.FRAME_TIME, "export/v.csv", 2, clip="V2.mp4", frame=0, time=at("10:00:00")
        )
    ]
    only(findings("9", [clip(), *other]), Outcome.NOT_DETERMINABLE)


def test_a_day_without_clips_does_not_apply() -> None:
    only(findings("9", []), Outcome.NOT_APPLICABLE)


@given(st.permutations(frames(even(8, 25))))
def test_the_order_of_the_frame_log_does_not_matter(records: list[Record]) -> None:
    assert findings("9", [clip(), *records]) == said(even(8, 25))


def test_a_clip_that_cannot_be_read_is_not_determinable_for_the_reason_that_intake_found() -> None:
    found = only(
        findings("9", [clip(timing_fault="the clip has no video track")]), Outcome.NOT_DETERMINABLE
    )
    assert found.sentence.endswith("can't be read from it: the clip has no video track.")


def test_one_frame_has_no_rate() -> None:
    found = only(said([0.0]), Outcome.NOT_DETERMINABLE)
    assert "one frame alone has no rate" in found.sentence


def test_a_gap_is_told_with_its_length_and_what_is_allowed() -> None:
    times = [*even(20, 25), *(1.36 + n / 25 for n in range(20))]
    assert only(said(times), Outcome.QUERY).sentence == (
        "Clip V1.mp4 has 1 gap in time, the longest 0.6 s, where a frame is due every 0.04 s and "
        "2 frame periods are allowed."
    )
