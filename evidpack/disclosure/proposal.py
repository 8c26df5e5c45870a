"""What is proposed for each entry. A proposal is a starting point: people decide.

Other people's captures are proposed to be withheld.  Left undecided, with a proposal beside it, is
whatever may undermine or assist, whatever is opaque and may hold others, and whatever is neither
about the captures of the case nor about other people.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from evidpack.disclosure.concern import Concern, certificate_concerns
from evidpack.disclosure.sealed_bundle import SealedEntry
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Outcome
from evidpack.model.records import ItemKind
from evidpack.model.values import JsonValue

UNDECIDED: Final = "undecided"
_CAPTURES: Final = re.compile(r"captures? (\d+)")
_SESSION: Final = re.compile(r"session (\S+)")
_EXPORT: Final = "export/"


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A proposal for one entry.

    `group` is the class under which it may be decided together with others; `use` and `what` are
    as in decisions.toml; `undecided` says that a person must decide; `marked` that it may undermine
    or assist and needs a decision of its own; `alone` that it is best looked at by itself.
    """

    group: str
    use: str
    what: str
    reason: str
    undecided: bool = False
    marked: bool = False
    alone: bool = False
    description: str | None = None


def _release(group: str, reason: str, *, use: str = "relied on") -> Proposal:
    return Proposal(group=group, use=use, what="release", reason=reason)


OTHERS: Final = Proposal(
    group="captures of other people", use="not relevant", what="withhold", reason="third-party"
)
_RELATED: Final = Proposal(
    group="discarded captures to be considered",
    use="unused",
    what="release",
    reason="may-assist",
    undecided=True,
    marked=True,
)
_CAPTURE: Final = replace(_release("the captures of the case", "concerns-capture"), alone=True)
_FRAMES: Final = _release("frame times of clips of the case", "concerns-capture")
_DEVICE: Final = _release("meter, tests, clocks and certificates", "concerns-device")
_SESSION_OF_CASE: Final = _release("the session and its site", "concerns-session")
_NEEDED: Final = _release("profile and rule set", "needed-to-check", use="unused")
_FINDING: Final = _release("findings that bear on the case", "concerns-capture", use="unused")
_DAY_FINDING: Final = _release("findings about the whole day", "concerns-day", use="unused")
_MIXED: Final = Proposal(
    group="files that mix people",
    use="unused",
    what="withhold",
    reason="mixed",
    description="A file in which rows of several people stand; the rows that concern this case "
    "are revealed one by one.",
)
_CLOSED: Final = Proposal(
    group="the note of the sealing",
    use="not relevant",
    what="withhold",
    reason="keeps-index-closed",
)
_OTHER_SESSION: Final = Proposal(
    group="other sessions and what was used there",
    use="not relevant",
    what="withhold",
    reason="other-session",
    undecided=True,
)
_NEITHER: Final = Proposal(
    group="the rest of the day",
    use="unused",
    what="release",
    reason="concerns-day",
    undecided=True,
)


def propose(entry: SealedEntry, concern: Concern, released_logs: frozenset[int]) -> Proposal:
    """A proposal for one entry; `released_logs` are the entries of logs without other people's
    rows, which may be released whole."""
    if entry.kind == "file":
        return _file(entry, concern, released_logs)
    if entry.kind == "finding":
        return _finding(entry.values, concern)
    return _record(entry.values, concern)


# Rows of several people stand in each; a run log tells findings about all captures.
_MIXING: Final = frozenset(
    {
        ItemKind.DESCRIPTION.value,
        ItemKind.UNIT.value,
        ItemKind.NOTES.value,
        ItemKind.RUN_LOG.value,
    }
)


def _file(entry: SealedEntry, concern: Concern, released_logs: frozenset[int]) -> Proposal:
    path = str(entry.values.get("path"))
    kind = str(entry.values.get("item_kind"))
    if path in concern.paths:
        return _CAPTURE
    if path in concern.related_paths:
        return _RELATED
    if kind == ItemKind.STILL.value or path in concern.other_paths:
        return OTHERS
    if kind == ItemKind.CERTIFICATE.value:
        relevant = not concern.documents or path.removeprefix(_EXPORT) in concern.documents
        return _DEVICE if relevant else _OTHER_SESSION
    if kind in (ItemKind.PROFILE.value, ItemKind.RULES.value):
        return _NEEDED
    if kind == ItemKind.SEALING.value:
        return _CLOSED
    if kind == ItemKind.LOG.value:
        return _DEVICE if entry.number in released_logs else _MIXED
    if kind in _MIXING:
        return _MIXED
    return _opaque(kind, path)


def _opaque(kind: str, path: str) -> Proposal:
    """A file that evidpack cannot look into: a person must."""
    what = {
        ItemKind.REPORT.value: "the report of the day",
        ItemKind.CLIP.value: "a clip that is not cut to one capture",
        ItemKind.AUDIO.value: "a sound recording",
        ItemKind.DOCUMENT.value: "a document",
    }.get(kind, "a file that nobody has described")
    return Proposal(
        group=f"{what}, {path}",
        use="unused",
        what="inspect",
        reason="may-hold-others",
        undecided=True,
        description=what[0].upper() + what[1:] + ".",
    )


def _record(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    kind = str(values.get("record_kind"))
    rule = _RECORD_RULES.get(kind)
    return _NEITHER if rule is None else rule(values, concern)


def _of_source(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    source = values.get("source_entry"), values.get("source_line")
    if source in concern.related_sources:
        return _RELATED
    return _CAPTURE if source in concern.sources else OTHERS


def _of_path(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    path = values.get("path")
    if path in concern.paths:
        return _CAPTURE
    if path in concern.related_paths:
        return _RELATED
    is_clip = values.get("record_kind") == RecordKind.CLIP.value
    return _NEITHER if is_clip and path not in concern.other_paths else OTHERS


def _of_file_name(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    name = str(values.get("still", values.get("clip"))).rpartition("/")[2]
    if name not in concern.file_names:
        return OTHERS
    frames = values.get("record_kind") == RecordKind.FRAME_TIME.value
    return _FRAMES if frames else _CAPTURE


def _of_capture(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    capture = values.get("capture")
    if capture is None:
        return _NEITHER
    return _CAPTURE if capture in concern.identifiers else OTHERS


def _of_note(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    subject = str(values.get("subject"))
    numbers = {int(number) for number in _CAPTURES.findall(subject)}
    if subject in concern.identifiers or numbers & concern.numbers:
        return _CAPTURE
    return OTHERS if numbers else _NEITHER


def _of_session(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    session = values.get("id", values.get("session"))
    return _SESSION_OF_CASE if session in concern.sessions else _OTHER_SESSION


def _of_site(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    site = values.get("id", values.get("site"))
    return _SESSION_OF_CASE if site in concern.sites else _OTHER_SESSION


def _of_meter(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    meter = values.get("serial", values.get("meter"))
    return _DEVICE if meter is None or meter in concern.meters else _OTHER_SESSION


def _of_operator(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    return _DEVICE if values.get("id") in concern.operators else _OTHER_SESSION


def _of_certificate(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    return _DEVICE if certificate_concerns(concern, values) else _OTHER_SESSION


def _of_clock(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    del values, concern
    return _DEVICE


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
    return _finding({**values, "undermines": True}, concern)


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


def _names_others(subject: str, concern: Concern) -> bool:
    """Whether a finding is about a file or a thing of other captures."""
    words = {word.strip(",;:()") for word in subject.split()}
    words |= {word.rpartition("/")[2] for word in words}
    return not words.isdisjoint(concern.other_names)


def is_marked(values: Mapping[str, JsonValue]) -> bool:
    """Whether a finding may undermine or assist: it says so, or it is adverse."""
    adverse = values.get("adverse") is True or values.get("outcome") in _ADVERSE
    return values.get("undermines") is True or adverse


def _finding(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    subject = str(values.get("subject"))
    marked = is_marked(values)
    numbers = {int(number) for number in _CAPTURES.findall(subject)}
    session = _SESSION.search(subject)
    if numbers:
        proposal = _FINDING if numbers & concern.numbers else OTHERS
    elif session is not None:
        proposal = _FINDING if session[1] in concern.sessions else _OTHER_SESSION
    elif _names_others(subject, concern):
        proposal = _OTHER_SESSION
    else:
        proposal = _DAY_FINDING
    if not marked:
        return proposal
    return Proposal(
        group=proposal.group,
        use="unused" if proposal.use == "not relevant" else proposal.use,
        what="release",
        reason="may-assist",
        undecided=True,
        marked=True,
    )


_ADVERSE: Final = (Outcome.QUERY.value, Outcome.FAIL.value)


def logs_without_others(
    proposals: Mapping[int, Proposal], rows: Mapping[int, tuple[int, ...]]
) -> frozenset[int]:
    """Entries of logs all of whose rows are proposed for release; `rows` gives the records of
    each log by the number of its entry."""
    return frozenset(
        log
        for log, numbers in rows.items()
        if numbers
        and all(
            proposals[number].what == "release" and not proposals[number].undecided
            for number in numbers
        )
    )
