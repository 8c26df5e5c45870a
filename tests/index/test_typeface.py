"""Text made fit to print: nothing dropped, nothing wider than its line."""

from __future__ import annotations

import re
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.index.typeface import Shown, Style, Typeface, fit, load, shown, width, wrap

STYLE = Style(size=8.0)
MONO = Style(face=Typeface.MONO, size=7.0)


def slow_shown(text: str) -> str:
    """Undo the printed form: each code point in brackets back to its character."""
    return re.sub(r"\[U\+([0-9A-F]{4,6})\]", lambda found: chr(int(found.group(1), 16)), text)


@given(st.text())
def test_the_printed_form_says_exactly_which_text_it_stands_for(text: str) -> None:
    assert slow_shown(shown(text, Typeface.SANS)) == text


@given(st.text())
def test_the_printed_form_holds_only_characters_with_a_glyph(text: str) -> None:
    for face in Typeface:
        known = load(face).advances
        assert [c for c in shown(text, face) if ord(c) not in known] == []


@given(st.text(), st.floats(min_value=60, max_value=400))
def test_wrapping_loses_nothing_but_spaces_at_the_breaks(text: str, available: float) -> None:
    lines = wrap(text, STYLE, available)
    assert "".join(lines).replace(" ", "") == shown(text, STYLE.face).replace(" ", "")


@given(st.text(alphabet="ab Ж/_-.[U+0041]中\n", max_size=300), st.floats(60, 400))
def test_no_line_is_wider_than_asked(text: str, available: float) -> None:
    for line in wrap(text, STYLE, available):
        assert width(line, STYLE) <= available + 0.01


def test_width_is_the_sum_of_the_fonts_own_advances() -> None:
    # DejaVu Sans Mono: every advance is 1233 of 2048 units (its hmtx table).
    assert width(Shown("0123456789abcdef"), MONO) == pytest.approx(16 * 7.0 * 1233 / 2048)


def test_a_time_stays_with_its_offset() -> None:
    lines = wrap("2026-05-14 09:10:00 +01:00", STYLE, 90)
    assert lines == ("2026-05-14", "09:10:00 +01:00")


def test_a_time_too_wide_for_its_column_breaks_before_its_offset() -> None:
    assert wrap("09:10:00.960 +01:00", STYLE, 72) == ("09:10:00.960", "+01:00")


def test_a_path_breaks_after_its_separators() -> None:
    lines = wrap("export/stills/first_part-second.jpg", STYLE, 80)
    assert all(line[-1] in "/_-." for line in lines[:-1]), lines
    assert "".join(lines) == "export/stills/first_part-second.jpg"


def test_a_code_point_in_brackets_is_never_cut() -> None:
    for line in wrap("中" * 40, STYLE, 100):
        assert re.fullmatch(r"(\[U\+4E2D\])+", line), line


def test_a_hostile_name_costs_time_in_proportion_to_its_length() -> None:
    # A pattern that could match a bracket in two ways once took hours over 40 such characters.
    begun = time.process_time()
    assert len(wrap("中" * 20_000, STYLE, 100)) == 10_000
    assert time.process_time() - begun < 5


def test_a_digest_that_fits_is_left_whole() -> None:
    assert wrap("ab" * 32, MONO, 300) == ("ab" * 32,)


def test_a_caption_that_is_cut_says_so() -> None:
    cut = fit("one two three four five six seven eight", STYLE, 60)
    assert cut.endswith("…")
    assert width(cut, STYLE) <= 60
    assert fit("short", STYLE, 60) == "short"
