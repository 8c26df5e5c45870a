"""Declared date formats. A format is declared, never guessed, and never depends on a locale.

A format is ``rfc3339``, ``unix-seconds``, ``unix-milliseconds``, or directives of strftime:
``%Y %y %m %d %H %I %M %S %f %p %z %b %B %%``.  Names of months are English.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal, InvalidOperation
from typing import Final

from evidpack.intake.zones import ToStamp, UnknownZoneError, fixed_offset
from evidpack.model.stamps import Stamp

RFC3339: Final = "rfc3339"
UNIX_SECONDS: Final = "unix-seconds"
UNIX_MILLISECONDS: Final = "unix-milliseconds"
FIRST_YEAR: Final = 1900
LAST_YEAR: Final = 2999

_MONTHS: Final = (
    "january", "february", "march", "april", "may", "june", "july",
    "august", "september", "october", "november", "december",
)  # fmt: skip
_OFFSET: Final = r"(?P<z>Z|z|[+-]\d{2}:?\d{2})"
_DIRECTIVES: Final[dict[str, str]] = {
    "Y": r"(?P<Y>\d{4})",
    "y": r"(?P<y>\d{2})",
    "m": r"(?P<m>\d{1,2})",
    "d": r"(?P<d>\d{1,2})",
    "H": r"(?P<H>\d{1,2})",
    "I": r"(?P<I>\d{1,2})",
    "M": r"(?P<M>\d{1,2})",
    "S": r"(?P<S>\d{1,2})",
    "f": r"(?P<f>\d{1,9})",
    "p": r"(?P<p>[AaPp]\.?[Mm]\.?)",
    "z": _OFFSET,
    "b": r"(?P<b>[A-Za-z]{3})\.?",
    "B": r"(?P<B>[A-Za-z]{3,9})",
}
_RFC3339: Final = re.compile(
    r"(?P<Y>\d{4})-(?P<m>\d{2})-(?P<d>\d{2})[Tt ](?P<H>\d{2}):(?P<M>\d{2}):(?P<S>\d{2})"
    rf"(?:\.(?P<f>\d{{1,9}}))?{_OFFSET}?",
    re.ASCII,
)
_FULL_DATE: Final = re.compile(r"(\d{4})-(\d{2})-(\d{2})", re.ASCII)
_UNIX: Final = re.compile(r"-?\d{1,14}(?:\.\d{1,9})?", re.ASCII)
_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)

_PIECE: Final = re.compile(r"%.?|[^%]", re.DOTALL)
_NUMBERS: Final = frozenset("YymdHIMSf")

ToTime = Callable[[str], Stamp]
ToDate = Callable[[str], date]


class CellError(ValueError):
    """A cell that can't be read; the message says why, for a person."""


class FormatError(ValueError):
    """A declared format that is no format."""


def compile_time(declared: str, stamp: ToStamp) -> ToTime:
    """A reader of times in a declared format; local times go through `stamp`.

    The reader raises CellError. Raises FormatError where the format lacks a day or an hour.
    """
    if declared == RFC3339:
        return lambda text: _read(_RFC3339, text, RFC3339, stamp)
    if declared in {UNIX_SECONDS, UNIX_MILLISECONDS}:
        scale = Decimal(1) if declared == UNIX_SECONDS else Decimal(1000)
        return lambda text: _unix(text, scale)
    pattern, names = _pattern(declared)
    if not _has_day(names) or not names & {"H", "I"}:
        raise FormatError("a time needs year, month, day and hour")
    if "I" in names and "p" not in names:
        raise FormatError("%I (hours to 12) needs %p")
    return lambda text: _read(pattern, text, declared, stamp)


def compile_date(declared: str) -> ToDate:
    """A reader of dates in a declared format. Raises FormatError where it lacks a day."""
    if declared == RFC3339:
        return _full_date
    if declared in {UNIX_SECONDS, UNIX_MILLISECONDS}:
        raise FormatError("a date is not counted in seconds; use a time field")
    pattern, names = _pattern(declared)
    if not _has_day(names):
        raise FormatError("a date needs year, month and day")

    def read(text: str) -> date:
        found = pattern.fullmatch(text)
        if found is None:
            raise CellError(f"{_shown(text)} is not a date in the format {declared!r}")
        return _naive(found.groupdict(), text).date()

    return read


def seconds_stand_last(declared: str) -> bool:
    """Whether a text in this format ends with its seconds, which a sign sets apart."""
    pieces = _PIECE.findall(declared)
    return len(pieces) > 1 and pieces[-1] == "%S" and _sets_apart(pieces[-2])


def fraction_sign(declared: str) -> str | None:
    """The point or comma where a text in this format ends with its seconds and their fraction."""
    pieces = _PIECE.findall(declared)
    ends_so = len(pieces) > 3 and pieces[-3] == "%S" and pieces[-1] == "%f"
    return pieces[-2] if ends_so and pieces[-2] in ".," and _sets_apart(pieces[-4]) else None


def _sets_apart(piece: str) -> bool:
    return len(piece) == 1 and not piece.isalnum() and not piece.isspace()


def needs_zone(declared: str) -> bool:
    """Whether times in this format say nothing of their offset."""
    special = {RFC3339, UNIX_SECONDS, UNIX_MILLISECONDS}
    return declared not in special and "%z" not in declared


def _pattern(declared: str) -> tuple[re.Pattern[str], set[str]]:
    parts: list[str] = []
    names: set[str] = set()
    pieces = _PIECE.findall(declared)
    for number, piece in enumerate(pieces):
        if piece == "%%" or (len(piece) == 1 and piece != "%"):
            parts.append(re.escape(piece[-1]))
            continue
        directive = piece[1:]
        if directive not in _DIRECTIVES or directive in names:
            raise FormatError(f"%{directive} is unknown or stands twice")
        names.add(directive)
        part = _DIRECTIVES[directive]
        # Digits that touch other digits have a fixed number of places, else 1112026 has two readings.
        if _is_number(pieces, number - 1) or _is_number(pieces, number + 1):
            part = part.replace("{1,2}", "{2}")
        parts.append(part)
    return re.compile("".join(parts), re.ASCII), names


def _is_number(pieces: list[str], number: int) -> bool:
    return 0 <= number < len(pieces) and pieces[number][1:] in _NUMBERS


def _has_day(names: set[str]) -> bool:
    return bool(names & {"Y", "y"}) and bool(names & {"m", "b", "B"}) and "d" in names


def _read(pattern: re.Pattern[str], text: str, declared: str, stamp: ToStamp) -> Stamp:
    found = pattern.fullmatch(text)
    if found is None:
        raise CellError(f"{_shown(text)} is not a time in the format {declared!r}")
    parts = found.groupdict()
    local = _naive(parts, text)
    offset = parts.get("z")
    return stamp(local) if offset is None else Stamp.at(_with_offset(local, offset, text))


def _with_offset(local: datetime, offset: str, text: str) -> datetime:
    if offset in "Zz":
        return local.replace(tzinfo=UTC)
    # -00:00 (RFC 3339 §4.3): the instant is known in UTC, the local offset is not.
    try:
        return local.replace(tzinfo=fixed_offset(offset[0], int(offset[1:3]), int(offset[-2:])))
    except UnknownZoneError as error:
        raise CellError(f"{_shown(text)} has an impossible offset") from error


def _naive(parts: dict[str, str | None], text: str) -> datetime:
    year = int(parts.get("Y") or 0)
    if short := parts.get("y"):
        # POSIX strptime: 69 to 99 are of the last century (from memory).
        year = int(short) + (1900 if int(short) >= 69 else 2000)
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise CellError(f"{_shown(text)} has a year outside {FIRST_YEAR} to {LAST_YEAR}")
    if parts.get("S") == "60":
        raise CellError(f"{_shown(text)} names second 60, which can't be placed")
    fraction = (parts.get("f") or "0")[:6].ljust(6, "0")
    try:
        return datetime(  # noqa: DTZ001 - a clock's own time; its zone comes after
            year,
            _month(parts),
            int(parts.get("d") or 0),
            _hour(parts),
            int(parts.get("M") or 0),
            int(parts.get("S") or 0),
            int(fraction),
        )
    except ValueError as error:
        raise CellError(f"{_shown(text)} is no day or time that exists") from error


def _month(parts: dict[str, str | None]) -> int:
    if number := parts.get("m"):
        return int(number)
    name = (parts.get("b") or parts.get("B") or "").lower()
    for number_of, month in enumerate(_MONTHS, start=1):
        if month == name or month[:3] == name:
            return number_of
    raise ValueError(name)


def _hour(parts: dict[str, str | None]) -> int:
    if (hours := parts.get("I")) is None:
        return int(parts.get("H") or 0)
    if not 1 <= int(hours) <= 12:
        raise ValueError(hours)
    return int(hours) % 12 + (12 if (parts.get("p") or "a")[0] in "pP" else 0)


def _full_date(text: str) -> date:
    found = _FULL_DATE.fullmatch(text)
    if found is None:
        raise CellError(f"{_shown(text)} is not a date written YYYY-MM-DD")
    return _naive({"Y": found[1], "m": found[2], "d": found[3]}, text).date()


def _unix(text: str, scale: Decimal) -> Stamp:
    if not _UNIX.fullmatch(text):
        raise CellError(f"{_shown(text)} is not a count of seconds since 1970")
    try:
        microseconds = int(Decimal(text) / scale * 1_000_000)
        instant = _EPOCH + timedelta(microseconds=microseconds)
    except (InvalidOperation, OverflowError) as error:
        raise CellError(f"{_shown(text)} is out of bounds") from error
    if not FIRST_YEAR <= instant.year <= LAST_YEAR:
        raise CellError(f"{_shown(text)} is outside the years {FIRST_YEAR} to {LAST_YEAR}")
    return Stamp.at(instant)


def _shown(text: str) -> str:
    return repr(text if len(text) <= 60 else text[:60] + "…")
