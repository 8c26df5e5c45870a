"""An invented day, as large as a test asks for. Every name, place, plate and number is made up."""

from __future__ import annotations

import hashlib
from datetime import UTC, date, datetime, timedelta, timezone
from io import BytesIO

from PIL import Image, ImageDraw

from evidpack.index.content import (
    IndexContent,
    IndexedFile,
    IndexedFinding,
    IndexedRecord,
)
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding, Outcome
from evidpack.model.records import Record, Source

OFFSET = timezone(timedelta(hours=1))
START = datetime(2026, 5, 14, 9, 0, tzinfo=OFFSET)
SERIAL = "QX-00417"
OFFICE = "office/day.toml"


def digest(text: str) -> bytes:
    return hashlib.sha256(text.encode()).digest()


def still(text: str = "invented", size: tuple[int, int] = (960, 540)) -> bytes:
    """A still of a road that does not exist."""
    image = Image.new("RGB", size, (168, 190, 205))
    draw = ImageDraw.Draw(image)
    wide, high = size
    draw.polygon([(wide * 0.1, high), (wide * 0.45, high * 0.4), (wide * 0.55, high * 0.4),
                  (wide * 0.9, high)], fill=(88, 88, 92))  # fmt: skip
    draw.rectangle([wide * 0.42, high * 0.55, wide * 0.6, high * 0.8], fill=(120, 40, 40))
    draw.rectangle([0, 0, wide, high * 0.07], fill=(0, 0, 0))
    draw.text((10, 8), text, fill=(255, 255, 255))
    target = BytesIO()
    image.save(target, "JPEG", quality=80)
    return target.getvalue()


def record(kind: RecordKind, line: int | None, source: str = OFFICE, /, **values: object) -> Record:
    return Record(kind=kind, source=Source(path=source, line=line), values=values)


def _stamp(minutes: float) -> str:
    return (START + timedelta(minutes=minutes)).isoformat()


def _session(name: str, line: int, site: str, begin: float, end: float) -> Record:
    people = [{"id": "OP-7", "role": "operator"}, {"id": "OP-12", "role": "observer"}]
    return record(
        RecordKind.SESSION,
        line,
        id=name,
        meter=SERIAL,
        site=site,
        start=_stamp(begin),
        end=_stamp(end),
        operators=people,
    )


def _unit() -> list[Record]:
    path = "office/unit/unit.toml"
    typed = {"typed_by": "M. Quillon", "typed_from": "certificate K-2291"}
    return [
        record(RecordKind.METER, 3, path, serial=SERIAL, type="Lumen 3 (invented)",
               firmware="4.02", tamper_seal="TS 90112", **typed),
        record(RecordKind.OPERATOR, 9, path, id="OP-7", name="Ines Farrow-Tock", **typed),
        record(RecordKind.OPERATOR, 14, path, id="OP-12", name="Δημήτρης Κέδρος", **typed),
        record(RecordKind.CERTIFICATE, 20, path, certificate="calibration", number="K-2291",
               serial=SERIAL, type="Lumen 3 (invented)", firmware="4.02",
               calibrated="2026-01-19", speed_error_mph=0.3, speed_error_found_mph=0.6,
               speed_uncertainty_mph=0.4, tolerance_low_mph=-2, tolerance_high_mph=1,
               laboratory="Kestrel Hollow Metrology (invented)", **typed),
        record(RecordKind.CERTIFICATE, 40, path, certificate="operator", number="OC-88",
               holder="OP-7", type="Lumen 3 (invented)", valid_from="2024-09-01",
               valid_until="2027-08-31", document="export/papers/oc-88.pdf", **typed),
        record(RecordKind.CERTIFICATE, 52, path, certificate="approval", number="AP-5",
               type="Lumen 3 (invented)", range_min_m=20, range_max_m=1000, speed_min_mph=10,
               speed_max_mph=150, **typed),
        record(RecordKind.SITE, 60, path, id="B-3", name="Gorse Lane footbridge, Thistlemoor",
               limit_mph=50, direction="northbound", offset_m=5, height_m=6, **typed),
        record(RecordKind.SITE, 70, path, id="V-9", name="Layby at Mill Wynd, Thistlemoor",
               limit_mph=40, direction="eastbound", latitude_deg=0.5, longitude_deg=-0.25,
               authorised_from="2025-01-01", **typed),
        record(RecordKind.LIMIT_ORDER, 80, path, site="B-3", number="TMO 2019/14",
               limit_mph=50, until="2029-12-31", signs_seen="2026-05-13",
               **{"from": "2019-06-01"}, **typed),
    ]  # fmt: skip


def _tests(session: str, begin: float, end: float, first_line: int) -> list[Record]:
    found = []
    names = ("self", "display", "alignment-horizontal", "alignment-vertical", "distance", "zero")
    for offset, minute in ((0, begin + 4), (6, end - 12)):
        for index, name in enumerate(names):
            values: dict[str, object] = {}
            if name == "distance":
                values = {"measured_m": 50.1, "surveyed_m": 50.0}
            if name == "zero":
                values = {"shown_speed_mph": 0}
            found.append(
                record(
                    RecordKind.DEVICE_TEST,
                    first_line + offset + index,
                    "export/logs/tests.csv",
                    session=session,
                    meter=SERIAL,
                    time=_stamp(minute + index * 1.2),
                    test=name,
                    result="pass",
                    operator="OP-7",
                    **values,
                )
            )
    return found


def _captures(count: int, names: str) -> tuple[list[Record], list[str]]:
    records, paths = [], []
    for number in range(1, count + 1):
        half = (count + 1) // 2
        first = number <= half
        session = "S1" if first else "S2"
        within = (number if first else number - half) / (half + 1)
        minute = (18 if first else 258) + within * 90
        image = number if number < count * 0.4 else number + 2
        path = f"export/stills/{names}C{number:04d}_{image:05d}.jpg"
        values = {
            "capture": f"C{number:04d}", "session": session, "meter": SERIAL,
            "time": _stamp(minute), "speed_mph": 52 + number * 7 % 31,
            "range_m": round(180 + number * 13 % 400 + 0.4, 1),
            "limit_mph": 50 if first else 40, "direction": "approaching",
        }  # fmt: skip
        line = number + 1
        records += [
            record(RecordKind.READING, line, "export/logs/readings.csv", **values),
            record(RecordKind.STILL, None, path, path=path, readable=True, joined="yes",
                   captures=[number], capture=f"C{number:04d}", image_number=image,
                   counter="image", time=_stamp(minute + 0.01)),
            record(RecordKind.CAPTURE, line, "export/logs/readings.csv", number=number,
                   capture=f"C{number:04d}", stills=[path], clips=[], session=session,
                   session_how="exported", how="identifier"),
        ]  # fmt: skip
        paths.append(path)
    return records, paths


def _findings(count: int, start: int) -> list[IndexedFinding]:
    found = [
        Finding(check="8", check_version=1, subject="images 17 to 18", outcome=Outcome.QUERY,
                sentence="Two image numbers are missing; a deletion note by OP-7 explains them.",
                adverse=True, measured=2, limit=0, unit="images", source="general, none missing",
                advice="the operator can say what was deleted", undermines=True),
        Finding(check="6", check_version=1, subject="clock camera", outcome=Outcome.NOT_DETERMINABLE,
                sentence="The camera's clock was compared once only, so its drift is not known.",
                adverse=True, source="SI 2022/71 Sch. 1, as an example",
                advice="a second comparison from the unit"),
        Finding(check="1", check_version=1, subject="certificate K-2291", outcome=Outcome.PASS,
                sentence="Serial, type and firmware are those of the meter used.", adverse=False),
        Finding(check="2b", check_version=1, subject="certificate K-2291",
                outcome=Outcome.NOT_APPLICABLE, sentence="No such check was asked for.",
                adverse=False),
    ]  # fmt: skip
    for number in range(1, count + 1):
        bad = number == 2
        found.append(
            Finding(
                check="10", check_version=1, subject=f"capture {number}",
                outcome=Outcome.FAIL if bad else Outcome.PASS, adverse=bad, undermines=bad,
                sentence=(
                    "The slope of the pulse ranges gives 66.2 mph where the reading says 59 mph; "
                    f"see export/logs/readings.csv and capture {number}."
                    if bad
                    else "Speed and range lie within the approved window."
                ),
                measured=66.2 if bad else 180.4, limit=[20, 1000], unit="m",
                source="approval AP-5",
            )
        )  # fmt: skip
    return [IndexedFinding(number=start + i, finding=f) for i, f in enumerate(found)]


def content(count: int = 40, *, names: str = "", paper: str = "A4", **changes) -> IndexContent:
    """The invented day with `count` captures; `names` stands before the name of every still."""
    captures, paths = _captures(count, names)
    paths += ["export/logs/readings.csv", "export/logs/tests.csv", "export/papers/oc-88.pdf",
              "office/day.toml", "office/rules.toml", "office/unit/unit.toml"]  # fmt: skip
    records = [
        _session("S1", 10, "B-3", 0, 130),
        _session("S2", 22, "V-9", 240, 371),
        *_unit(),
        *_tests("S1", 0, 130, 2),
        *_tests("S2", 240, 371, 14),
        record(RecordKind.CLOCK_CHECK, 30, clock="meter", time=_stamp(3),
               reference_time=_stamp(3 + 1.4 / 60), reference="radio clock", uncertainty_s=0.5),
        record(RecordKind.CLOCK_CHECK, 36, clock="camera", time=_stamp(365),
               reference_time=_stamp(365 - 2 / 60), reference="radio clock"),
        record(RecordKind.REPORT, 44, session="S1", version="1", captures=count, image_first=1,
               image_last=count + 2, signed_by="OP-7", signed=_stamp(380)),
        record(RecordKind.DELETION, 50, image_first=17, image_last=18, reason="test shots",
               by="OP-7", counter="image"),
        record(RecordKind.NOTE, 60, by="M. Quillon", time=_stamp(600), subject="check 8",
               text="Two test shots were deleted on the camera before the first reading."),
        record(RecordKind.UNREADABLE, 31, "export/logs/readings.csv", file="export/logs/readings.csv",
               line=31, reason="the speed reads '6l', which is no number", record="reading"),
        record(RecordKind.PAST_RUN, 1, "office/runs.jsonl", run=1, adverse=3, at=_stamp(590),
               rule_set_name="general", rule_set_edition="2026-05", chain="holds",
               counts={"pass": 40, "query": 2, "fail": 1}),
        *captures,
    ]  # fmt: skip
    paths.sort()
    files = [
        IndexedFile(
            number=i, path=path, kind="still" if path.endswith(".jpg") else "document",
            origin=path.split("/")[0], size=1000 + 37 * i, modified="2026-05-14T15:20:11Z",
            sha256=digest(path).hex(),
        )
        for i, path in enumerate(paths)
    ]  # fmt: skip
    indexed = [IndexedRecord(number=len(files) + i, record=r) for i, r in enumerate(records)]
    values: dict[str, object] = {
        "day_reference": "TRU-2026-05-14-A",
        "unit": "Thistlemoor Roads Unit",
        "date": date(2026, 5, 14),
        "zone": "Europe/London",
        "claimed_sealing_time": datetime(2026, 5, 15, 8, 41, 7, tzinfo=UTC),
        "document_number": "7Q4M-90TZ-K3",
        "evidpack_version": "0.1.0",
        "signer_name": "Thistlemoor Roads Unit, evidence desk (demonstration)",
        "signer_fingerprint": digest("signer"),
        "chain_head": digest("head"),
        "tree_root": digest("root"),
        "rule_set_title": "General examples",
        "rule_set_edition": "2026-05",
        "entries": {"file": len(files), "record": len(indexed), "finding": count + 4},
        "files": files,
        "records": indexed,
        "findings": _findings(count, len(files) + len(indexed)),
        "labels": {"8": "image numbers continuous", "6": "clock and offset", "10": "reading within limits",
                   "1": "certificate is for this meter"},
        "paper": paper,
    }  # fmt: skip
    return IndexContent(**(values | changes))
