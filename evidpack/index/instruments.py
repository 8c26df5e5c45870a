"""The chapter on meters: what they are, their calibrations, the tests and clock checks of the day."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Final

from evidpack.index.assembly import Assembly
from evidpack.index.flow import CELL_QUIET, CELL_STRONG, Flow
from evidpack.index.paperwork import (
    SOURCE_PT,
    Spec,
    certificates_of,
    draw_records,
    source_cell,
    span_of,
    speed_of,
    text_of,
    time_of,
)
from evidpack.index.phrases import (
    ABSENT,
    length_text,
    speed_text,
    stamp_of,
    stamp_text,
    value_text,
)
from evidpack.index.table import Cell, Column, Row, Table
from evidpack.model.fields import RecordKind
from evidpack.model.records import Record


def _text(record: Record, name: str) -> str:
    return record.text(name) or ABSENT


def _validity(record: Record) -> str:
    until = record.text("valid_until")
    return "no last day stated" if until is None else f"valid until {until}"


def _errors(record: Record) -> str:
    left = speed_text(record, "speed_error", absent="–")
    return f"{left} / {speed_text(record, 'speed_error_found', absent='–')}"


def _tolerance(record: Record) -> str:
    low, high = record.speed("tolerance_low"), record.speed("tolerance_high")
    return ABSENT if low is None or high is None else f"{low} to {high}"


def _difference(record: Record) -> str:
    shown, reference = stamp_of(record, "time"), stamp_of(record, "reference_time")
    if shown is None or reference is None:
        return "–"
    if shown.determined is None or reference.determined is None:
        return "not determinable"
    seconds = (shown.determined - reference.determined).total_seconds()
    return f"{value_text(seconds)} s" if seconds <= 0 else f"+{value_text(seconds)} s"


_METERS: Final[Sequence[Spec]] = (
    ("Serial", 1.2, text_of("serial")),
    ("Type", 1.6, text_of("type")),
    ("Firmware", 1.0, text_of("firmware")),
    ("Tamper seal", 1.2, text_of("tamper_seal")),
)
_IDENTITY: Final = ("serial", "type", "firmware")
_CALIBRATIONS: Final[Sequence[Spec]] = (
    ("Certificate, laboratory", 1.5, lambda r: (_text(r, "number"), _text(r, "laboratory"))),
    ("Serial, type, firmware", 1.4, lambda r: tuple(map(partial(_text, r), _IDENTITY))),
    ("Calibrated; stated validity", 1.2, lambda r: (_text(r, "calibrated"), _validity(r))),
    ("Largest error as left / found", 1.1, _errors),
    ("Tolerance", 1.0, _tolerance),
    ("U (k = 2)", 0.8, speed_of("speed_uncertainty")),
)
_APPROVALS: Final[Sequence[Spec]] = (
    ("Approval", 1.2, text_of("number")),
    ("Type", 1.0, text_of("type")),
    ("Firmware", 0.8, text_of("firmware")),
    ("Range", 1.2, lambda r: f"{length_text(r, 'range_min')} to {length_text(r, 'range_max')}"),
    ("Speed", 1.2, lambda r: f"{speed_text(r, 'speed_min')} to {speed_text(r, 'speed_max')}"),
    ("Valid", 1.3, span_of("valid_from", "valid_until")),
)
_METER_EVENTS: Final[Sequence[Spec]] = (
    ("Meter", 1.0, text_of("meter")),
    ("Date", 0.8, text_of("date")),
    ("Event", 1.2, text_of("event")),
    ("Detail", 2.4, text_of("detail")),
)
_CLOCKS: Final[Sequence[Spec]] = (
    ("Clock", 0.8, text_of("clock")),
    ("It showed", 2.1, time_of("time")),
    ("Reference showed", 2.6, lambda r: (stamp_text(r, "reference_time"), _text(r, "reference"))),
    ("Clock minus reference", 1.05, _difference),
    ("U (k = 2)", 0.9, lambda r: value_text(r.values.get("uncertainty_s"), "s")),
    ("Set right", 0.6, text_of("resynchronised")),
)
_TEST_COLUMNS: Final = (
    Column(title="Session, meter", share=1.0),
    Column(title="When", share=1.9),
    Column(title="Test", share=1.25),
    Column(title="Measured", share=0.85, right=True),
    Column(title="Should be", share=0.85, right=True),
    Column(title="Difference", share=0.9, right=True),
    Column(title="Log says", share=0.65),
    Column(title="Source", points=SOURCE_PT),
)


def draw_instruments(flow: Flow, day: Assembly, chapter: int) -> None:
    """Meters, calibrations, approvals, repairs, device tests, clock checks."""
    flow.chapter(f"{chapter}  Meters, calibrations and tests", "instruments")
    if not day.of(RecordKind.METER):
        flow.paragraph("No meter was described.")
    draw_records(flow, day, "Meters", day.of(RecordKind.METER), _METERS)
    draw_records(flow, day, "Calibrations", certificates_of(day, "calibration"), _CALIBRATIONS)
    draw_records(flow, day, "Approvals", certificates_of(day, "approval"), _APPROVALS)
    draw_records(
        flow, day, "Repairs and tamper seals", day.of(RecordKind.METER_EVENT), _METER_EVENTS
    )
    _draw_tests(flow, day)
    draw_records(flow, day, "Clock checks", day.of(RecordKind.CLOCK_CHECK), _CLOCKS)


def _draw_tests(flow: Flow, day: Assembly) -> None:
    tests = day.of(RecordKind.DEVICE_TEST)
    flow.section("Device tests", "tests", keep=140)
    if not tests:
        flow.paragraph("No device test is among the records.")
        return
    flow.paragraph(
        "Measured is what the meter showed; should be is the surveyed distance, or zero for a "
        "still target. Whether a difference is within its limit is a finding of check 5, and "
        "whether the tests enclose the session one of check 4 (chapter 5)."
    )
    rows = []
    for indexed in tests:
        record = indexed.record
        measured, should_be, difference = _measured(record)
        cells = (
            Cell(
                text=record.text("session") or ABSENT,
                more=((record.text("meter") or ABSENT, CELL_QUIET),),
            ),
            Cell(text=stamp_text(record, "time")),
            Cell(text=record.text("test") or ABSENT),
            Cell(text=measured),
            Cell(text=should_be),
            Cell(text=difference),
            Cell(text=record.text("result") or ABSENT, style=CELL_STRONG),
            source_cell(day, indexed),
        )
        rows.append(Row(cells=cells, bar=record.text("result") == "fail"))
    Table(flow, _TEST_COLUMNS).draw(rows)


def _measured(record: Record) -> tuple[str, str, str]:
    """What the meter showed, what it should have shown, and the difference."""
    speed = record.speed("shown_speed")
    if speed is not None:
        return str(speed), f"0 {speed.unit}", str(speed)
    measured, surveyed = record.length("measured"), record.length("surveyed")
    texts = length_text(record, "measured", absent="–"), length_text(record, "surveyed", absent="–")
    if measured is None or surveyed is None:
        return *texts, "–"
    if measured.unit == surveyed.unit:
        return *texts, f"{measured.value - surveyed.value:+} {measured.unit}"
    return *texts, f"{measured.metres - surveyed.metres:+.3f} m"
