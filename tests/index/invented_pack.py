"""A pack's index content for tests: every kind of exhibit, invented from front to back."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from hashlib import sha256
from io import BytesIO

from PIL import Image, ImageDraw

from evidpack.index.pack_content import (
    PackContent,
    PackExhibit,
    PackFinding,
    PackRedaction,
    PackVerification,
    WithheldClass,
)
from evidpack.model.findings import Finding, Outcome

MADE_AT = datetime(2026, 6, 3, 11, 20, tzinfo=timezone(timedelta(hours=1)))
DECIDED_AT = datetime(2026, 6, 2, 16, 5, tzinfo=timezone(timedelta(hours=1)))
LONG_NAME = "data/export/stills/" + "a-very-long-name-without-any-end-" * 5 + ".jpg"


def digest(text: str) -> bytes:
    """Some digest."""
    return sha256(text.encode()).digest()


def thumbnail(name: str) -> bytes | None:
    """A small invented scene; none for names that say so."""
    if "missing" in name:
        return None
    image = Image.new("RGB", (360, 240), (188, 196, 201))
    draw = ImageDraw.Draw(image)
    draw.rectangle((0, 150, 360, 240), fill=(96, 98, 100))
    draw.rectangle((120, 90, 240, 190), fill=(52, 60, 72))
    if "redacted" in name:
        draw.rectangle((128, 160, 224, 192), fill=(128, 128, 128))
    target = BytesIO()
    image.save(target, "JPEG", quality=70)
    return target.getvalue()


def finding(check: str, outcome: Outcome, sentence: str, **more: object) -> Finding:
    """A finding about capture 7."""
    values: dict[str, object] = {
        "check": check,
        "check_version": 1,
        "subject": "capture 7",
        "outcome": outcome,
        "sentence": sentence,
        "adverse": outcome in (Outcome.FAIL, Outcome.QUERY),
    }
    return Finding(**{**values, **more})  # type: ignore[arg-type]


EXHIBITS = (
    PackExhibit(
        number=1, entry=12, kind="file", use="relied on", became="released",
        description="Still: first picture of capture 7", reason="It concerns a capture in this case.",
        name="data/export/stills/C007_0031.jpg", picture=True,
        details=(("size", "482 113 bytes"),),
    ),
    PackExhibit(
        number=2, entry=13, kind="file", use="relied on", became="redacted",
        description="Still: second picture of capture 7",
        reason="It concerns a capture in this case.", name="data/redacted/exhibit-2.png",
        picture=True, closed=("modified", "path", "sha256", "size"),
    ),
    PackExhibit(
        number=3, entry=14, kind="file", use="relied on", became="released",
        description="Still with a long name", reason="It concerns a capture in this case.",
        name=LONG_NAME, picture=True, new=True,
    ),
    PackExhibit(
        number=4, entry=40, kind="record", use="relied on", became="released",
        description="Reading: capture 7", reason="It concerns a capture in this case.",
        details=(("speed", "71 mph"), ("range", "214.6 m"), ("time", "2026-05-14 10:32:07 +01:00")),
    ),
    PackExhibit(
        number=5, entry=41, kind="record", use="relied on", became="redacted",
        description="Report: session S1", reason="It names other people.",
        closed=("operators", "raw:Operators"), details=(("signed", "yes"),),
    ),
    PackExhibit(
        number=6, entry=60, kind="finding", use="relied on", became="released",
        description="Finding of check 5: session S1, pass",
        reason="It concerns the session or the site of a capture in this case.",
    ),
    PackExhibit(
        number=7, entry=61, kind="finding", use="unused", became="released",
        description="Finding of check 8: day, query",
        reason="It may undermine the prosecution's case or assist the defence.", new=True,
    ),
    PackExhibit(
        number=8, entry=2, kind="file", use="unused", became="inspect",
        description="A clip of about two minutes in which several vehicles pass, among them the one "
        "of this case for some four seconds.",
        reason="It may show or name other people.",
    ),
    PackExhibit(
        number=9, entry=3, kind="file", use="unused", became="withheld",
        description="Sound recorded at the window of the van during the session, in which bystanders "
        "speak.", reason="It may show or name other people.",
    ),
    PackExhibit(
        number=10, entry=44, kind="record", use="unused", became="withdrawn",
        description="Disclosed in an earlier issue.",
        reason="It was disclosed in an earlier issue and is withdrawn.",
    ),
)  # fmt: skip

FINDINGS = (
    PackFinding(
        exhibit=6,
        finding=finding(
            "5", Outcome.PASS, "The meter measured 100.1 m over a surveyed 100 m.",
            measured=0.1, limit=0.3, unit="m", source="rule set General, edition 1",
        ),
    ),
    PackFinding(
        exhibit=7,
        finding=finding(
            "8", Outcome.QUERY, "Image numbers 33 and 34 are missing, and no deletion is recorded.",
            subject="day", measured=["33", "34"], advice="The operator can say what became of them.",
        ),
    ),
)  # fmt: skip

CONTENT = PackContent(
    reference="pack-2-5f0c11d2a9b7",
    day="TRU-2026-05-14-A",
    case="TM/2026/0417",
    recipient="Quillfeather & Moss, for the defence",
    issue=2,
    previous_statement=digest("issue 1"),
    captures=("capture 7",),
    decided_by="H. Undersedge",
    decided_at=DECIDED_AT,
    discloser_name="Thistlemoor Roads Unit, disclosure",
    discloser_fingerprint=digest("certificate"),
    claimed_time=MADE_AT,
    time_stamp_expected=True,
    contents=digest("contents"),
    acknowledgement="K7QM-2XHP",
    origin_statement=digest("seal"),
    origin_sealed_at=datetime(2026, 5, 14, 17, 0, tzinfo=UTC),
    origin_sealer_name="Thistlemoor Roads Unit, sealing",
    origin_time_stamped=True,
    chain_head=digest("head"),
    tree_root=digest("root"),
    entries={"file": 40, "record": 20, "finding": 10},
    accounting={"released": 5, "redacted": 2, "inspect": 1, "withheld": 61, "withdrawn": 1},
    exhibits=EXHIBITS,
    withheld=(
        WithheldClass(
            kind="file", wording="Not disclosed here: data of other people, or material that is not "
            "due to this recipient.", reason="Not due to this recipient.", count=36,
            entries="0, 1, 4–11, 15–39",
        ),
        WithheldClass(
            kind="record", wording="Not disclosed here: data of other people, or material that is "
            "not due to this recipient.", reason="Not due to this recipient.", count=17,
            entries="42, 43, 45–59",
        ),
    ),
    evidpack_version="0.1.0",
    redactions=(
        PackRedaction(
            exhibit=2, name="data/redacted/exhibit-2.png", width_px=1600, height_px=1200,
            regions=("a box of 180 × 48 pixels at 640, 512", "a polygon with 5 corners"),
            tiles_closed=27, tiles=1900, reason="It holds data of other people.",
            by="H. Undersedge", at=DECIDED_AT,
        ),
    ),
    findings=FINDINGS,
    finding_labels={"5": "Fixed distance", "8": "Image numbers continuous"},
    sealed_outcomes={"pass": 6, "query": 2, "fail": 0, "not determinable": 1, "not applicable": 1},
    changes=(
        "Exhibits 3 and 7 are new.",
        "Exhibit 10 is withdrawn: it was disclosed by mistake.",
    ),
    verification=PackVerification(
        verdict="verified", at=DECIDED_AT, report=digest("report")
    ),
)  # fmt: skip


def first_issue() -> PackContent:
    """The same as a first issue, which nobody verified before."""
    return replace(
        CONTENT,
        reference="pack-1-5f0c11d2a9b7",
        issue=1,
        previous_statement=None,
        verification=None,
        time_stamp_expected=False,
        changes=(),
        exhibits=EXHIBITS[:2],
        redactions=(),
        findings=(),
    )
