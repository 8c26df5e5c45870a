"""A clean invented day for the tests of checks, and ways to change one thing in it.

Values are as intake leaves them.  Everything is invented.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone

from evidpack.checks.registry import CHECKS, Check, run_checks
from evidpack.model.day import Clock, Counter, Day, Description, sort_records
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding, Outcome
from evidpack.model.records import Record, Source
from evidpack.model.values import JsonValue
from evidpack.rules.ruleset import RuleSet, built_in, load_rule_set

SUMMER = timezone(timedelta(hours=1))
DAY = date(2026, 5, 14)
METER = "TX-004711"
READINGS_LOG = "export/logs/readings.csv"
TESTS_LOG = "export/logs/tests.csv"
CHECKS_LOG = "office/day.toml"
SIX = ("self", "display", "alignment-horizontal", "alignment-vertical", "distance", "zero")
Values = Mapping[str, JsonValue]

GENERAL = load_rule_set(built_in("general"), path="general.toml")
MPH = load_rule_set(built_in("example_mph"), path="example_mph.toml")
KMH = load_rule_set(built_in("example_kmh"), path="example_kmh.toml")


def at(clock: str, *, day: date = DAY, zone: timezone = SUMMER) -> str:
    """``"10:03:05"`` on the day as RFC 3339."""
    return datetime.fromisoformat(f"{day.isoformat()}T{clock}").replace(tzinfo=zone).isoformat()


def seconds_later(stamp: str, seconds: float) -> str:
    return (datetime.fromisoformat(stamp) + timedelta(seconds=seconds)).isoformat()


def record(kind: RecordKind, path: str, line: int | None, /, **values: JsonValue) -> Record:
    return Record(kind=kind, source=Source(path=path, line=line), values=values)


def pulses(speed_mps: float, range_m: float, count: int = 31, gap_s: float = 0.01) -> Values:
    """A noiseless approaching pulse train."""
    times: list[JsonValue] = [round(n * gap_s, 6) for n in range(count)]
    ranges: list[JsonValue] = [round(range_m - speed_mps * n * gap_s, 6) for n in range(count)]
    return {"pulse_times_s": times, "pulse_ranges_m": ranges}


def reading(number: int, clock: str, /, *, speed: float = 71, **more: JsonValue) -> Record:
    time = at(clock)
    values: dict[str, JsonValue] = {
        "capture": f"C{number:03d}",
        "session": "S1",
        "meter": METER,
        "time": time,
        "opinion_time": seconds_later(time, -3),
        "speed_mph": speed,
        "range_m": 180.0 + number,
        "limit_mph": 60,
        "direction": "approaching",
        "image_number": 100 + number,
        **pulses(speed * 0.44704, 180.0 + number),
    }
    values.update(more)
    return record(RecordKind.READING, READINGS_LOG, number + 1, **_without_none(values))


def still(number: int, clock: str, **more: JsonValue) -> Record:
    path = f"export/stills/C{number:03d}_{100 + number}.jpg"
    values: dict[str, JsonValue] = {
        "path": path,
        "readable": True,
        "joined": "yes",
        "captures": [number],
        "capture": f"C{number:03d}",
        "image_number": 100 + number,
        "counter": "image",
        "clock": "camera",
        "time": seconds_later(at(clock), 0.4),
        "camera_serial": METER,
        "width_px": 640,
        "height_px": 480,
        "format": "JPEG",
    }
    values.update(more)
    return record(RecordKind.STILL, path, None, **_without_none(values))


def capture(number: int, **more: JsonValue) -> Record:
    values: dict[str, JsonValue] = {
        "number": number,
        "capture": f"C{number:03d}",
        "stills": [f"export/stills/C{number:03d}_{100 + number}.jpg"],
        "clips": [],
        "session": "S1",
        "session_how": "exported",
        "how": "identifier",
    }
    values.update(more)
    return record(RecordKind.CAPTURE, READINGS_LOG, number + 1, **_without_none(values))


def device_tests(*, first: str = "09:10:00", last: str = "10:50:00") -> list[Record]:
    found = []
    for start, offset in ((first, 0), (last, len(SIX))):
        for place, name in enumerate(SIX):
            values: dict[str, JsonValue] = {
                "session": "S1",
                "meter": METER,
                "time": seconds_later(at(start), 30 * place),
                "test": name,
                "result": "pass",
            }
            if name == "distance":
                values |= {"measured_m": 50.1, "surveyed_m": 50.0}
            if name == "zero":
                values |= {"shown_speed_mph": 0}
            found.append(record(RecordKind.DEVICE_TEST, TESTS_LOG, 2 + offset + place, **values))
    return found


def clock_checks(name: str, offset_s: float = 1.0, **more: JsonValue) -> list[Record]:
    found = []
    for place, clock in enumerate(("08:55:00", "11:10:00")):
        reference = at(clock)
        values: dict[str, JsonValue] = {
            "clock": name,
            "time": seconds_later(reference, offset_s),
            "reference_time": reference,
            "reference": "time signal",
            "uncertainty_s": 0.5,
            **more,
        }
        line = 100 + place + 10 * len(name)
        found.append(record(RecordKind.CLOCK_CHECK, CHECKS_LOG, line, **values))
    return found


def calibration(**more: JsonValue) -> Record:
    values: dict[str, JsonValue] = {
        "certificate": "calibration",
        "number": "CAL-0815",
        "serial": METER,
        "type": "TX laser",
        "firmware": "2.4.1",
        "calibrated": "2025-11-03",
        "issued": "2025-11-05",
        "laboratory": "Invented Metrology Room",
        "traceability": "to the invented national standard",
        "conditions": "20 °C",
        "method": "simulated target",
        "speed_error_mph": 0.2,
        "speed_error_found_mph": 0.3,
        "speed_uncertainty_mph": 0.3,
        "tolerance_low_mph": -2,
        "tolerance_high_mph": 1,
    }
    values.update(more)
    return record(
        RecordKind.CERTIFICATE, "office/unit/certificates.toml", 1, **_without_none(values)
    )


def clean_records(count: int = 5) -> list[Record]:
    """Everything of a clean day with `count` captures, one a minute from 10:00."""
    clocks = [f"10:{minute:02d}:05" for minute in range(count)]
    office = "office/unit/unit.toml"
    return [
        record(
            RecordKind.SESSION,
            CHECKS_LOG,
            10,
            id="S1",
            meter=METER,
            site="BR-7",
            start=at("09:00:00"),
            end=at("11:00:00"),
            operators=[{"id": "OP-3", "role": "operator"}],
        ),
        record(
            RecordKind.METER,
            office,
            1,
            serial=METER,
            type="TX laser",
            firmware="2.4.1",
            tamper_seal="SEAL-9",
        ),
        record(RecordKind.OPERATOR, office, 9, id="OP-3", name="Ottoline Marrow"),
        calibration(),
        record(
            RecordKind.CERTIFICATE,
            "office/unit/certificates.toml",
            30,
            certificate="operator",
            number="OPC-3",
            holder="OP-3",
            type="TX laser",
            valid_from="2025-01-01",
            valid_until="2027-12-31",
        ),
        record(
            RecordKind.SITE,
            office,
            20,
            id="BR-7",
            name="Thistlemoor bridge",
            limit_mph=60,
            direction="northbound",
            offset_m=5,
            height_m=6,
            authorised_from="2025-01-01",
            authorised_until="2027-12-31",
        ),
        record(
            RecordKind.REPORT,
            CHECKS_LOG,
            40,
            session="S1",
            version="1",
            captures=count,
            image_first=101,
            image_last=100 + count,
            signed_by="OP-3",
            signed=at("11:30:00"),
            document="export/report.pdf",
        ),
        *clock_checks("meter"),
        *clock_checks("camera", 0.5),
        *device_tests(),
        *[reading(n, clock) for n, clock in enumerate(clocks, 1)],
        *[still(n, clock) for n, clock in enumerate(clocks, 1)],
        *[capture(n) for n in range(1, count + 1)],
    ]


def clean_day(count: int = 5) -> Day:
    return day_of(clean_records(count))


def day_of(records: Iterable[Record], *, day: date = DAY) -> Day:
    records = list(records)
    clocks = {
        name: Clock(name=name, zone="Europe/London", resolution_s=step)
        for name, step in (("meter", 1.0), ("camera", 0.1))
    }
    logs = {READINGS_LOG: "meter", TESTS_LOG: "meter"}
    return Day(
        description=Description(
            reference="TRU-2026-05-14-A",
            unit="Thistlemoor Roads Unit",
            date=day,
            zone="Europe/London",
            clocks=clocks,
            counters={"image": Counter(name="image", modulus=10000, first=1)},
            log_clocks=logs,
        ),
        items=(),
        records=sort_records(records),
        now=datetime(day.year, day.month, day.day, 15, 0, tzinfo=UTC),
    )


def with_clocks(day: Day, **clocks: Clock) -> Day:
    known = {**day.description.clocks, **clocks}
    return replace(day, description=replace(day.description, clocks=known))


def with_counters(day: Day, *counters: Counter) -> Day:
    known = {counter.name: counter for counter in counters}
    return replace(day, description=replace(day.description, counters=known))


def change(
    records: Iterable[Record], which: Callable[[Record], bool], **values: JsonValue
) -> list[Record]:
    """The records with values set on those chosen; None takes a value away."""
    return [
        replace(one, values=_without_none({**one.values, **values})) if which(one) else one
        for one in records
    ]


def drop(records: Iterable[Record], which: Callable[[Record], bool]) -> list[Record]:
    return [one for one in records if not which(one)]


def is_a(kind: RecordKind, **values: JsonValue) -> Callable[[Record], bool]:
    """Chooses records of a kind that have these values."""
    return lambda one: (
        one.kind is kind and all(one.values.get(name) == value for name, value in values.items())
    )


def check(number: str) -> Check:
    return next(one for one in CHECKS if one.number == number)


def findings(
    number: str, day: Day | Iterable[Record], rules: RuleSet = GENERAL
) -> tuple[Finding, ...]:
    """What one check says of a day."""
    whole = day if isinstance(day, Day) else day_of(day)
    return check(number).run(whole, rules)


def only(found: Iterable[Finding], outcome: Outcome) -> Finding:
    """The one finding with this outcome."""
    chosen = [one for one in found if one.outcome is outcome]
    assert len(chosen) == 1, [f"{one.outcome}: {one.sentence}" for one in chosen]
    return chosen[0]


def adverse(day: Day | Iterable[Record], rules: RuleSet = GENERAL) -> list[Finding]:
    whole = day if isinstance(day, Day) else day_of(day)
    return [one for one in run_checks(whole, rules) if one.adverse]


def _without_none(values: Mapping[str, JsonValue]) -> dict[str, JsonValue]:
    return {name: value for name, value in values.items() if value is not None}
