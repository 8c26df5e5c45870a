"""Units and stamps: exact conversions, and times that say what they do not know."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.model.fields import RecordKind
from evidpack.model.records import Record, Source
from evidpack.model.stamps import Stamp, StampStatus
from evidpack.model.units import Length, Speed


def reading(**values: object) -> Record:
    return Record(kind=RecordKind.READING, source=Source(path="x"), values=values)  # type: ignore[arg-type]


def test_speeds_convert_by_the_exact_factors() -> None:
    # 1 mile = 1609.344 m exactly (from memory); 70 mph = 31.2928 m/s = 112.65408 km/h.
    speed = Speed(value=Decimal(70), unit="mph")
    assert speed.mps == pytest.approx(31.2928, abs=1e-12)
    assert speed.in_unit("km/h") == pytest.approx(112.65408, abs=1e-9)
    assert speed.in_unit("mph") == 70
    assert Length(value=Decimal(1), unit="ft").metres == 0.3048


def test_the_unit_of_a_record_is_in_the_name_of_its_value() -> None:
    assert str(reading(speed_kmh=114).speed("speed")) == "114 km/h"
    assert str(reading(range_ft=98.4).length("range")) == "98.4 ft"
    assert reading(speed_knots=3).speed("speed") is None


@given(st.decimals("-1000", "1000", places=2))
def test_a_number_keeps_the_digits_of_its_cell(value: Decimal) -> None:
    kept = reading(speed_mph=float(value)).speed("speed")
    assert kept is not None
    assert kept.value == value


def test_values_of_another_type_are_absent_rather_than_converted() -> None:
    record = reading(a="1", b=True, c=1.5, d=[1, 2], e=None)
    assert record.integer("a") is None
    assert record.integer("b") is None
    assert record.number("b") is None
    assert record.flag("a") is None
    assert record.text("c") is None
    assert record.series("a") is None
    assert record.series("d") == (1.0, 2.0)
    assert record.stamp("missing") is None


def test_a_determined_stamp_is_rfc_3339_text_and_comes_back() -> None:
    stamp = Stamp.at(datetime(2026, 5, 14, 9, 0, 0, tzinfo=UTC))
    assert stamp.to_json() == "2026-05-14T09:00:00+00:00"
    assert Stamp.from_json(stamp.to_json()) == stamp
    assert stamp.determined == datetime(2026, 5, 14, 9, tzinfo=UTC)


def test_an_ambiguous_stamp_keeps_both_instants_and_names_none() -> None:
    # PEP 495 and tzdata: Europe/London 2026-10-25 01:30 is 00:30Z or 01:30Z.
    stamp = Stamp(
        local=datetime(2026, 10, 25, 1, 30),
        status=StampStatus.AMBIGUOUS,
        instants=(
            datetime(2026, 10, 25, 0, 30, tzinfo=UTC),
            datetime(2026, 10, 25, 1, 30, tzinfo=UTC),
        ),
    )
    assert stamp.determined is None
    assert Stamp.from_json(stamp.to_json()) == stamp


@pytest.mark.parametrize(
    "value", [1, [], {}, {"local": "x"}, {"local": "2026-01-01T00:00:00", "status": "ambiguous",
     "instants": "none"}, "2026-05-14T09:00:00", "not a time"],
)  # fmt: skip
def test_another_shape_is_no_stamp(value: object) -> None:
    with pytest.raises(ValueError, match=r"."):
        Stamp.from_json(value)  # type: ignore[arg-type]


def test_a_naive_time_is_no_instant() -> None:
    with pytest.raises(ValueError, match="needs an offset"):
        Stamp.at(datetime(2026, 5, 14))
