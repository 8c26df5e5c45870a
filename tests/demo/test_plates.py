from __future__ import annotations

import random
import re
from pathlib import Path

import pytest

from evidpack.demo.plates import IMPOSSIBLE, invent_plates
from tests.demo.reading_back import rows

# What registration marks are made of: letters and digits, and at most these between them
# (common knowledge, no source).
_POSSIBLE = re.compile(r"[^\W_]+(?:[ .·•-]?[^\W_]+)*")


def test_an_ordinary_mark_would_be_seen_as_possible() -> None:
    assert _POSSIBLE.fullmatch("AB12 CDE")
    assert _POSSIBLE.fullmatch("W-1234X")


@pytest.mark.parametrize("seed", range(5))
def test_no_invented_mark_could_be_issued(seed: int) -> None:
    for mark in invent_plates(300, random.Random(seed)):
        assert not _POSSIBLE.fullmatch(mark), mark
        assert IMPOSSIBLE.fullmatch(mark), mark


def test_marks_differ() -> None:
    assert len(set(invent_plates(500, random.Random(1)))) == 500


def test_every_mark_in_the_log_is_impossible(export: Path) -> None:
    marks = [row["Plate"] for row in rows(export / "logs" / "readings.csv")]
    assert len(marks) == 41
    assert [mark for mark in marks if _POSSIBLE.fullmatch(mark)] == []


@pytest.mark.parametrize("mark", ["AB12CDE", "QI47OO", "QI4=7O0", "AI4=70O", "QI4==0O"])
def test_the_pattern_refuses_other_marks(mark: str) -> None:
    assert not IMPOSSIBLE.fullmatch(mark)
