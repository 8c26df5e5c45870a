"""What is proposed for a record, by its kind."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from evidpack.disclosure.concern import Concern, certificate_concerns
from evidpack.disclosure.finding_rules import propose_for_finding
from evidpack.disclosure.named_captures import named_captures
from evidpack.disclosure.proposal import (
    CAPTURE,
    DEVICE,
    FRAMES,
    NEITHER,
    OTHER_SESSION,
    OTHERS,
    RELATED,
    RELATED_FRAMES,
    SESSION_OF_CASE,
    Proposal,
)
from evidpack.model.fields import RecordKind
from evidpack.model.values import JsonValue


def propose_for_record(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    """A proposal for a record with these values."""
    kind = str(values.get("record_kind"))
    rule = _RECORD_RULES.get(kind)
    return NEITHER if rule is None else rule(values, concern)


def _of_source(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    source = values.get("source_entry"), values.get("source_line")
    if source in concern.related_sources:
        return RELATED
    return CAPTURE if source in concern.sources else OTHERS


def _of_path(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    path = values.get("path")
    if path in concern.paths:
        return CAPTURE
    if path in concern.related_paths:
        return RELATED
    is_clip = values.get("record_kind") == RecordKind.CLIP.value
    return NEITHER if is_clip and path not in concern.other_paths else OTHERS


def _of_file_name(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    name = str(values.get("still", values.get("clip"))).rpartition("/")[2]
    frames = values.get("record_kind") == RecordKind.FRAME_TIME.value
    if name in concern.related_file_names:
        return RELATED_FRAMES if frames else RELATED
    if name not in concern.file_names:
        return OTHERS
    return FRAMES if frames else CAPTURE


def _of_capture(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    capture = values.get("capture")
    if capture is None:
        return NEITHER
    if capture in concern.related_identifiers:
        return RELATED
    return CAPTURE if capture in concern.identifiers else OTHERS


def _of_note(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    subject = str(values.get("subject"))
    named = named_captures(subject)
    if subject in concern.identifiers or named.may_be_among(concern.numbers):
        return CAPTURE
    return OTHERS if named else NEITHER


def _of_session(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    session = values.get("id", values.get("session"))
    return SESSION_OF_CASE if session in concern.sessions else OTHER_SESSION


def _of_site(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    site = values.get("id", values.get("site"))
    return SESSION_OF_CASE if site in concern.sites else OTHER_SESSION


def _of_meter(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    meter = values.get("serial", values.get("meter"))
    return DEVICE if meter is None or meter in concern.meters else OTHER_SESSION


def _of_operator(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    return DEVICE if values.get("id") in concern.operators else OTHER_SESSION


def _of_certificate(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    return DEVICE if certificate_concerns(concern, values) else OTHER_SESSION


def _of_clock(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    del values, concern
    return DEVICE


def _unreadable(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    """A row that could not be read may be anybody's, or be about what is disclosed."""
    del values, concern
    return Proposal(
        group="rows that could not be read",
        use="unused",
        what="withhold",
        reason="may-hold-others",
        undecided=True,
        description="A row of a log that could not be read.",
    )


def _past_finding(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    """What an earlier run said may undermine or assist wherever it bears on the case."""
    return propose_for_finding({**values, "undermines": True}, concern)


_K = RecordKind
_RECORD_RULES: Final = {
    _K.READING.value: _of_source,
    _K.CAPTURE.value: _of_source,
    _K.STILL.value: _of_path,
    _K.CLIP.value: _of_path,
    _K.DATA_STRIP.value: _of_file_name,
    _K.FRAME_TIME.value: _of_file_name,
    _K.REVIEW.value: _of_capture,
    _K.MARK.value: _of_capture,
    _K.EVENT.value: _of_capture,
    _K.NOTE.value: _of_note,
    _K.SESSION.value: _of_session,
    _K.REPORT.value: _of_session,
    _K.SITE.value: _of_site,
    _K.LIMIT_ORDER.value: _of_site,
    _K.METER.value: _of_meter,
    _K.METER_EVENT.value: _of_meter,
    _K.DEVICE_TEST.value: _of_meter,
    _K.OPERATOR.value: _of_operator,
    _K.CERTIFICATE.value: _of_certificate,
    _K.CLOCK_CHECK.value: _of_clock,
    _K.UNREADABLE.value: _unreadable,
    _K.PAST_FINDING.value: _past_finding,
}
