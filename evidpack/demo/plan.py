"""The plan of the invented day: sessions, tests, clock checks and captures, before any file.

Times here are true times; each clock's own error is added where its log is written.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from typing import Final

from evidpack.demo import places
from evidpack.demo.places import Site
from evidpack.demo.plates import invent_plates
from evidpack.demo.pulses import MPH_MPS, Burst, burst, position_m

DAY: Final = date(2026, 5, 14)
IMAGE_MODULUS: Final = 10_000  # numbers run from 1 to 9999
FIRST_IMAGE: Final = 9_981
DELETED: Final = (9, 10)  # image numbers between captures 27 and 28
CAPTURES: Final = (20, 21)  # of each session

# Numbers of captures (from 1) to which something happens.
SAME_VEHICLE: Final = (11, 12)
OTHER_LANE: Final = (7, 24)  # a second vehicle is in the picture, out of the beam
TWO_STILLS: Final = (22, 31, 38)
WITH_CLIP: Final = 33
DISCARDED: Final = 35
DISAGREEING: Final = 29
DISAGREEMENT_MPH: Final = 3
GAP_AFTER: Final = 27

STILL_AFTER_S: Final = 0.9
SECOND_STILL_AFTER_S: Final = 0.5
COLOURS: Final = (
    (188, 30, 34), (30, 62, 128), (198, 202, 206), (236, 236, 232), (34, 36, 40),
    (112, 118, 124), (24, 92, 70), (206, 158, 40), (92, 26, 52), (66, 132, 178),
)  # fmt: skip
BODIES: Final = ("hatchback", "saloon", "estate", "tall", "van")


@dataclass(frozen=True, slots=True, kw_only=True)
class Vehicle:
    """What is drawn and noted of a vehicle. `colour` is 8-bit RGB."""

    plate: str
    body: str
    colour: tuple[int, int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Capture:
    """One capture. `at` is the true time of the reading, UTC; the first still follows it."""

    number: int
    session: str
    at: datetime
    opinion_before_s: float
    true_mps: float
    range_m: float
    shown_mph: int
    burst: Burst
    vehicle: Vehicle
    images: tuple[int, ...]
    companion: Vehicle | None = None
    discarded: bool = False
    remark: str = ""
    same_as: int | None = None

    @property
    def id(self) -> str:
        """As the meter names it."""
        return f"C{self.number:03d}"

    def still_name(self, place: int) -> str:
        """File name of its first (0) or second (1) still."""
        return f"{self.id}_{self.images[place]:04d}.jpg"

    def still_at(self, place: int) -> datetime:
        """True time of a still, UTC."""
        return self.at + timedelta(seconds=STILL_AFTER_S + SECOND_STILL_AFTER_S * place)


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """One set-up at one site. Times are UTC."""

    id: str
    site: Site
    start: datetime
    end: datetime
    tests_before: datetime
    tests_after: datetime
    captures: tuple[Capture, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DayPlan:
    """The day."""

    sessions: tuple[Session, ...]
    reviewed: datetime
    signed: datetime

    @property
    def captures(self) -> tuple[Capture, ...]:
        """All captures in order of time."""
        return tuple(one for session in self.sessions for one in session.captures)

    def site_of(self, capture: Capture) -> Site:
        """Where a capture was taken."""
        return next(one.site for one in self.sessions if one.id == capture.session)


def at(hour: int, minute: int, second: int = 0) -> datetime:
    """A UTC instant of the day from the local time at the place, which was UTC+1."""
    return datetime(DAY.year, DAY.month, DAY.day, hour - 1, minute, second, tzinfo=UTC)


def plan_day(seed: int) -> DayPlan:
    """The day that follows from a seed."""
    rng = random.Random(f"plan-{seed}")  # noqa: S311 - an invented day, not a secret
    plates = iter(invent_plates(sum(CAPTURES) + len(OTHER_LANE), rng))
    images = _images()
    first, second = CAPTURES
    morning = _captures("S1", places.ROADSIDE, (1, first), at(9, 2), rng, plates, images)
    one = _session("S1", places.ROADSIDE, at(8, 46), tuple(morning))
    afternoon = _captures(
        "S2", places.BRIDGE, (first + 1, first + second), at(13, 22), rng, plates, images
    )
    two = _session("S2", places.BRIDGE, at(13, 4), tuple(afternoon))
    return DayPlan(
        sessions=(one, two),
        reviewed=two.end + timedelta(minutes=15),
        signed=two.end + timedelta(minutes=70),
    )


def _session(name: str, site: Site, start: datetime, captures: tuple[Capture, ...]) -> Session:
    last = captures[-1].at.replace(second=0, microsecond=0)
    return Session(
        id=name,
        site=site,
        start=start,
        end=last + timedelta(minutes=18),
        tests_before=start + timedelta(minutes=6),
        tests_after=last + timedelta(minutes=5),
        captures=captures,
    )


def _images() -> Iterator[int]:
    number = FIRST_IMAGE
    while True:
        if number not in DELETED:
            yield number
        number = number + 1 if number < IMAGE_MODULUS - 1 else 1


def _captures(
    session: str,
    site: Site,
    numbers: tuple[int, int],
    start: datetime,
    rng: random.Random,
    plates: Iterator[str],
    images: Iterator[int],
) -> Iterator[Capture]:
    when = start
    before: Capture | None = None
    for number in range(numbers[0], numbers[1] + 1):
        when += timedelta(seconds=rng.randrange(95, 520), milliseconds=10 * rng.randrange(100))
        if number == SAME_VEHICLE[1] and before is not None:
            capture = _again(before, site, rng, next(images))
            when = capture.at
        else:
            capture = _capture(number, session, site, when, rng, plates, images)
        before = capture
        yield capture


def _capture(
    number: int,
    session: str,
    site: Site,
    when: datetime,
    rng: random.Random,
    plates: Iterator[str],
    images: Iterator[int],
) -> Capture:
    low, high = (48, 63) if site is places.ROADSIDE else (81, 97)
    true_mps = rng.uniform(low, high) * MPH_MPS
    far = 186.0 if number == SAME_VEHICLE[0] else rng.uniform(98, 182)
    range_m = far if not site.receding else rng.uniform(76, 146)
    pulses = burst(range_m, true_mps, site, rng)
    shown = round(pulses.speed_mph) + (DISAGREEMENT_MPH if number == DISAGREEING else 0)
    return Capture(
        number=number,
        session=session,
        at=when,
        opinion_before_s=round(rng.uniform(2.2, 4.6), 2),
        true_mps=true_mps,
        range_m=round(range_m, 1),
        shown_mph=shown,
        burst=pulses,
        vehicle=_vehicle(rng, plates, number),
        images=tuple(next(images) for _ in range(2 if number in TWO_STILLS else 1)),
        companion=_vehicle(rng, plates, 0) if number in OTHER_LANE else None,
        discarded=number == DISCARDED,
        remark=_remark(number),
    )


def _remark(number: int) -> str:
    if number == DISCARDED:
        return "ambulance on a call, discarded by the operator"
    return "second vehicle in the other lane, out of the beam" if number in OTHER_LANE else ""


def _vehicle(rng: random.Random, plates: Iterator[str], number: int) -> Vehicle:
    body = "ambulance" if number == DISCARDED else rng.choice(BODIES)
    colour = (240, 224, 64) if number == DISCARDED else rng.choice(COLOURS)
    return Vehicle(plate=next(plates), body=body, colour=colour)


def _again(before: Capture, site: Site, rng: random.Random, image: int) -> Capture:
    """A second reading of the same vehicle, a little slower and nearer."""
    later_s = 3.2
    true_mps = before.true_mps - 0.9
    mean_mps = (before.true_mps + true_mps) / 2
    range_m = position_m(before.range_m, mean_mps, later_s, site)
    pulses = burst(range_m, true_mps, site, rng)
    return replace(
        before,
        number=before.number + 1,
        at=before.at + timedelta(seconds=later_s),
        opinion_before_s=1.6,
        true_mps=true_mps,
        range_m=round(range_m, 1),
        shown_mph=round(pulses.speed_mph),
        burst=pulses,
        images=(image,),
        same_as=before.number,
        remark="second reading of the same vehicle",
    )
