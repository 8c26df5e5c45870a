from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.intake.cells import compile_cell, json_number, number_of
from evidpack.intake.dates import CellError
from evidpack.intake.field_spec import FieldSpec
from evidpack.model.fields import FIELDS, RecordKind

READING = FIELDS[RecordKind.READING]
TEST = FIELDS[RecordKind.DEVICE_TEST]
CHECK = FIELDS[RecordKind.CLOCK_CHECK]


def _spec(name: str, *, kind: RecordKind = RecordKind.READING, **given: object) -> FieldSpec:
    return FieldSpec(field=FIELDS[kind][name], columns=("c",), **given)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "decimal", "expected"),
    [("71", ".", 71), ("71.0", ".", 71), ("71.5 mph", ".", 71.5), ("71MPH", ".", 71),
     ("71,5", ",", 71.5), ("-3", ".", -3), ("+3", ".", 3), ("-0.0", ".", 0), ("1e2", ".", 100)],
)  # fmt: skip
def test_a_speed_keeps_its_number_and_its_unit(text: str, decimal: str, expected: float) -> None:
    spec = _spec("speed", unit="mph")
    value = compile_cell(spec, decimal=decimal)(text)
    assert (spec.value_name, value) == ("speed_mph", expected)


@pytest.mark.parametrize(
    ("text", "decimal"),
    [("71,5", "."), ("71.5", ","), ("1.071,5", ","), ("1,071", "."), ("71 km/h", "."), ("NaN", "."),
     ("inf", "."), ("-", "."), ("7 1", "."), ("0x10", "."), ("1_000", "."), ("１２", "."),
     ("1e999", "."), ("9007199254740993", "."), ("9" * 4000, "."), ("71 mph mph", "."), (".5", ".")],
)  # fmt: skip
def test_what_is_no_number_in_that_notation_is_refused(text: str, decimal: str) -> None:
    with pytest.raises(CellError):
        compile_cell(_spec("speed", unit="mph"), decimal=decimal)(text)


@pytest.mark.parametrize(
    ("unit", "name"), [("mph", "speed_mph"), ("km/h", "speed_kmh"), ("m/s", "speed_mps")]
)
def test_the_name_of_a_speed_says_its_unit(unit: str, name: str) -> None:
    assert _spec("speed", unit=unit).value_name == name


def test_a_length_in_feet_stays_in_feet() -> None:
    spec = _spec("range", unit="ft")
    assert (spec.value_name, compile_cell(spec, decimal=".")("804.8 ft")) == ("range_ft", 804.8)


def test_seconds_exported_in_milliseconds_become_seconds() -> None:
    spec = _spec("uncertainty_s", kind=RecordKind.CLOCK_CHECK, unit="ms")
    assert compile_cell(spec, decimal=".")("50") == 0.05


def test_a_series_is_cut_at_its_separator_and_brought_to_its_unit() -> None:
    times = _spec("pulse_times_s", separator=";", unit="ms")
    assert compile_cell(times, decimal=",")("0; 10,5 ;20;") == [0, 0.0105, 0.02]
    ranges = _spec("pulse_ranges_m", separator="|", unit="ft")
    # 1 ft = 0.3048 m exactly (international foot, from memory).
    assert compile_cell(ranges, decimal=".")("100|200") == [30.48, 60.96]
    assert compile_cell(times, decimal=",")("[0, 1.5e1]") == [0, 0.015]


@pytest.mark.parametrize("text", ["1;;2", "1;x", "[1, [2]]", "[1", '["NaN"]', "[NaN]", "[null]"])
def test_a_broken_series_is_refused(text: str) -> None:
    with pytest.raises(CellError):
        compile_cell(_spec("pulse_times_s", separator=";", unit="s"), decimal=".")(text)


def test_a_choice_is_mapped_or_is_one_of_its_own_words() -> None:
    mapped = compile_cell(
        _spec("result", kind=RecordKind.DEVICE_TEST, map={"OK": "pass", "BAD": "fail", "-": ""}),
        decimal=".",
    )
    assert (mapped("OK"), mapped("BAD"), mapped("-")) == ("pass", "fail", None)
    with pytest.raises(CellError, match="none of those mapped: -, BAD, OK"):
        mapped("ok?")
    plain = compile_cell(_spec("result", kind=RecordKind.DEVICE_TEST), decimal=".")
    assert plain("PASS") == "pass"
    with pytest.raises(CellError, match="none of: pass, fail"):
        plain("OK")


@pytest.mark.parametrize(("text", "expected"), [("yes", True), ("0", False), ("TRUE", True)])
def test_a_flag_is_read(text: str, expected: bool) -> None:
    assert compile_cell(_spec("discarded"), decimal=".")(text) is expected


@pytest.mark.parametrize("text", ["2", "maybe", "y", "-"])
def test_a_flag_that_says_neither_is_refused(text: str) -> None:
    with pytest.raises(CellError, match="neither true nor false"):
        compile_cell(_spec("discarded"), decimal=".")(text)


@pytest.mark.parametrize("text", ["1.5", "1e-3", "12a", "12345678901234567890"])
def test_a_whole_number_must_be_one(text: str) -> None:
    with pytest.raises(CellError):
        compile_cell(_spec("image_number"), decimal=".")(text)


def test_leading_zeros_are_kept_in_a_text_and_dropped_in_a_number() -> None:
    assert compile_cell(_spec("meter"), decimal=".")("0042") == "0042"
    assert compile_cell(_spec("image_number"), decimal=".")("0042") == 42


@given(st.decimals(-(10**9), 10**9, allow_nan=False, allow_infinity=False, places=4))
def test_the_decimal_sign_changes_nothing_else(number: Decimal) -> None:
    text = f"{number:f}"
    point = json_number(number_of(text, ".", ()))
    assert json_number(number_of(text.replace(".", ","), ",", ())) == point
    assert point == float(text)


@given(st.text(max_size=40))
def test_any_text_is_a_number_or_a_cell_error(text: str) -> None:
    try:
        value = compile_cell(_spec("speed", unit="mph"), decimal=".")(text.strip() or "x")
    except CellError:
        return
    assert isinstance(value, (int, float))


@given(
    st.one_of(
        st.from_regex(r"[0-9]{1,17}(\.[0-9]{0,17})?", fullmatch=True),
        st.text("0123456789.-+e ٣", max_size=18),
    )
)
def test_a_number_of_few_digits_is_read_as_any_other(text: str) -> None:
    cell = text.strip() or "x"
    for name, unit in (("speed", "mph"), ("image_number", None)):
        try:
            exact = number_of(cell, ".", ("mph",) if unit else ())
            expected: object = json_number(exact)
            if unit is None and not (isinstance(expected, int) and exact == expected):
                expected = CellError
        except CellError:
            expected = CellError
        try:
            found: object = compile_cell(_spec(name, unit=unit), decimal=".")(cell)
        except CellError:
            found = CellError
        assert (found, type(found)) == (expected, type(expected))
