"""What the index of a pack says, put together from what the pack itself opens and nothing else."""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping, Sequence

from evidpack import __version__
from evidpack.checks.registry import CHECKS
from evidpack.container import layout
from evidpack.disclosure.compare import change_between
from evidpack.disclosure.decisions import RedactOrder, format_ranges
from evidpack.disclosure.describing import describe, fields_told, value_words
from evidpack.disclosure.pack import PackFacts
from evidpack.disclosure.plan import Revealed
from evidpack.disclosure.redacted_stills import RedactedStill
from evidpack.disclosure.releases import acknowledgement_code
from evidpack.errors import ContainerError
from evidpack.index.pack_content import (
    PackContent,
    PackExhibit,
    PackFinding,
    PackRedaction,
    PackVerification,
    WithheldClass,
)
from evidpack.index.pack_index import build_pack_index
from evidpack.index.phrases import size_text
from evidpack.index.thumbnails import make_thumbnail
from evidpack.limits import MAX_STILL_BYTES
from evidpack.model.findings import Finding, Outcome
from evidpack.model.records import ItemKind
from evidpack.model.values import JsonValue
from evidpack.proof.accounting import AccountingLine, Became, count_outcomes, neutral_line
from evidpack.proof.entries import RAW_PREFIX
from evidpack.trust.cms import parse_signature
from evidpack.trust.fingerprints import fingerprint, name_of
from evidpack.verifying.revealed_rows import CLOSED

_MAX_DETAIL_CHARACTERS = 160
# Names of fields that say where a record stood or are told elsewhere on the page.
_NOT_DETAILS = frozenset({"record_kind", "item_kind", "source_entry", "source_line", "place"})


def index_of_pack(facts: PackFacts) -> bytes:
    """The index of a pack that is being made, as PDF.

    Raises ContainerError where the bundle cannot be read: a failing disk is no reason to leave out a
    picture that is there.
    """
    pictures = {layout.exhibit_picture(still.exhibit): still.png for still in facts.stills}
    unread: list[ContainerError] = []

    def thumbnail(name: str) -> bytes:
        data = pictures.get(name)
        if data is None:
            if facts.bundle.archive.member(name).size > MAX_STILL_BYTES:
                raise ContainerError("the still is too large to be shown")
            path = name.removeprefix(layout.DATA)
            try:
                data = facts.bundle.read_file(path, limit=MAX_STILL_BYTES)
            except ContainerError as error:
                unread.append(error)
                raise
        return make_thumbnail(io.BytesIO(data))

    pdf = build_pack_index(_content(facts), thumbnail=thumbnail)
    if unread:
        raise unread[0]
    return pdf


def _content(facts: PackFacts) -> PackContent:
    seal, case, order = facts.bundle.statement, facts.decisions.case, facts.order
    sealer = parse_signature(facts.bundle.signature, path=layout.SIGNATURE).certificate
    earlier = order.earlier
    verification = order.verification
    zone = case.decided_at.tzinfo
    return PackContent(
        reference=facts.reference,
        day=seal.day,
        case=case.case,
        recipient=case.recipient,
        issue=facts.issue,
        previous_statement=None if earlier is None else earlier.statement,
        captures=case.captures,
        decided_by=case.decided_by,
        decided_at=case.decided_at,
        discloser_name=name_of(order.signer.certificate),
        discloser_fingerprint=fingerprint(order.signer.certificate),
        claimed_time=order.claimed_time.astimezone(zone),
        time_stamp_expected=order.time_stamp is not None,
        contents=facts.contents,
        acknowledgement=acknowledgement_code(facts.contents),
        origin_statement=facts.bundle.statement_sha256,
        origin_sealed_at=seal.claimed_time,
        origin_sealer_name=name_of(sealer),
        origin_time_stamped=seal.time_stamp_required,
        chain_head=seal.chain_head,
        tree_root=seal.tree_root,
        entries=dict(seal.entries),
        accounting=count_outcomes(facts.plan.lines),
        exhibits=list(_exhibits(facts)),
        withheld=_withheld(facts.plan.lines),
        evidpack_version=__version__,
        redactions=[_redaction(facts, still) for still in facts.stills],
        findings=[
            PackFinding(exhibit=one.line.exhibit or 0, finding=_finding(one.opened))
            for one in facts.plan.revealed
            if one.line.kind == "finding"
        ],
        finding_labels={check.number: check.title for check in CHECKS},
        sealed_outcomes=dict(seal.findings),
        changes=_changes(facts),
        verification=None
        if verification is None
        else PackVerification(
            verdict=verification.verdict, at=verification.at, report=verification.report
        ),
    )


def _exhibits(facts: PackFacts) -> Iterator[PackExhibit]:
    """Everything with an exhibit number, in the order of the numbers."""
    revealed = {one.number: one for one in facts.plan.revealed}
    earlier = facts.order.earlier
    numbered = [line for line in facts.plan.lines if line.exhibit is not None]
    for line in sorted(numbered, key=lambda line: line.exhibit or 0):
        one = revealed.get(line.entry)
        before = None if earlier is None else earlier.accounting.lines.get(line.entry)
        yield PackExhibit(
            number=line.exhibit or 0,
            entry=line.entry,
            kind=line.kind,
            use=line.use or "",
            became=line.became.value,
            description=line.description or "",
            reason=line.reason,
            name=_file_name(line, one),
            details=() if one is None else _details(one),
            closed=line.closed,
            picture=_is_picture(line, one),
            new=earlier is not None and before is None,
        )


def _file_name(line: AccountingLine, one: Revealed | None) -> str | None:
    """The file in the pack, for what is a file."""
    if one is None or line.kind != "file":
        return None
    if line.became is Became.REDACTED:
        return layout.exhibit_picture(line.exhibit or 0)
    return layout.DATA + str(one.opened["path"])


def _is_picture(line: AccountingLine, one: Revealed | None) -> bool:
    if one is None or line.kind != "file":
        return False
    return line.became is Became.REDACTED or one.opened.get("item_kind") == ItemKind.STILL.value


def _details(one: Revealed) -> Sequence[tuple[str, str]]:
    """Opened normalised values of a record, short ones whole, but for what its description says
    already; findings have a chapter."""
    opened = one.opened
    if one.line.kind == "finding":
        return ()
    if one.line.kind == "file":
        size = opened.get("size")
        sizes = [("size", size_text(size))] if isinstance(size, int) else []
        return [*sizes, *((name, str(opened[name])) for name in ("sha256",) if name in opened)]
    by_itself = one.line.description == describe(one.line.kind, opened)
    passed = _NOT_DETAILS | (fields_told(opened) if by_itself else frozenset())
    return [
        (name, _short(opened[name]))
        for name in sorted(opened)
        if name not in passed and not name.startswith(RAW_PREFIX)
    ]


def _short(value: JsonValue) -> str:
    text = value_words(value)
    if len(text) <= _MAX_DETAIL_CHARACTERS:
        return text
    return text[:_MAX_DETAIL_CHARACTERS] + " … (whole in data/derived)"


def _withheld(lines: Sequence[AccountingLine]) -> Sequence[WithheldClass]:
    """What is withheld without an exhibit, by kind: one neutral wording for all."""
    found: dict[str, list[AccountingLine]] = {}
    for line in lines:
        if line.neutral:
            found.setdefault(line.kind, []).append(line)
    return [
        WithheldClass(
            kind=kind,
            wording=group[0].description or "",
            reason=group[0].reason,
            count=len(group),
            entries=format_ranges([line.entry for line in group]),
        )
        for kind, group in found.items()
    ]


def _redaction(facts: PackFacts, still: RedactedStill) -> PackRedaction:
    order, case = facts.plan.redactions[still.entry], facts.decisions.case
    opened = next(one.opened for one in facts.plan.revealed if one.number == still.entry)
    return PackRedaction(
        exhibit=still.exhibit,
        name=layout.exhibit_picture(still.exhibit),
        width_px=int(str(opened["width_px"])),
        height_px=int(str(opened["height_px"])),
        regions=list(_regions(order)),
        tiles_closed=len(still.closed),
        tiles=len(still.closed) + len(still.salts),
        reason=still.record.reason,
        by=still.record.by,
        at=order.at or case.decided_at,
    )


def _regions(order: RedactOrder) -> Iterator[str]:
    for x, y, width, height in order.boxes:
        yield f"{width} × {height} pixels from {x}, {y}"
    for polygon in order.polygons:
        yield "polygon " + "; ".join(f"{x}, {y}" for x, y in polygon)


def _finding(opened: Mapping[str, JsonValue]) -> Finding:
    """A finding from its opened values; a closed text is shown as closed."""

    def text(name: str) -> str:
        value = opened.get(name, CLOSED)
        return value if isinstance(value, str) else CLOSED

    def optional(name: str) -> str | None:
        value = opened.get(name)
        return value if isinstance(value, str) else None

    version = opened.get("check_version")
    outcome = opened.get("outcome")
    return Finding(
        check=text("check"),
        check_version=version if isinstance(version, int) else 0,
        subject=text("subject"),
        outcome=Outcome(outcome) if isinstance(outcome, str) else Outcome.NOT_DETERMINABLE,
        sentence=text("sentence"),
        adverse=opened.get("adverse") is True,
        measured=opened.get("measured"),
        limit=opened.get("limit"),
        unit=optional("unit"),
        source=optional("source"),
        advice=optional("advice"),
        undermines=opened.get("undermines") is True,
    )


def _changes(facts: PackFacts) -> Sequence[str]:
    """What this issue adds, changes or withdraws, in sentences."""
    earlier = facts.order.earlier
    if earlier is None:
        return ()
    sentences = []
    for line in facts.plan.lines:
        before = earlier.accounting.lines.get(line.entry, neutral_line(line.entry, line.kind))
        change = change_between(before, line)
        if change is not None:
            how = change.how[0].upper() + change.how[1:]
            sentences.append(f"{how}: exhibit {line.exhibit}, {line.description} ({change.detail})")
    return sentences
