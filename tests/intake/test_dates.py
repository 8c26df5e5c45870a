from __future__ import annotations

from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.intake.dates import (
    CellError,
    FormatError,
    compile_date,
    compile_time,
    needs_zone,
)
from evidpack.intake.zones import load_zone, stamper

LONDON = stamper(load_zone("Europe/London"))


def _read(form: str, text: str) -> object:
    return compile_time(form, LONDON)(text).to_json()


@pytest.mark.parametrize(
    ("form", "text", "expected"),
    [
        ("%d/%m/%Y %H:%M:%S", "14/05/2026 09:12:33", "2026-05-14T09:12:33+01:00"),
        ("%m/%d/%Y %H:%M:%S", "03/04/2026 09:12:33", "2026-03-04T09:12:33+00:00"),
        ("%d/%m/%Y %H:%M:%S", "03/04/2026 09:12:33", "2026-04-03T09:12:33+01:00"),
        ("%d.%m.%y %H:%M:%S,%f", "1.5.26 9:02:03,25", "2026-05-01T09:02:03.250000+01:00"),
        ("%Y%m%d%H%M%S", "20260514091233", "2026-05-14T09:12:33+01:00"),
        ("%d %b %Y %I:%M %p", "14 MAY 2026 12:05 am", "2026-05-14T00:05:00+01:00"),
        ("%d %B %Y %I:%M %p", "14 May 2026 12:05 p.m.", "2026-05-14T12:05:00+01:00"),
        ("%Y-%m-%d %H:%M:%S%z", "2026-05-14 09:12:33-0330", "2026-05-14T09:12:33-03:30"),
        ("100%% %Y-%m-%d %H", "100% 2026-05-14 09", "2026-05-14T09:00:00+01:00"),
        ("rfc3339", "2026-05-14T09:12:33Z", "2026-05-14T09:12:33+00:00"),
        ("rfc3339", "2026-05-14t09:12:33.5+02:00", "2026-05-14T09:12:33.500000+02:00"),
        ("rfc3339", "2026-05-14T09:12:33", "2026-05-14T09:12:33+01:00"),
        # RFC 3339 section 4.3 (from memory): the instant is known, the local offset is not.
        ("rfc3339", "2026-05-14T09:12:33-00:00", "2026-05-14T09:12:33+00:00"),
        # POSIX time 1000000000 is 2001-09-09T01:46:40Z (from memory; widely published).
        ("unix-seconds", "1000000000", "2001-09-09T01:46:40+00:00"),
        ("unix-seconds", "1000000000.25", "2001-09-09T01:46:40.250000+00:00"),
        ("unix-milliseconds", "1000000000250", "2001-09-09T01:46:40.250000+00:00"),
    ],
)
def test_a_declared_format_is_read(form: str, text: str, expected: str) -> None:
    assert _read(form, text) == expected


@pytest.mark.parametrize(
    ("form", "text", "why"),
    [
        ("%d/%m/%Y %H:%M:%S", "14/13/2026 09:12:33", "no day or time that exists"),
        ("%d/%m/%Y %H:%M:%S", "29/02/2026 09:12:33", "no day or time that exists"),
        ("%d/%m/%Y %H:%M:%S", "14/05/2026 24:00:00", "no day or time that exists"),
        ("%d/%m/%Y %H:%M:%S", "14/05/2026 09:12", "not a time in the format"),
        ("%d/%m/%Y %H:%M:%S", "14/05/2026 09:12:33 ", "not a time in the format"),
        ("%d/%m/%Y %H:%M:%S", "١٤/05/2026 09:12:33", "not a time in the format"),
        ("%d/%m/%Y %H:%M:%S", "00/00/0000 00:00:00", "year outside"),
        ("rfc3339", "2026-05-14T23:59:60Z", "second 60"),
        ("rfc3339", "2026-05-14T09:12:33+24:00", "impossible offset"),
        ("rfc3339", "2026-05-14", "not a time"),
        ("%d %b %Y %H:%M", "14 Mai 2026 09:12", "no day or time that exists"),
        ("%d %b %Y %I:%M %p", "14 May 2026 13:12 pm", "no day or time that exists"),
        ("unix-seconds", "1e9", "not a count"),
        ("unix-seconds", "99999999999999", "out of bounds"),
        ("unix-seconds", "-9999999999", "outside the years"),
        ("unix-seconds", "NaN", "not a count"),
    ],
)
def test_what_does_not_fit_the_format_says_why(form: str, text: str, why: str) -> None:
    with pytest.raises(CellError, match=why):
        _read(form, text)


@pytest.mark.parametrize(
    "form",
    ["%d/%m %H:%M", "%Y-%m-%d", "%H:%M:%S", "%Y-%m-%d %I:%M", "%Y-%m-%d %Q", "%Y-%m-%d %H %H",
     "", "%", "%c", "%j %Y %H"],
)  # fmt: skip
def test_a_format_that_leaves_the_day_or_hour_open_is_refused(form: str) -> None:
    with pytest.raises(FormatError):
        compile_time(form, LONDON)


@pytest.mark.parametrize(
    ("form", "text", "expected"),
    [("rfc3339", "2026-05-14", "2026-05-14"), ("%d.%m.%Y", "1.12.2025", "2025-12-01"),
     ("%m/%d/%y", "12/01/69", "1969-12-01"), ("%m/%d/%y", "12/01/68", "2068-12-01")],
)  # fmt: skip
def test_a_date_is_read_in_its_format(form: str, text: str, expected: str) -> None:
    assert compile_date(form)(text).isoformat() == expected


@pytest.mark.parametrize(
    ("form", "text"), [("rfc3339", "14/05/2026"), ("rfc3339", "2026-02-30"), ("%d.%m.%Y", "today")]
)
def test_a_wrong_date_is_refused(form: str, text: str) -> None:
    with pytest.raises(CellError):
        compile_date(form)(text)


@pytest.mark.parametrize("form", ["%m/%Y", "unix-seconds", "%H:%M"])
def test_a_date_format_needs_a_day(form: str) -> None:
    with pytest.raises(FormatError):
        compile_date(form)


def test_which_formats_say_nothing_of_their_offset() -> None:
    assert needs_zone("%d/%m/%Y %H:%M")
    assert not needs_zone("%d/%m/%Y %H:%M%z")
    assert not needs_zone("rfc3339")


_formats = st.sampled_from(["%d/%m/%Y %H:%M:%S", "%Y-%m-%dT%H:%M:%S.%f", "%Y%m%d%H%M%S"])


@given(st.datetimes(datetime(1950, 1, 1), datetime(2100, 1, 1)), _formats)
def test_what_strftime_writes_reads_back(moment: datetime, form: str) -> None:
    """The oracle is Python's own strftime, in the formats that do not depend on a locale."""
    if "%f" not in form:
        moment = moment.replace(microsecond=0)
    assert compile_time(form, LONDON)(moment.strftime(form)).local == moment
