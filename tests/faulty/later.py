"""Faults that only what comes after a day can show. Checks 2c and 20."""

from __future__ import annotations

from datetime import UTC, datetime

from tests.faulty.edits import Edit, add, both, swap
from tests.faulty.fault import LATER, fault
from tests.faulty.second_day import TYPED

_ALL = "captures 1–6"
_EVENTS = f"{LATER}/events.toml"
_AUTUMN = datetime(2026, 12, 1, 12, tzinfo=UTC)
_ENGLISH = "example_mph"

NEXT_CALIBRATION = (
    '[[certificate]]\ncertificate = "calibration"\nnumber = "K-2026-290"\n'
    'serial = "KL 9 004412"\ntype = "Klarvido 9"\nfirmware = "4.02"\ncalibrated = 2026-09-29\n'
    'laboratory = "Mezurejo Nenielando"\nspeed_error_kmh = 0.1\nspeed_error_found_kmh = 0.5\n'
    "speed_uncertainty_kmh = 0.6\ntolerance_low_kmh = -3\ntolerance_high_kmh = 2\n" + TYPED
)


def events(*pairs: tuple[str, str], detail: str = "") -> Edit:
    """Dates of what was done later, each with the same detail."""
    tables = [
        f'[[event]]\nevent = "{name}"\ndate = {day}\n'
        + (f'detail = "{detail}"\n' if detail else "")
        + TYPED
        for name, day in pairs
    ]
    return add(_EVENTS, "\n".join(tables))


IN_TIME = (
    ("notice served", "2026-03-24"),
    ("information requested", "2026-03-24"),
    ("information received", "2026-04-20"),
    ("proceedings started", "2026-09-11"),
    ("hearing", "2026-11-10"),
    ("copy served", "2026-11-03"),
    ("initial details given", "2026-11-10"),
)


def but(name: str, day: str | None) -> Edit:
    """Everything in time but one thing, or that left out."""
    pairs = [(one, day if one == name else when) for one, when in IN_TIME]
    return events(*((one, when) for one, when in pairs if when is not None))


def _after(name: str, wrong: str, answer: tuple[str, str], says: tuple[str, ...], edit: Edit):
    check, outcome = answer
    return fault(name, wrong, (check, outcome, _ALL), says, edit, rules=_ENGLISH, now=_AUTUMN)


CLOCKS = (
    _after("notice-late", "the notice was served on the fifteenth day",
           ("20", "fail"), ("2026-03-26", "1 days after 2026-03-25"),
           but("notice served", "2026-03-26")),
    _after("notice-posted-late", "first-class post is presumed served too late",
           ("20", "fail"), ("2026-03-24", "2026-03-26", "1 days after 2026-03-25"),
           both(but("notice served", None), events(("notice posted", "2026-03-24"),
                                                   detail="first class"))),
    _after("post-class", "the notice went by a class of post without presumed service",
           ("20", "query"), ("2026-03-16", "no service is presumed", "2026-03-25"),
           both(but("notice served", None), events(("notice posted", "2026-03-16"),
                                                   detail="second class"))),
    _after("no-notice", "no notice is on record and its day is past",
           ("20", "query"), ("2026-03-25", "nothing is on record"),
           but("notice served", None)),
    _after("driver-named-late", "the driver was named on the twenty-ninth day",
           ("20", "fail"), ("2026-04-21", "1 days after 2026-04-20"),
           but("information received", "2026-04-21")),
    _after("proceedings-late", "proceedings began after six months",
           ("20", "fail"), ("2026-09-12", "1 days after 2026-09-11"),
           but("proceedings started", "2026-09-12")),
    _after("copy-late", "the copy was served six days before the hearing",
           ("20", "fail"), ("2026-11-04", "1 days after 2026-11-03"),
           but("copy served", "2026-11-04")),
    _after("details-late", "the initial details came after the first hearing",
           ("20", "fail"), ("2026-11-11", "1 days after 2026-11-10"),
           but("initial details given", "2026-11-11")),
    _after("destroyed-early", "the material was destroyed within six months of conviction",
           ("20", "fail"), ("2027-03-01", "before 2027-05-10"),
           both(but("", None), events(("conviction", "2026-11-10"),
                                      ("material destroyed", "2027-03-01")))),
)  # fmt: skip

CALIBRATIONS = (
    fault("found-out-of-tolerance", "the next calibration found the meter out of tolerance",
          ("2c", "query", "meter KL-9-004412"),
          ("+2.9 km/h", "-3 to +2 km/h", "guard band of 0.6", "since 2025-09-30"),
          both(add(f"{LATER}/calibration.toml", NEXT_CALIBRATION),
               swap(f"{LATER}/calibration.toml", "found_kmh = 0.5", "found_kmh = 2.9")),
          now=_AUTUMN),
    fault("found-near-tolerance", "the next calibration found the meter out by less than U",
          ("2c", "query", "meter KL-9-004412"),
          ("+2.4 km/h", "conditional fail", "-3 to +2 km/h", "since 2025-09-30"),
          both(add(f"{LATER}/calibration.toml", NEXT_CALIBRATION),
               swap(f"{LATER}/calibration.toml", "found_kmh = 0.5", "found_kmh = 2.4")),
          now=_AUTUMN),
)  # fmt: skip

TWICE_GOOD = (
    fault("all-in-time", "everything was done in time", ("20", "pass", ()), (),
          but("", None), rules=_ENGLISH, now=_AUTUMN),
    fault("found-in-tolerance", "the next calibration found the meter in tolerance",
          ("2c", "pass", ()), (), add(f"{LATER}/calibration.toml", NEXT_CALIBRATION),
          now=_AUTUMN),
)  # fmt: skip

AFTERWARDS = (*CLOCKS, *CALIBRATIONS)
