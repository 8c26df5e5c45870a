"""The fields that each kind of record has, and what type each is.

This table is the one place that says so: profiles are validated against it, cells are normalised
by it, `describe` proposes from it and docs/format.md lists it.

The type of a field decides the name under which its normalised value is kept:

=============  =====================================================================
type           normalised value
=============  =====================================================================
text           text, outer white space removed
integer        JSON integer
number         JSON number
flag           true or false
choice         one of the field's `choices`
speed          JSON number under ``<name>_mph``, ``<name>_kmh`` or ``<name>_mps``
length         JSON number under ``<name>_m`` or ``<name>_ft``
series         list of JSON numbers, seconds or metres: the name says which
time           RFC 3339 text, or {local, status, instants} where not one instant
date           ``YYYY-MM-DD``
=============  =====================================================================
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final


class FieldType(StrEnum):
    """How a cell is read."""

    TEXT = "text"
    INTEGER = "integer"
    NUMBER = "number"
    FLAG = "flag"
    CHOICE = "choice"
    SPEED = "speed"
    LENGTH = "length"
    SERIES = "series"
    TIME = "time"
    DATE = "date"


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One field of one kind of record."""

    name: str
    type: FieldType
    required: bool = False
    choices: tuple[str, ...] = ()
    about: str = ""


class RecordKind(StrEnum):
    """What a record is about."""

    SESSION = "session"
    METER = "meter"
    OPERATOR = "operator"
    READING = "reading"
    DEVICE_TEST = "device_test"
    CLOCK_CHECK = "clock_check"
    CERTIFICATE = "certificate"
    METER_EVENT = "meter_event"
    SITE = "site"
    LIMIT_ORDER = "limit_order"
    REPORT = "report"
    REVIEW = "review"
    DATA_STRIP = "data_strip"
    MARK = "mark"
    FRAME_TIME = "frame_time"
    DELETION = "deletion"
    EVENT = "event"
    NOTE = "note"
    # Made by evidpack from the above, never typed and never mapped by a profile:
    STILL = "still"
    CLIP = "clip"
    CAPTURE = "capture"
    UNREADABLE = "unreadable"
    EMPTY_FOLDER = "empty_folder"
    PAST_RUN = "past_run"
    PAST_FINDING = "past_finding"


def _text(name: str, about: str, *, required: bool = False) -> Field:
    return Field(name=name, type=FieldType.TEXT, required=required, about=about)


def _of(kind: FieldType, name: str, about: str, *, required: bool = False) -> Field:
    return Field(name=name, type=kind, required=required, about=about)


def _choice(name: str, choices: tuple[str, ...], about: str, *, required: bool = False) -> Field:
    return Field(name=name, type=FieldType.CHOICE, required=required, choices=choices, about=about)


_T = FieldType
TESTS: Final = ("self", "display", "alignment-horizontal", "alignment-vertical", "distance", "zero")
CERTIFICATE_KINDS: Final = ("calibration", "operator", "approval")

_TABLE: Final[dict[RecordKind, tuple[Field, ...]]] = {
    RecordKind.SESSION: (
        _text("id", "names the session", required=True),
        _text("meter", "serial of the meter used", required=True),
        _text("site", "identifier of the site", required=True),
        _of(_T.TIME, "start", "set-up began", required=True),
        _of(_T.TIME, "end", "packed up", required=True),
        _of(_T.NUMBER, "latitude_deg", "where the meter stood, degrees north"),
        _of(_T.NUMBER, "longitude_deg", "where the meter stood, degrees east"),
        _text("direction", "direction of travel that was measured"),
    ),
    RecordKind.METER: (
        _text("serial", "serial number", required=True),
        _text("type", "type designation", required=True),
        _text("firmware", "firmware version"),
        _text("tamper_seal", "number of the tamper seal"),
        _text("camera_serial", "serial of its camera, as EXIF has it, where that is another"),
    ),
    RecordKind.OPERATOR: (
        _text("id", "the unit's own identifier", required=True),
        _text("name", "name as on the certificate", required=True),
    ),
    RecordKind.READING: (
        _text("capture", "identifier shared with stills and clip"),
        _text("session", "session identifier"),
        _text("meter", "serial of the meter"),
        _of(_T.TIME, "time", "when the reading was taken", required=True),
        _of(_T.TIME, "opinion_time", "when the operator formed the opinion"),
        _of(_T.SPEED, "speed", "as shown", required=True),
        _of(_T.LENGTH, "range", "as shown"),
        _of(_T.SPEED, "limit", "speed limit that applied"),
        _choice("direction", ("approaching", "receding"), "of the target"),
        _text("travel", "direction of travel, in the words of the site record"),
        _of(_T.NUMBER, "latitude_deg", "where the meter stood, degrees north"),
        _of(_T.NUMBER, "longitude_deg", "where the meter stood, degrees east"),
        _of(_T.SERIES, "pulse_times_s", "times of the pulses from the first, seconds"),
        _of(_T.SERIES, "pulse_ranges_m", "ranges of the pulses, metres"),
        _text("plate", "registration mark as noted"),
        _of(_T.INTEGER, "image_number", "number of the first still"),
        _of(_T.FLAG, "discarded", "the operator discarded the capture"),
        _text("remark", "free text"),
    ),
    RecordKind.DEVICE_TEST: (
        _text("session", "session identifier"),
        _text("meter", "serial of the meter"),
        _of(_T.TIME, "time", "when the test was done", required=True),
        _choice("test", TESTS, "which test", required=True),
        _choice("result", ("pass", "fail"), "as the log says", required=True),
        _of(_T.LENGTH, "measured", "measured distance (distance test)"),
        _of(_T.LENGTH, "surveyed", "surveyed distance (distance test)"),
        _of(_T.SPEED, "shown_speed", "speed shown (zero test)"),
        _text("operator", "operator identifier"),
        _text("remark", "free text"),
    ),
    RecordKind.CLOCK_CHECK: (
        _text("clock", "name of the clock checked", required=True),
        _of(_T.TIME, "time", "what the clock showed", required=True),
        _of(_T.TIME, "reference_time", "what the reference showed", required=True),
        _text("reference", "the reference used"),
        _of(_T.NUMBER, "uncertainty_s", "of the comparison, k = 2, seconds"),
        _of(_T.FLAG, "resynchronised", "the clock was set right after this check"),
    ),
    RecordKind.CERTIFICATE: (
        _choice("certificate", CERTIFICATE_KINDS, "what it certifies", required=True),
        _text("number", "number of the certificate", required=True),
        _text("serial", "serial of the meter (calibration)"),
        _text("type", "type of meter"),
        _text("firmware", "firmware version covered"),
        _text("holder", "operator identifier (operator certificate)"),
        _of(_T.DATE, "calibrated", "date of calibration"),
        _of(_T.DATE, "issued", "date of issue"),
        _of(_T.DATE, "valid_from", "first day of validity"),
        _of(_T.DATE, "valid_until", "last day of validity, where it states one"),
        _text("laboratory", "who calibrated"),
        _text("traceability", "statement of traceability"),
        _text("conditions", "conditions of the calibration"),
        _text("method", "method used"),
        _of(_T.SPEED, "speed_error", "largest error found, as left"),
        _of(_T.SPEED, "speed_error_found", "largest error found, before adjustment"),
        _of(_T.SPEED, "speed_uncertainty", "expanded uncertainty, k = 2"),
        _of(_T.SPEED, "tolerance_low", "lower tolerance, negative"),
        _of(_T.SPEED, "tolerance_high", "upper tolerance"),
        _of(_T.LENGTH, "range_min", "shortest approved range (approval)"),
        _of(_T.LENGTH, "range_max", "longest approved range (approval)"),
        _of(_T.SPEED, "speed_min", "lowest approved speed (approval)"),
        _of(_T.SPEED, "speed_max", "highest approved speed (approval)"),
        _text("document", "path of the scanned certificate in the export"),
    ),
    RecordKind.METER_EVENT: (
        _text("meter", "serial of the meter", required=True),
        _of(_T.DATE, "date", "when", required=True),
        _choice(
            "event", ("repair", "tamper-seal-broken", "firmware-changed"), "what", required=True
        ),
        _text("detail", "free text"),
    ),
    RecordKind.SITE: (
        _text("id", "identifier", required=True),
        _text("name", "name of the place", required=True),
        _of(_T.SPEED, "limit", "speed limit"),
        _text("direction", "direction of travel enforced, or both"),
        _choice(
            "target",
            ("approaching", "receding"),
            "how traffic of that direction moves for the meter",
        ),
        _of(_T.NUMBER, "latitude_deg", "degrees north"),
        _of(_T.NUMBER, "longitude_deg", "degrees east"),
        _of(_T.LENGTH, "offset", "lateral offset of the meter from the line of travel"),
        _of(_T.LENGTH, "height", "height of the meter over the road"),
        _of(_T.DATE, "authorised_from", "first day authorised"),
        _of(_T.DATE, "authorised_until", "last day authorised"),
    ),
    RecordKind.LIMIT_ORDER: (
        _text("site", "site identifier", required=True),
        _text("number", "number of the order", required=True),
        _of(_T.SPEED, "limit", "limit that it sets", required=True),
        _of(_T.DATE, "from", "first day in force", required=True),
        _of(_T.DATE, "until", "last day in force"),
        _of(_T.DATE, "signs_seen", "day on which the signs were seen in place"),
        _of(_T.DATE, "signs_missing", "day on which a sign was found missing"),
    ),
    RecordKind.REPORT: (
        _text("session", "session identifier"),
        _text("version", "version of the report"),
        _of(_T.INTEGER, "captures", "number of captures the report counts"),
        _of(_T.INTEGER, "image_first", "first image number expected"),
        _of(_T.INTEGER, "image_last", "last image number expected"),
        _text("signed_by", "who signed"),
        _of(_T.TIME, "signed", "when it was signed"),
        _text("document", "path of the report in the export"),
    ),
    RecordKind.REVIEW: (
        _text("capture", "capture reviewed", required=True),
        _text("reviewer", "who looked", required=True),
        _of(_T.TIME, "time", "when"),
        _of(_T.INTEGER, "vehicles", "vehicles in the beam"),
        _of(_T.FLAG, "on_target", "the cross-hair is on the vehicle"),
        _text("same_vehicle_as", "another capture that shows the same vehicle"),
        _text("remark", "free text"),
    ),
    RecordKind.DATA_STRIP: (
        _text("still", "file name of the still", required=True),
        _of(_T.SPEED, "speed", "as in the strip"),
        _of(_T.LENGTH, "range", "as in the strip"),
        _of(_T.TIME, "time", "as in the strip"),
        _text("site", "as in the strip"),
    ),
    RecordKind.MARK: (
        _text("capture", "capture in which the marks are seen", required=True),
        _text("still", "file name of the still", required=True),
        _of(_T.NUMBER, "interval_s", "time since the first still, seconds"),
        _of(_T.LENGTH, "distance", "distance travelled since the first still"),
        _of(_T.LENGTH, "distance_uncertainty", "standard uncertainty"),
        _of(_T.NUMBER, "interval_uncertainty_s", "standard uncertainty, seconds"),
    ),
    RecordKind.FRAME_TIME: (
        _text("clip", "file name of the clip", required=True),
        _of(_T.INTEGER, "frame", "frame number", required=True),
        _of(_T.TIME, "time", "when the frame was taken", required=True),
    ),
    RecordKind.DELETION: (
        _of(_T.INTEGER, "image_first", "first number deleted", required=True),
        _of(_T.INTEGER, "image_last", "last number deleted", required=True),
        _text("counter", "which counter, where there are several"),
        _text("reason", "why", required=True),
        _text("by", "who", required=True),
        _of(_T.TIME, "time", "when"),
    ),
    RecordKind.EVENT: (
        _text("capture", "capture concerned"),
        _text("event", "what happened", required=True),
        _of(_T.TIME, "time", "when"),
        _of(_T.DATE, "date", "which day, where no time is known"),
        _text("detail", "free text"),
    ),
    RecordKind.NOTE: (
        _text("subject", "check or capture that the note is about"),
        _text("by", "who wrote it", required=True),
        _of(_T.TIME, "time", "when", required=True),
        _text("text", "what it says", required=True),
    ),
}

FIELDS: Final[dict[RecordKind, dict[str, Field]]] = {
    kind: {field.name: field for field in fields} for kind, fields in _TABLE.items()
}
MAPPED_KINDS: Final = tuple(_TABLE)
