"""The strips: to scale, and no label over another."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.index.assembly import assemble
from evidpack.index.flow import Flow, Furniture
from evidpack.index.timeline import LABEL, Axis, Lane, Mark, Strip, even_ticks
from evidpack.index.timeline_pages import draw_timelines
from evidpack.index.typeface import width
from evidpack.model.fields import RecordKind
from tests.index.invented import content

FURNITURE = Furniture(
    kind="Test", reference="R", digest_name="Root", digest="00", warning="w", mark="m"
)


def strip_of(lanes: list[Lane], first: float = 0.0, last: float = 100.0) -> Flow:
    flow = Flow(paper="A4", furniture=FURNITURE)
    Strip(flow, Axis(first=first, last=last, ticks=(), caption="c"), lanes).draw()
    return flow


def test_marks_stand_to_scale() -> None:
    lane = Lane(name="n", marks=[Mark(at=float(at)) for at in (0, 25, 50, 100)])
    page = strip_of([lane]).page
    ticks = [s.points[0][0] for s in page.shapes if len(s.points) == 2]
    upright = [
        s.points[0][0]
        for s in page.shapes
        if len(s.points) == 2 and s.points[0][0] == s.points[1][0]
    ]
    assert len(ticks) > len(upright) == 4
    whole = upright[-1] - upright[0]
    assert [(x - upright[0]) / whole for x in upright] == pytest.approx([0, 0.25, 0.5, 1])


@given(st.lists(st.floats(0, 100), min_size=1, max_size=40))
def test_no_label_lies_over_another_or_leaves_the_page(positions: list[float]) -> None:
    marks = [Mark(at=at, symbol="circle", label="label") for at in sorted(positions)]
    flow = strip_of([Lane(name="n", marks=marks)])
    spans = [(x, x + width(t, s), y) for x, y, t, s in flow.page.texts if s is LABEL]
    assert len(spans) == len(positions)
    for index, (left, right, y) in enumerate(spans):
        assert right <= flow.right + 0.01
        assert y > flow.bottom
        for other_left, other_right, other_y in spans[index + 1 :]:
            assert other_y != y or other_left >= right or other_right <= left


@given(st.floats(0, 1e6), st.floats(1, 1e6), st.integers(2, 12))
def test_ticks_are_even_within_the_axis_and_not_too_many(
    first: float, span: float, most: int
) -> None:
    ticks = even_ticks(first, first + span, (1, 10, 100, 1000, 10_000, 100_000, 1e6), at_most=most)
    assert len(ticks) <= most + 1
    assert all(first <= tick <= first + span + 1e-6 for tick in ticks)
    assert len({round(b - a, 6) for a, b in itertools.pairwise(ticks)}) <= 1


def drawn(day) -> str:
    flow = Flow(paper="A4", furniture=FURNITURE)
    draw_timelines(flow, assemble(day), 3)
    return "\n".join(text for page in flow.pages for _, _, text, _ in page.texts)


def test_missing_image_numbers_are_drawn_with_their_numbers() -> None:
    assert "16–17" in drawn(content(40))


def test_without_a_gap_no_lane_says_that_numbers_are_missing() -> None:
    assert "Image numbers" not in drawn(content(1))


def test_a_time_that_names_no_instant_is_left_out_rather_than_placed() -> None:
    day = content(3)
    unclear = {"local": "2026-05-14T09:30:00", "status": "no zone", "instants": []}
    records = [
        replace(
            indexed,
            record=replace(indexed.record, values={**indexed.record.values, "time": unclear}),
        )
        if indexed.record.kind is RecordKind.READING
        else indexed
        for indexed in day.records
    ]
    text = drawn(replace(day, records=records))
    assert "Session S1" in text
    assert "Readings" not in text


def test_a_day_without_calibration_says_so() -> None:
    assert "No calibration certificate is among the records." in drawn(content(3, records=()))
