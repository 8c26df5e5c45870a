"""The keys that a rule set may hold, their units and what each means.

This table is the one place that says so: rule sets are validated against it and docs/checks.md lists
it.  A key that is `needed` must be in every rule set; a check whose optional key is absent says
that it does not apply.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from evidpack.model.fields import TESTS


class ValueType(StrEnum):
    """What kind of TOML value a key takes."""

    NUMBER = "a number"
    WHOLE = "a whole number"
    FLAG = "true or false"
    TEXT = "a text"
    TEXTS = "a list of texts"


SPEED_UNITS: Final = ("mph", "km/h", "m/s")
LENGTH_UNITS: Final = ("m", "ft")


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """One key. `units` lists the units allowed; `choices` the texts allowed (empty: any)."""

    name: str
    type: ValueType
    units: tuple[str, ...]
    about: str
    needed: bool = False
    minimum: float | None = 0.0
    choices: tuple[str, ...] = ()

    @property
    def example(self) -> str:
        """A correct table for this key, as hints print it."""
        examples = {
            ValueType.NUMBER: "1.0",
            ValueType.WHOLE: "1",
            ValueType.FLAG: "true",
            ValueType.TEXT: f'"{self.choices[0] if self.choices else "…"}"',
            ValueType.TEXTS: f'["{self.choices[0] if self.choices else "…"}"]',
        }
        return (
            f'[values.{self.name}]\nvalue = {examples[self.type]}\nunit = "{self.units[0]}"\n'
            'source = "…"\nstatus = "published"'
        )


def _number(name: str, units: str | tuple[str, ...], about: str, *, needed: bool = False) -> Key:
    return _key(ValueType.NUMBER, name, units, about, needed=needed)


def _whole(name: str, units: str | tuple[str, ...], about: str, *, needed: bool = False) -> Key:
    return _key(ValueType.WHOLE, name, units, about, needed=needed)


def _key(
    kind: ValueType, name: str, units: str | tuple[str, ...], about: str, *, needed: bool
) -> Key:
    allowed = (units,) if isinstance(units, str) else units
    return Key(name=name, type=kind, units=allowed, about=about, needed=needed)


def _signed(name: str, units: tuple[str, ...], about: str, *, needed: bool = False) -> Key:
    return Key(
        name=name, type=ValueType.NUMBER, units=units, about=about, needed=needed, minimum=None
    )


def _texts(name: str, about: str, choices: tuple[str, ...]) -> Key:
    return Key(
        name=name, type=ValueType.TEXTS, units=("names",), about=about, needed=True, choices=choices
    )


def _text(name: str, about: str, choices: tuple[str, ...] = (), *, needed: bool = False) -> Key:
    return Key(
        name=name,
        type=ValueType.TEXT,
        units=("name",),
        about=about,
        needed=needed,
        choices=choices,
    )


def _flag(name: str, about: str) -> Key:
    return Key(name=name, type=ValueType.FLAG, units=("flag",), about=about)


CERTIFICATE_FIELDS: Final = (
    "laboratory",
    "traceability",
    "conditions",
    "method",
    "speed_error",
    "speed_uncertainty",
    "issued",
    "calibrated",
)
REPORT_FIELDS: Final = (
    "session",
    "version",
    "captures",
    "image_first",
    "image_last",
    "signed_by",
    "signed",
    "document",
)

_TABLE: Final = (
    # Paperwork
    _whole("calibration_interval", "months", "how long a calibration covers", needed=True),
    _texts("certificate_fields", "what a calibration certificate must state", CERTIFICATE_FIELDS),
    _number(
        "guard_band_factor",
        "1",
        "guard band as a multiple of the expanded uncertainty",
        needed=True,
    ),
    _signed(
        "speed_tolerance_low",
        SPEED_UNITS,
        "lower tolerance (negative) where the certificate states none",
    ),
    _signed("speed_tolerance_high", SPEED_UNITS, "upper tolerance where it states none"),
    _whole("operator_interval", "months", "how long an operator certificate without an end covers"),
    _texts("report_fields", "what the day report must state", REPORT_FIELDS),
    # Device tests
    _texts("tests_before", "device tests due before the first reading", TESTS),
    _texts("tests_after", "device tests due after the last reading", TESTS),
    _text(
        "tests_scope",
        "whether the tests bracket each session or the whole shift of a meter",
        ("session", "shift"),
        needed=True,
    ),
    _number("distance_tolerance", LENGTH_UNITS, "of the fixed-distance test", needed=True),
    # Clocks
    _number("clock_offset_limit", "s", "largest offset of a clock", needed=True),
    _number(
        "clock_period",
        "days",
        "time in which a clock may gain or lose that much, and the oldest check that counts",
        needed=True,
    ),
    _number(
        "clock_check_uncertainty",
        "s",
        "expanded uncertainty (k = 2) of a clock check that states none",
        needed=True,
    ),
    _number(
        "clock_pattern_width",
        "s",
        "how near to whole quarter hours an offset counts as another zone or a missed change",
        needed=True,
    ),
    _number("typed_time_resolution", "s", "resolution of a time typed by a person", needed=True),
    # Continuity
    _whole("images_missing", "count", "unexplained missing image numbers allowed", needed=True),
    _number("frame_rate_min", "1/s", "lowest frame rate of a clip", needed=True),
    _number("frame_gap_periods", "1", "longest gap between frames, in frame periods", needed=True),
    # Readings
    _number("range_min", LENGTH_UNITS, "shortest range measured", needed=True),
    _number("range_max", LENGTH_UNITS, "longest range measured", needed=True),
    _number("speed_min", SPEED_UNITS, "lowest speed measured, where no approval states one"),
    _number("speed_max", SPEED_UNITS, "highest speed measured, where no approval states one"),
    _number("pulse_coverage", "1", "coverage factor for the slope of pulse ranges", needed=True),
    _number(
        "pulse_noise_limit",
        LENGTH_UNITS,
        "largest standard deviation of pulse ranges about the line",
        needed=True,
    ),
    _number(
        "sawtooth_step",
        LENGTH_UNITS,
        "a reset of pulse ranges against the trend that counts as a sawtooth",
        needed=True,
    ),
    # Threshold
    _number("deduction_fixed", SPEED_UNITS, "taken off a reading up to `deduction_share_from`"),
    _number("deduction_share", "%", "taken off a reading above that, the result rounded down"),
    _number("deduction_share_from", SPEED_UNITS, "above this the share is taken off"),
    _number("threshold_share", "%", "of the speed limit, added to it"),
    _number("threshold_fixed", SPEED_UNITS, "added to the speed limit as well"),
    _flag("deduction_and_threshold", "whether both practices apply together"),
    # Images, second speed, geometry
    _number("still_time_limit", "s", "between a reading and its still", needed=True),
    _number(
        "thumbnail_correlation_min",
        "1",
        "lowest correlation of a still with the thumbnail inside it",
    ),
    _number("reading_uncertainty", SPEED_UNITS, "expanded uncertainty (k = 2) of a reading"),
    _number("second_speed_coverage", "1", "coverage factor of the second speed", needed=True),
    _whole("vehicles_in_beam", "count", "vehicles that may be in the beam", needed=True),
    _number("range_chain_window", "s", "successive readings this near are chained", needed=True),
    _number(
        "range_chain_acceleration",
        "m/s2",
        "change of speed that a road vehicle can make between two readings",
        needed=True,
    ),
    _number(
        "range_chain_length", LENGTH_UNITS, "room for the aim to wander on one vehicle", needed=True
    ),
    # Site
    _number("site_distance_limit", LENGTH_UNITS, "how far from its site a meter may stand"),
    _whole("signs_seen_days", "days", "how long before the day the signs may have been seen"),
    # Disclosure
    _number(
        "discarded_window",
        "s",
        "a discarded capture this near in the same session is to be considered",
        needed=True,
    ),
    # Statutory clocks
    _text("deadline_zone", "IANA zone in which days begin"),
    _text("holiday_country", "country or region of public holidays, such as GB-ENG"),
    _whole("notice_days", "days", "to serve the notice; the day of the offence is not counted"),
    _whole("post_business_days", "days", "business days after posting to presumed service"),
    _whole("information_days", "days", "to name the driver; the day of service is counted"),
    _whole("proceedings_months", "months", "to begin proceedings"),
    _whole("copy_days", "days", "from serving the copy record to the hearing"),
    _whole("counter_notice_days", "days", "from a counter-notice to the hearing"),
    _whole("initial_details_days", "days", "from giving initial details to the hearing"),
    _whole("retention_months", "months", "to keep material after a conviction"),
)

KEYS: Final[dict[str, Key]] = {key.name: key for key in _TABLE}

# What a rule set may call required.  Where a required one is missing, the check that needs it is
# adverse; where another is missing, it is listed apart.
INPUTS: Final[dict[str, str]] = {
    "calibration_certificate": "a calibration certificate for each meter",
    "certificate_uncertainty": "the expanded uncertainty on the calibration certificate",
    "certificate_contents": "what `certificate_fields` names",
    "meter_type": "the type of the meter and on its certificate",
    "firmware": "the firmware version of the meter and on its certificate",
    "later_calibration": "the next calibration certificate, with as-found results",
    "operator": "who operated, per session",
    "operator_certificate": "a certificate for each operator",
    "device_tests": "the device tests named in `tests_before` and `tests_after`",
    "surveyed_distance": "measured and surveyed distance of the distance test",
    "clock_zone": "the zone of each clock",
    "clock_checks": "a check of each clock against a reference",
    "clock_drift": "checks of each clock far enough apart to tell its drift",
    "single_instant": "stamps that name one instant (not the hour that occurs twice)",
    "order": "clocks good enough to decide the order of events",
    "opinion_time": "when the operator formed the opinion",
    "image_counter": "the image counter, its modulus and the numbers of the stills",
    "image_ends": "the first and last image number expected, from the report",
    "frame_times": "times or numbers of the frames of each clip",
    "range": "the range of each reading",
    "approval": "an approval for the type of each meter",
    "pulse_ranges": "pulse times and ranges of each reading",
    "data_strip": "the fields of the data strip of each still",
    "still_time": "the time of each still",
    "camera_serial": "the serial of each meter's camera",
    "thumbnail": "the thumbnail that the camera wrote into each still",
    "two_timed_stills": "marks or distances in two timed stills",
    "reading_uncertainty": "the uncertainty of a reading",
    "review": "a reviewer's entry for each capture",
    "site_geometry": "lateral offset and height of the meter at the site",
    "site": "a record of each site",
    "position": "where the meter stood, and where the site is",
    "direction": "the direction of travel that was measured, and that of the site",
    "signs_seen": "when the signs of a limit order were seen in place",
    "reduced_limit_signs": "the same for an order that sets a lower limit than the site's own",
    "speed_limit": "the speed limit that applied",
    "report": "the day report",
    "joining": "how stills and clips are joined to readings",
    "items_named": "the stills and readings that rows of other logs name",
    "report_unaltered": "proof that a scanned report was not edited later",
    "events": "the dates of notices, service and hearings",
}
