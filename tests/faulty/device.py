"""Faults of device tests, clocks and the order of events. Checks 4 to 7."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

from tests.faulty.edits import add, both, later, rewrite, swap, take_away
from tests.faulty.fault import DAY, fault
from tests.faulty.moving import AUTUMN, SPRING, moved, valid_until_autumn, vienna
from tests.faulty.second_day import (
    CAMERA_CLOCK,
    METER_CLOCK,
    TESTS,
    TYPED,
    camera_ahead,
    of_capture,
    reading,
    still_later,
)

_A = "session A"
_CAMERA = "clock kamerao"
_REPORT = "report of session A"
_ROW = "kl-9-004412;A;F-12\r\n"
_SIGNED = 'signed = "2026-03-11T11:40:00"'

DEVICE_TESTS = (
    fault("self-test-failed", "the closing self test failed",
          ("4", "fail", _A), ("self test", "after the last reading (capture 6)"),
          swap(TESTS, "10:40:05,6;memprovo;bone", "10:40:05,6;memprovo;malbone")),
    fault("self-test-repeated", "the self test before the session failed and was passed later",
          ("4", "query", _A), ("self test", "before the first reading (capture 1)"),
          add(TESTS, "11.03.2026;09:00:05,6;memprovo;malbone;;;;" + _ROW)),
    fault("no-alignment", "the alignment check before the session is not shown",
          ("4", "fail", _A), ("before the first reading (capture 1)", "alignment-horizontal"),
          swap(TESTS, "11.03.2026;09:03:41,6;celado horizontala;bone;;;;" + _ROW, "")),
    fault("no-set-up-display", "the display test before the session is not shown",
          ("4", "fail", _A), ("before the first reading (capture 1)", "display"),
          swap(TESTS, "11.03.2026;09:02:53,6;vidigilo;bone;;;;" + _ROW, "")),
    fault("no-post-session-check", "no closing self test after the session",
          ("4", "fail", _A), ("after the last reading (capture 6)", "self"),
          swap(TESTS, "11.03.2026;10:40:05,6;memprovo;bone;;;;" + _ROW, "")),
    fault("closing-test-early", "the closing display test precedes the last reading",
          ("4", "fail", _A), ("after the last reading (capture 6)", "display"),
          swap(TESTS, "10:40:53,6", "10:10:53,6")),
    fault("test-before-the-meter", "a set-up test is dated before the meter was there",
          ("4", "not determinable", _A), ("dated 1999-03-11", "self", "before capture 1"),
          both(swap(TESTS, "11.03.2026;09:02:05,6;memprovo;bone;;;;" + _ROW, ""),
               add(DAY, '\n[[device_test]]\nsession = "A"\nmeter = "KL-9-004412"\n'
                   'time = "1999-03-11T09:00:00"\ntest = "self"\nresult = "pass"\n' + TYPED))),
    fault("zero-test", "the closing zero test showed a speed",
          ("4", "fail", _A), ("10:44:05", "3 km/h", "stood still"),
          swap(TESTS, "10:44:05,6;nula rapido;bone;;;0", "10:44:05,6;nula rapido;bone;;;3")),
    fault("distance-off", "the fixed distance is 0.4 m off",
          ("5", "fail", "distance test at 10:43:17.6+01:00"),
          ("30.4 m", "30 m surveyed", "0.4 m off", "more than 0.3 m"),
          swap(TESTS, "30,1;30,00", "30,4;30,00")),
    fault("distance-not-surveyed", "nobody states the true distance of a distance test",
          ("5", "not determinable", "distance test at 10:43:17.6+01:00"),
          ("surveyed distance",), swap(TESTS, "30,1;30,00", "30,1;")),
)  # fmt: skip

CLOCKS = (
    fault("clock-hour-out", "the camera's clock is an hour out, as after a clock change",
          ("6", "fail", _CAMERA), ("1 h 0 min 0 s ahead", "clock change", "more than 10 s"),
          camera_ahead(3600)),
    fault("clock-other-zone", "the camera's clock stands on another country's zone",
          ("6", "fail", _CAMERA), ("5 h 0 min 0 s ahead", "zone +05:00", "more than 10 s"),
          camera_ahead(18_000)),
    fault("clock-slow", "the camera's clock is 25 s slow",
          ("6", "fail", _CAMERA), ("behind the reference", "25.3 s", "more than 10 s"),
          camera_ahead(-25)),
    fault("clock-offset-unsure", "the camera's clock was compared too coarsely",
          ("6", "query", _CAMERA), ("uncertainty 12 s", "within 10 s can't be told"),
          swap(CAMERA_CLOCK, ";0,2;", ";12,0;", times=2)),
    fault("clock-not-compared", "the camera's clock was never compared",
          ("6", "not determinable", _CAMERA), ("No check of clock kamerao",),
          take_away(CAMERA_CLOCK)),
    fault("clock-zone-unknown", "nobody says which zone the camera's clock keeps",
          ("6", "not determinable", _CAMERA), ("No zone is declared",),
          swap(DAY, 'zone = "UTC"\n', 'zone = ""\n')),
    fault("date-lost", "the meter's clock lost its date for one reading",
          ("6", "fail", "clock aparato"), ("1 time", "2000-01-01T09:42:43.3", "1 January 2000"),
          both(swap(reading(3), "11.03.2026 09:42:43,3", "01.01.2000 09:42:43,3"),
               of_capture("data_strip", 3, 'time = "2026-03-11T09:42:43.3"',
                          'time = "2000-01-01T09:42:43.3"'))),
    fault("clock-not-put-forward", "the meter's clock was not put forward on the night of the change",
          ("6", "query", "clock aparato"), ("captures 4–6", "did not exist", "not put forward"),
          both(moved(SPRING, meter=timezone(timedelta(hours=1)), reference=vienna()),
               rewrite(METER_CLOCK, r"29\.03\.2026 03[^\n]*\n", lambda found: ""),
               rewrite(DAY, r"T03(:\d\d:\d\d\.3)\+02:00", lambda found: f"T02{found[1]}"))),
    fault("hour-occurs-twice", "the meter stamps local time in the hour that occurs twice",
          ("6", "not determinable", "clock aparato"), ("captures 1–6", "occurs twice"),
          both(moved(AUTUMN), valid_until_autumn()),
          now=datetime(2026, 12, 1, 12, tzinfo=UTC)),
    fault("clock-drifts", "the video clock gains six seconds in a week",
          ("6", "query", "clock video"), ("in 14 days", "more than 10 s"),
          later("export/logs/clock_checks.csv",
                r"video,(?P<time>2026-05-14T\d\d:\d\d:\d\d)", "%Y-%m-%dT%H:%M:%S", 6),
          base="demo"),
)  # fmt: skip

ORDER = (
    fault("reading-after-signature", "the report was signed before the last reading",
          ("7", "fail", _REPORT), ("16 min 25 s before", "last reading"),
          swap(DAY, _SIGNED, 'signed = "2026-03-11T10:00:00"')),
    fault("report-before-tests", "the report was signed before the closing tests",
          ("7", "query", _REPORT), ("14 min 5 s before", "closing tests"),
          swap(DAY, _SIGNED, 'signed = "2026-03-11T10:30:00"')),
    fault("opinion-late", "the opinion was formed after the reading",
          ("7", "fail", "capture 2"), ("10.3 s", "capture 2"),
          swap(reading(2), "11.03.2026 09:31:26,6", "11.03.2026 09:31:39,6")),
    fault("opinion-before-set-up", "an opinion was formed before the meter was set up",
          ("7", "query", _A), ("65.6 s", "after the opinion"),
          swap(reading(1), "11.03.2026 09:20:12,6", "11.03.2026 09:05:00,0")),
    fault("still-early", "a still is timed before its reading",
          ("7", "query", "capture 3"), ("2.6 s", "before the reading"),
          still_later(3, -4)),
    fault("outside-session", "a reading was taken after the session had ended",
          ("7", "query", _A), ("Capture 6", "outside session A"),
          swap(DAY, 'end = "2026-03-11T10:50:00"', 'end = "2026-03-11T10:10:00"')),
    fault("no-such-session", "readings belong to a session that is not on record",
          ("7", "query", "capture 6"), ("Capture 6", "no session that is on record"),
          both(swap(reading(6), '"seanco": "A"', '"seanco": "B"'),
               swap(DAY, "captures = 6\n", "captures = 5\n"))),
    fault("after-the-seal", "a reading is timed after the day was checked",
          ("7", "fail", "captures 5–6"), ("Captures 5–6", "after this check or seal"),
          both(), now=datetime(2026, 3, 11, 9, 0, tzinfo=UTC)),
)  # fmt: skip

DEVICE = (*DEVICE_TESTS, *CLOCKS, *ORDER)
