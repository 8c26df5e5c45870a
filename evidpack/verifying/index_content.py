"""What the disclosure index is made from, the same when sealing and when making it again."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from io import SEEK_END, BytesIO
from typing import BinaryIO, cast
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from cryptography import x509

from evidpack.checks.registry import CHECKS
from evidpack.container import layout
from evidpack.errors import EvidpackError
from evidpack.index.content import (
    IndexContent,
    IndexedFile,
    IndexedFinding,
    IndexedRecord,
    PreviousSeal,
)
from evidpack.index.index import build_index
from evidpack.index.sheet import PAPER_SIZES, PaperName
from evidpack.index.thumbnails import ThumbnailError, make_thumbnail
from evidpack.intake.folder_listing import disk_errors
from evidpack.intake.intake import Intake
from evidpack.limits import MAX_STILL_BYTES
from evidpack.model.findings import Finding
from evidpack.model.records import Record
from evidpack.proof.canonical import parse_canonical
from evidpack.proof.members import Members
from evidpack.proof.statement import Previous
from evidpack.rules.ruleset import RuleSet
from evidpack.trust.fingerprints import fingerprint, name_of


@dataclass(frozen=True, slots=True, kw_only=True)
class IndexFacts:
    """All that the index of one sealed day depends on, besides the pictures.

    `records` are in ledger order, each with its entry's number following those of the files;
    `note` holds the bytes of office/sealing.json.
    """

    intake: Intake
    rules: RuleSet | None
    files: Sequence[IndexedFile]
    records: Sequence[Record]
    findings: Sequence[Finding]
    chain_head: bytes
    tree_root: bytes
    claimed_time: datetime
    signer: x509.Certificate
    previous: Previous | None
    time_stamp_expected: bool
    pixel_proof: bool
    evidpack_version: str
    note: bytes


def index_pdf(facts: IndexFacts, *, open_file: Callable[[str], BinaryIO]) -> bytes:
    """The index; `open_file` gives the bytes of a still by its path under the data folder.

    A still that cannot be decoded has no picture in the index.  One that cannot be read is an error:
    the index made again from the bundle would have its picture.

    Raises:
        IntakeError: the bytes of a still cannot be read.
        EvidpackError: as `open_file` raises it.
    """
    unread: list[EvidpackError] = []

    def thumbnail(path: str) -> bytes | None:
        try:
            data = _whole(open_file, path)
        except EvidpackError as error:
            unread.append(error)
            return None
        try:
            return make_thumbnail(BytesIO(data))
        except ThumbnailError:
            return None

    pdf = build_index(_content(facts), thumbnail=thumbnail, workers=os.cpu_count() or 1)
    if unread:
        raise unread[0]
    return pdf


def _whole(open_file: Callable[[str], BinaryIO], path: str) -> bytes:
    with disk_errors(path), open_file(path) as stream:
        # Asked for its size, since as much memory is taken as is asked for.
        size = stream.seek(0, SEEK_END)
        stream.seek(0)
        return stream.read(min(size, MAX_STILL_BYTES))


def _content(facts: IndexFacts) -> IndexContent:
    description = facts.intake.day.description
    document_number, paper = _note(facts.note)
    first_record = len(facts.files)
    first_finding = first_record + len(facts.records)
    return IndexContent(
        day_reference=description.reference,
        unit=description.unit,
        date=description.date,
        zone=description.zone,
        claimed_sealing_time=_in_zone(facts.claimed_time, description.zone),
        document_number=document_number,
        evidpack_version=facts.evidpack_version,
        signer_name=name_of(facts.signer),
        signer_fingerprint=fingerprint(facts.signer),
        chain_head=facts.chain_head,
        tree_root=facts.tree_root,
        rule_set_title="" if facts.rules is None else facts.rules.title,
        rule_set_edition="" if facts.rules is None else facts.rules.edition,
        entries={
            "file": len(facts.files),
            "record": len(facts.records),
            "finding": len(facts.findings),
        },
        files=facts.files,
        records=[
            IndexedRecord(number=number, record=record)
            for number, record in enumerate(facts.records, first_record)
        ],
        findings=[
            IndexedFinding(number=number, finding=finding)
            for number, finding in enumerate(facts.findings, first_finding)
        ],
        previous=_previous(facts.previous),
        time_stamp_expected=facts.time_stamp_expected,
        pixel_proof=facts.pixel_proof,
        undescribed=facts.rules is None,
        paper=paper,
        labels={check.number: check.title for check in CHECKS},
    )


def _note(data: bytes) -> tuple[str, PaperName]:
    """Document number and paper, as `sealing.gather.sealing_note` writes them.

    Raises ProofError for anything else.
    """
    members = Members(
        parse_canonical(data, path=layout.OFFICE_SEALING),
        path=layout.OFFICE_SEALING,
        where="the note of the sealing",
    )
    document_number = members.text("document_number")
    paper = cast("PaperName", members.choice("paper", tuple(PAPER_SIZES)))
    members.finish()
    return document_number, paper


def _previous(previous: Previous | None) -> PreviousSeal | None:
    if previous is None:
        return None
    return PreviousSeal(
        relation=previous.relation,
        statement_sha256=previous.statement.hex(),
        reason=previous.reason,
    )


def _in_zone(moment: datetime, zone: str) -> datetime:
    try:
        return moment.astimezone(ZoneInfo(zone))
    except (ZoneInfoNotFoundError, ValueError):
        return moment.astimezone(UTC)
