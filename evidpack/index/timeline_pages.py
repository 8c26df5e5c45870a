"""The chapter that draws the day to scale: a strip for each session, and one for calibrations."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, timedelta, tzinfo
from typing import Final

from evidpack.index.assembly import Assembly, Capture
from evidpack.index.content import IndexedRecord
from evidpack.index.flow import Flow
from evidpack.index.paperwork import certificates_of
from evidpack.index.phrases import offset_text, stamp_of
from evidpack.index.timeline import Axis, Lane, Mark, Strip, even_ticks
from evidpack.model.fields import RecordKind
from evidpack.model.records import Record

_LETTERS: Final = {
    "self": "S",
    "display": "D",
    "alignment-horizontal": "H",
    "alignment-vertical": "V",
    "distance": "R",
    "zero": "Z",
}
_MINUTE: Final = 60.0
_STEPS_S: Final = (1, 5, 15, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 21600, 43200, 86400,
                   604800, 2592000, 31536000)  # fmt: skip
_STEPS_DAYS: Final = (1, 2, 5, 10, 20, 50, 100, 200, 400, 1000, 4000, 20000, 100000)
_SILENCE: Final = timedelta(minutes=15)  # a pause this long between readings is labelled


def draw_timelines(flow: Flow, day: Assembly, chapter: int) -> None:
    """One strip a session, one for what belongs to none, one for calibration cover."""
    flow.chapter(f"{chapter}  Timeline", "timeline", keep=200)
    flow.paragraph(
        "Drawn to scale on the times as recorded. A time that does not name one instant is left "
        "out here and stands in the tables. Tests: S self, D display, H and V alignment, R "
        "distance, Z zero; a hollow mark is a test that failed. Hatched: image numbers that are "
        "missing between two stills."
    )
    drawn: set[int] = set()
    for indexed in day.of(RecordKind.SESSION):
        name = indexed.record.text("id")
        captures = [c for c in day.captures if c.record.text("session") == name]
        drawn.update(capture.number for capture in captures)
        _draw_session(flow, day, indexed.record, captures)
    loose = [capture for capture in day.captures if capture.number not in drawn]
    if loose:
        flow.section("Captures of no described session")
        lanes = (_readings(loose), _gaps(day, loose))
        _draw_strip(flow, lanes, None, _zone_of(loose))
    _draw_cover(flow, day)


def _draw_session(flow: Flow, day: Assembly, session: Record, captures: Sequence[Capture]) -> None:
    name = session.text("id")
    flow.section(f"Session {name}", keep=150)
    span = _instant(session, "start"), _instant(session, "end")
    mine = [r.record for r in day.of(RecordKind.DEVICE_TEST) if _belongs(r.record, session, span)]
    checks = [r.record for r in day.of(RecordKind.CLOCK_CHECK) if _within(r.record, span)]
    lanes = (
        _session_lane(span),
        _tests(mine),
        _readings(captures),
        _pauses(captures),
        _gaps(day, captures),
        _clock_checks(checks),
    )
    zone = span[0].tzinfo if span[0] is not None else _zone_of(captures)
    _draw_strip(flow, lanes, span, zone)


def _instant(record: Record, name: str) -> datetime | None:
    stamp = stamp_of(record, name)
    return None if stamp is None else stamp.determined


def _belongs(
    record: Record, session: Record, span: tuple[datetime | None, datetime | None]
) -> bool:
    named = record.text("session")
    return named == session.text("id") if named is not None else _within(record, span)


def _within(record: Record, span: tuple[datetime | None, datetime | None]) -> bool:
    """Within the session or the hour before or after: clocks are checked around it."""
    at = _instant(record, "time")
    if at is None or span[0] is None or span[1] is None:
        return False
    hour = timedelta(hours=1)
    return span[0] - hour <= at <= span[1] + hour


def _zone_of(captures: Iterable[Capture]) -> tzinfo | None:
    for capture in captures:
        at = _instant(capture.shown, "time")
        if at is not None:
            return at.tzinfo
    return UTC


def _session_lane(span: tuple[datetime | None, datetime | None]) -> Lane:
    first, last = span
    if first is None or last is None or last < first:
        return Lane(name="Session", marks=())
    return Lane(name="Session", marks=(Mark(at=first.timestamp(), until=last.timestamp()),))


def _tests(tests: Sequence[Record]) -> Lane:
    marks = []
    for test in tests:
        at = _instant(test, "time")
        if at is not None:
            letter = _LETTERS.get(test.text("test") or "", "?")
            passed = test.text("result") == "pass"
            marks.append(Mark(at=at.timestamp(), symbol="circle", label=letter, filled=passed))
    return Lane(name="Tests", marks=sorted(marks, key=lambda mark: mark.at))


def _times(captures: Iterable[Capture]) -> list[float]:
    instants = (_instant(capture.shown, "time") for capture in captures)
    return sorted(instant.timestamp() for instant in instants if instant is not None)


def _readings(captures: Sequence[Capture]) -> Lane:
    return Lane(name="Readings", marks=[Mark(at=at) for at in _times(captures)])


def _pauses(captures: Sequence[Capture]) -> Lane:
    times = _times(captures)
    marks = [
        Mark(at=before, until=after, label=f"{(after - before) / _MINUTE:.0f} min")
        for before, after in itertools.pairwise(times)
        if after - before >= _SILENCE.total_seconds()
    ]
    return Lane(name="No reading for 15 min or more", marks=marks)


def _gaps(day: Assembly, captures: Sequence[Capture]) -> Lane:
    """Stretches between two stills of one counter whose numbers do not follow each other."""
    owner = {path: capture for capture in captures for path in capture.stills}
    numbered: dict[str, list[tuple[float, int]]] = {}
    for indexed in day.of(RecordKind.STILL):
        still = indexed.record
        capture, number = owner.get(still.text("path") or ""), still.integer("image_number")
        if capture is None or number is None:
            continue
        at = _instant(still, "time") or _instant(capture.shown, "time")
        if at is not None:
            numbered.setdefault(still.text("counter") or "", []).append((at.timestamp(), number))
    marks = []
    for series in numbered.values():
        series.sort()
        for (before, low), (after, high) in itertools.pairwise(series):
            if high > low + 1:
                label = f"{low + 1}" if high == low + 2 else f"{low + 1}–{high - 1}"
                marks.append(Mark(at=before, until=after, label=label))
    marks.sort(key=lambda mark: mark.at)
    return Lane(name="Image numbers missing", marks=marks, hatched=True)


def _clock_checks(checks: Sequence[Record]) -> Lane:
    marks = []
    for check in checks:
        at = _instant(check, "time")
        if at is not None:
            label = check.text("clock") or ""
            marks.append(Mark(at=at.timestamp(), symbol="diamond", label=label))
    return Lane(name="Clock checks", marks=sorted(marks, key=lambda mark: mark.at))


def _draw_strip(
    flow: Flow,
    lanes: Sequence[Lane],
    span: tuple[datetime | None, datetime | None] | None,
    zone: tzinfo | None,
) -> None:
    points = [mark.at for lane in lanes for mark in lane.marks]
    points += [mark.until for lane in lanes for mark in lane.marks if mark.until is not None]
    points += [moment.timestamp() for moment in span or () if moment is not None]
    if not points:
        flow.paragraph("Nothing here has a time that names one instant.")
        return
    pad = max((max(points) - min(points)) * 0.02, _MINUTE)
    first, last = min(points) - pad, max(points) + pad
    zone = zone or UTC
    origin = datetime.fromtimestamp(first, zone)
    shift = (origin.utcoffset() or timedelta(0)).total_seconds()
    ticks = [tick - shift for tick in even_ticks(first + shift, last + shift, _STEPS_S, at_most=9)]
    seconds = last - first < 10 * _MINUTE
    long = last - first > 86_400
    form = "%m-%d %H:%M" if long else "%H:%M:%S" if seconds else "%H:%M"
    labels = [(tick, datetime.fromtimestamp(tick, zone).strftime(form)) for tick in ticks]
    caption = f"{origin.date().isoformat()}, times at {offset_text(origin)}"
    used = [lane for lane in lanes if lane.marks]
    Strip(flow, Axis(first=first, last=last, ticks=labels, caption=caption), used).draw()


def _draw_cover(flow: Flow, day: Assembly) -> None:
    calibrations = certificates_of(day, "calibration")
    duty = day.content.date
    flow.section("Calibration cover", keep=150)
    if not calibrations or duty is None:
        flow.paragraph("No calibration certificate is among the records.")
        return
    events = day.of(RecordKind.METER_EVENT)
    lanes = [_cover_lane(indexed.record, events, duty) for indexed in calibrations]
    lanes = [lane for lane in lanes if lane.marks]
    points = [mark.at for lane in lanes for mark in lane.marks]
    points += [mark.until for lane in lanes for mark in lane.marks if mark.until is not None]
    points += [float(duty.toordinal())]
    pad = max((max(points) - min(points)) * 0.04, 5.0)
    first, last = min(points) - pad, max(points) + pad
    ticks = [
        (tick, date.fromordinal(int(tick)).isoformat())
        for tick in even_ticks(first, last, _STEPS_DAYS, at_most=8)
        if 1 <= tick <= date.max.toordinal()
    ]
    caption = (
        "From the date of calibration to the last day that the certificate states. An arrow: it "
        "states none, and the rule set's interval decides (finding of check 2). Diamond: the day "
        "of this bundle. Cross: repair, broken tamper seal or changed firmware."
    )
    Strip(flow, Axis(first=first, last=last, ticks=ticks, caption=caption), lanes).draw()


def _cover_lane(record: Record, events: Sequence[IndexedRecord], duty: date) -> Lane:
    begin = _date(record, "calibrated") or _date(record, "valid_from")
    end = _date(record, "valid_until")
    serial = record.text("serial") or "meter not named"
    marks = []
    if begin is not None:
        open_until = max(duty, begin) + timedelta(days=12)
        until = end if end is not None and end >= begin else open_until
        marks.append(
            Mark(
                at=float(begin.toordinal()),
                until=float(until.toordinal()),
                label=f"{record.text('number') or ''}",
                open_ended=end is None,
            )
        )
    for event in events:
        at = _date(event.record, "date")
        if at is not None and event.record.text("meter") == record.text("serial"):
            marks.append(Mark(at=float(at.toordinal()), symbol="cross"))
    marks.append(Mark(at=float(duty.toordinal()), symbol="diamond"))
    return Lane(name=serial, marks=marks)


def _date(record: Record, name: str) -> date | None:
    try:
        return date.fromisoformat(record.text(name) or "")
    except ValueError:
        return None
