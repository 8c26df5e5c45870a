"""All faulty days, and which of them stands for which class of what went wrong in court."""

from __future__ import annotations

from tests.faulty.device import DEVICE
from tests.faulty.fault import Fault
from tests.faulty.later import AFTERWARDS
from tests.faulty.measuring import MEASURING
from tests.faulty.papers import PAPERS
from tests.faulty.pictures import PICTURES


def _place(one: Fault) -> tuple[int, str]:
    number = one.check.rstrip("abc")
    return int(number), one.check


FAULTS: tuple[Fault, ...] = tuple(
    sorted((*PAPERS, *DEVICE, *PICTURES, *MEASURING, *AFTERWARDS), key=_place)
)

COURT: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("certificate for another serial",
     ("certificate-other-serial", "certificate-sister-meter", "certificate-listed-other-serial")),
    ("calibration over-age", ("over-age",)),
    ("set-up and alignment checks not shown", ("no-alignment", "no-set-up-display")),
    ("clock an hour out after a clock change", ("clock-hour-out",)),
    ("clock left on another country's zone", ("clock-other-zone",)),
    ("notice sent by a class of post without presumed service", ("post-class",)),
    ("camera view shifted", ("view-shifted", "second-speed-disagrees", "thumbnail-other")),
    ("signs of a reduced limit missing", ("signs-missing", "reduced-limit-signs-unknown")),
    ("paperwork of the limit order late", ("limit-order-late",)),
    ("report form unsigned", ("report-unsigned",)),
    ("no check after the session", ("no-post-session-check",)),
    ("image numbers missing", ("still-lost", "image-missing-first", "image-missing-last")),
    ("video gap", ("video-gap", "clip-gap", "video-frames-missing")),
    ("lapsed operator certificate", ("operator-lapsed",)),
    ("reading out of range", ("beyond-maximum-range", "below-minimum-range")),
    ("still overlay differs from the record",
     ("strip-speed", "strip-range", "strip-time", "strip-site")),
    ("two vehicles in the frame", ("two-vehicles",)),
    ("wrong place",
     ("set-up-elsewhere", "strip-site", "site-not-on-record", "site-not-authorised")),
    ("withheld but unlisted", ("withheld-unlisted", "withheld-shown-as-released")),
    ("third party unredacted",
     ("third-party-in-copy", "third-party-in-metadata", "third-party-in-description")),
)  # fmt: skip
