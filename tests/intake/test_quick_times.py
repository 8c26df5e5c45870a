"""Reading times by the minute gives what the reader of the format gives."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from evidpack.intake.dates import CellError, compile_time
from evidpack.intake.quick_times import ReadTimes, TimeCells
from evidpack.intake.zones import load_zone, stamper
from evidpack.model.tables import NO_INSTANT, microseconds_of
from evidpack.model.values import JsonValue

# Declared format, and the format of strftime that writes it, for one column or two.
FORMATS = {
    "%d/%m/%Y %H:%M:%S": ("%d/%m/%Y", "%H:%M:%S"),
    "%d.%m.%y %H:%M:%S,%f": ("%d.%m.%y", "%H:%M:%S,%f"),
    "%Y-%m-%d %H:%M:%S.%f": ("%Y-%m-%d %H:%M:%S.%f",),
    "%Y-%m-%d %I:%M:%S %p": ("%Y-%m-%d", "%I:%M:%S %p"),
    "%H:%M:%S %d/%m/%Y": ("%H:%M:%S", "%d/%m/%Y"),
    "%Y%m%d%H%M%S": ("%Y%m%d%H%M%S",),
    "%Y-%m-%d %H:%M": ("%Y-%m-%d %H:%M",),
    "%Y-%m-%d %H:%M:%S%z": ("%Y-%m-%d %H:%M:%S+0130",),
    "%Y %b %d %H:%M:%S": ("%Y", "%b %d", "%H:%M:%S"),
    "rfc3339": ("%Y-%m-%dT%H:%M:%S.%fZ",),
    "unix-seconds": ("1778749953",),
}
RFC3339 = ("%Y-%m-%dT%H:%M:%S", "%Y-%m-%dT%H:%M:%SZ", "%Y-%m-%d %H:%M:%S.%f-02:30")
ZONES = ("Europe/London", "Australia/Lord_Howe", "Africa/Monrovia", "UTC", "+05:45", "")


class Both:
    """The quick reader beside the reader of the format, which is the definition."""

    def __init__(self, declared: str, zone: str, *, empty: frozenset[str] = frozenset()) -> None:
        self.empty = empty
        self.slow = compile_time(declared, stamper(load_zone(zone)))
        self.quick = TimeCells(declared, self.slow, self.text_of, empty=empty)

    def text_of(self, cells: Sequence[str]) -> str:
        parts = [cell.strip() for cell in cells]
        return " ".join("" if part in self.empty else part for part in parts).strip()

    def one_by_one(self, rows: Sequence[Sequence[str]]) -> ReadTimes:
        found = ReadTimes(values=[], instants=[], reasons={})
        for row, cells in enumerate(rows):
            value: JsonValue = None
            instant = NO_INSTANT
            text = self.text_of(cells)
            try:
                if text:
                    stamp = self.slow(text)
                    value = stamp.to_json()
                    if stamp.determined is not None:
                        instant = microseconds_of(stamp.determined)
            except CellError as error:
                found.reasons[row] = str(error)
            found.values.append(value)
            found.instants.append(instant)
        return found

    def agree(self, rows: Sequence[Sequence[str]]) -> ReadTimes:
        expected = self.one_by_one(rows)
        for _ in range(2):  # the second time from what is remembered
            assert self.quick.read(list(zip(*rows, strict=True))) == expected
        return expected


_moments = st.one_of(
    st.datetimes(min_value=datetime(1899, 1, 1), max_value=datetime(3001, 1, 1)),
    # Around changes of the clocks: London, Lord Howe (half an hour), Monrovia (44.5 minutes).
    st.builds(
        lambda start, seconds: start + timedelta(seconds=seconds),
        st.sampled_from(
            [
                datetime(2026, 3, 29, 1), datetime(2026, 10, 25, 1), datetime(2026, 4, 5, 2),
                datetime(2026, 10, 4, 2), datetime(1972, 1, 7), datetime(1919, 3, 1),
            ]
        ),
        st.integers(-7200, 7200),
    ),
)  # fmt: skip
_junk = st.one_of(
    st.just(("", 0, 0)),
    st.tuples(
        st.sampled_from([" ", "0", "9", ":", ".", ",", "Z", "-", "60", "+01:00", "é", "٣", "\t"]),
        st.integers(0, 30),
        st.integers(0, 2),
    ),
)


def _spoilt(text: str, junk: tuple[str, int, int]) -> str:
    extra, place, lost = junk
    return text[:place] + extra + text[place + lost :]


@given(
    st.sampled_from(sorted(FORMATS)),
    st.sampled_from(ZONES),
    st.lists(st.tuples(_moments, _junk, st.integers(0, 2)), min_size=1, max_size=12),
)
def test_any_format_in_any_zone(
    declared: str, zone: str, moments: list[tuple[datetime, tuple[str, int, int], int]]
) -> None:
    shapes = FORMATS[declared]
    rows = []
    for moment, junk, column in moments:
        for second in (0, 29, 59):
            cells = [moment.replace(second=second).strftime(shape) for shape in shapes]
            rows.append(cells)
        spoilt = [moment.strftime(shape) for shape in shapes]
        place = column % len(shapes)
        spoilt[place] = _spoilt(spoilt[place], junk)
        rows.append(spoilt)
    Both(declared, zone).agree(rows)


@given(
    st.sampled_from(ZONES),
    st.lists(st.tuples(_moments, st.sampled_from(RFC3339), _junk), min_size=1, max_size=12),
)
@example("UTC", [(datetime(2026, 5, 14, 9), "%Y-%m-%dT%H:%M:%S.Z", ("", 0, 0))])
def test_every_shape_of_rfc_3339(
    zone: str, moments: list[tuple[datetime, str, tuple[str, int, int]]]
) -> None:
    Both("rfc3339", zone).agree(
        [[_spoilt(moment.strftime(shape), junk)] for moment, shape, junk in moments]
    )


def test_an_hour_that_occurs_twice_or_never_is_said_cell_by_cell() -> None:
    both = Both("%d/%m/%Y %H:%M:%S", "Europe/London")
    found = both.agree([["25/10/2026", "01:30:05"], ["29/03/2026", "01:30:05"]])
    twice, never = found.values
    assert isinstance(twice, dict)
    assert isinstance(never, dict)
    assert (twice["status"], never["status"]) == ("ambiguous", "nonexistent")
    assert found.instants == [NO_INSTANT, NO_INSTANT]


@pytest.mark.parametrize("word", ["00:00:30", "14/05/2026", "n/a"])
def test_a_text_that_stands_for_no_time_is_none_within_its_minute(word: str) -> None:
    both = Both("%d/%m/%Y %H:%M:%S", "Europe/London", empty=frozenset({word, "-"}))
    rows = [["14/05/2026", f"00:00:{second:02d}"] for second in range(60)]
    found = both.agree([*rows, ["-", "n/a"], ["-", " - "], [" ", ""]])
    assert found.values[-2:] == [None, None]
    assert (found.values[30] is None) == (word != "n/a")
