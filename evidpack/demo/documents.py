"""The texts of the day's papers."""

from __future__ import annotations

from pathlib import Path

from evidpack.demo import day_toml, places, unit_folder
from evidpack.demo.clocks import LOCAL
from evidpack.demo.logs import SURVEYED_M
from evidpack.demo.paper import Rows, write_paper
from evidpack.demo.plan import DELETED, DISCARDED, DayPlan, Session


def write_documents(export: Path, plan: DayPlan) -> None:
    """Writes certificates, day report and deletion note into the export."""
    _calibration(export / unit_folder.CALIBRATION_FILE)
    _approval(export / unit_folder.APPROVAL_FILE)
    for person in (places.OPERATOR, places.SECOND_OPERATOR):
        _operator(export / unit_folder.operator_file(person), person)
    _report(export / day_toml.REPORT_FILE, plan)
    _deletion(export / day_toml.DELETION_FILE, plan)


def _calibration(path: Path) -> None:
    meter: Rows = (
        ("Instrument", f"laser speed meter, type {places.METER_TYPE}"),
        ("Serial number", places.METER_SERIAL),
        ("Firmware", places.METER_FIRMWARE),
        ("Tamper seal", f"{places.TAMPER_SEAL}, intact on return"),
    )
    work: Rows = (
        ("Date of calibration", "11 February 2026"),
        ("Date of issue", "13 February 2026"),
        ("Conditions", "20 C, 46 % relative humidity"),
        ("Method", "simulated targets at 20, 60 and 120 mph; fixed range of 50 m"),
        ("Traceability", "time and length traceable to national standards"),
    )
    results: Rows = (
        ("Largest error as found", "-0.3 mph"),
        ("Largest error as left", "-0.2 mph"),
        ("Expanded uncertainty (k = 2)", "0.4 mph"),
        ("Tolerance", "-2 mph to +1 mph"),
        ("Range error at 50 m", "+0.02 m, expanded uncertainty 0.05 m"),
    )
    write_paper(
        path,
        title="Calibration certificate OX-26-0417",
        issuer=places.LABORATORY,
        blocks=(("Instrument", meter), ("Calibration", work), ("Results", results)),
        signature="Hesper Oxbarrow, head of laboratory, 13 February 2026",
    )


def _approval(path: Path) -> None:
    rows: Rows = (
        ("Type", places.METER_TYPE),
        ("Approved range", "20 m to 600 m"),
        ("Approved speed", "10 mph to 180 mph"),
        ("From", "4 September 2023, until withdrawn"),
        ("Tests of the operator", "self, display, alignment on both axes, fixed distance, zero,"),
        ("", "before and after each session"),
    )
    write_paper(
        path,
        title="Type approval TA-0093",
        issuer="Invented Approvals Board",
        blocks=(("Approval", rows),),
        signature="Linus Farthingale, for the board, 4 September 2023",
    )


def _operator(path: Path, person: places.Person) -> None:
    rows: Rows = (
        ("Holder", f"{person.name} ({person.id})"),
        ("Type of meter", places.METER_TYPE),
        ("Valid", "3 March 2025 to 2 March 2028"),
        ("Training", "two days, with a written and a roadside test"),
    )
    write_paper(
        path,
        title=f"Operator certificate {person.certificate}",
        issuer=places.UNIT,
        blocks=(("Certificate", rows),),
        signature="Cressida Thornapple, training officer, 3 March 2025",
    )


def _session_rows(session: Session) -> Rows:
    discarded = sum(one.discarded for one in session.captures)
    first, last = session.captures[0].images[0], session.captures[-1].images[-1]
    start, end = session.start.astimezone(LOCAL), session.end.astimezone(LOCAL)
    return (
        ("Site", f"{session.site.id} {session.site.name}, {session.site.direction}"),
        ("From, to", f"{start:%H:%M} to {end:%H:%M}"),
        ("Speed limit", f"{session.site.limit_mph} mph, signs seen in place"),
        ("Meter", f"{places.METER_TYPE}, {places.METER_SERIAL}"),
        ("Fixed distance", f"{SURVEYED_M:.2f} m, surveyed with a steel tape"),
        ("Captures", f"{len(session.captures)}, of which discarded {discarded}"),
        ("Images", f"{first:04d} to {last:04d}"),
    )


def _report(path: Path, plan: DayPlan) -> None:
    blocks = [
        (f"Part {number}: session {session.id}", _session_rows(session))
        for number, session in enumerate(plan.sessions, start=1)
    ]
    remarks: Rows = (
        ("Operator", f"{places.OPERATOR.name} ({places.OPERATOR.id})"),
        ("Observer", f"{places.SECOND_OPERATOR.name} ({places.SECOND_OPERATOR.id})"),
        ("Discarded", f"C{DISCARDED:03d}: ambulance on a call"),
        ("Deleted", f"images {DELETED[0]:04d} and {DELETED[1]:04d}, see the deletion note"),
        ("Weather", "dry, bright, light wind"),
    )
    signed = plan.signed.astimezone(LOCAL)
    write_paper(
        path,
        title="Day report, 14 May 2026",
        issuer=places.UNIT,
        blocks=(*blocks, ("Remarks", remarks)),
        signature=f"{places.OPERATOR.name}, 14 May 2026, {signed:%H:%M}",
    )


def _deletion(path: Path, plan: DayPlan) -> None:
    when = day_toml.deleted_at(plan).astimezone(LOCAL)
    rows: Rows = (
        ("Images", f"{DELETED[0]:04d} and {DELETED[1]:04d}"),
        ("When", f"14 May 2026, about {when:%H:%M}"),
        ("Why", day_toml.DELETION_REASON),
        ("Vehicles", "none in either picture"),
    )
    write_paper(
        path,
        title="Deletion note",
        issuer=places.UNIT,
        blocks=(("Deleted", rows),),
        signature=f"{places.OPERATOR.name} ({places.OPERATOR.id}), 14 May 2026",
    )
