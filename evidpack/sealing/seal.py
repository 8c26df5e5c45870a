"""Sealing a gathered day: payload, ledger, index, statement, signature, token, bag.

Everything goes to a temporary file on the target's disk, is verified by our own reader (steps 1
to 5 and the token's imprint), and only then gets its name.
"""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import IO, BinaryIO, Final, cast

from evidpack import __version__
from evidpack.container import layout
from evidpack.container.bag import BAGIT_TXT, bag_info, manifest
from evidpack.container.place import Placement, new_file, require_space
from evidpack.container.zip_writer import Written, ZipWriter
from evidpack.index.content import IndexedFile
from evidpack.limits import MIB
from evidpack.model.findings import Outcome
from evidpack.model.records import Item, Record
from evidpack.proof.digests import sha256
from evidpack.proof.entries import file_values, ordered_records, record_values, utc_text
from evidpack.proof.statement import SealStatement
from evidpack.sealing.ledger_writer import LedgerWriter
from evidpack.sealing.order import Gathered, SealOrder
from evidpack.sealing.payload import CopiedFile, PayloadWriter
from evidpack.sealing.verify_text import verify_text
from evidpack.trust.cms import sign_detached
from evidpack.trust.fingerprints import fingerprint
from evidpack.trust.timestamps import parse_token, require_claim_before, require_imprint
from evidpack.verifying.index_content import IndexFacts, index_pdf
from evidpack.verifying.own_work import require_own_work
from evidpack.verifying.versions import current_versions

_SYNC_EVERY_BYTES: Final = 256 * MIB


@dataclass(frozen=True, slots=True, kw_only=True)
class Sealed:
    """What was sealed: the numbers to print and to hand to another party the same day."""

    statement: SealStatement
    statement_sha256: str
    files: int
    bytes_written: int
    time_stamp: datetime | None


def seal(gathered: Gathered, order: SealOrder) -> Sealed:
    """Make and publish the bundle.

    Raises SealError, ExportChangedError, IntakeError, TrustError or ContainerError; then nothing
    stands under the name, and no temporary file is left.
    """
    folder = order.output.absolute().parent
    require_space(folder, _space_needed(gathered))
    with new_file(order.output) as placement:
        sealed, copied = _write(gathered, order, placement)
        gathered.export.require_unchanged()
        placement.begin_sync()
        require_own_work(
            placement.stream,
            path=str(order.output),
            compared={file.written.name: file.written for file in copied},
        )
        placement.publish()
    return sealed


def _space_needed(gathered: Gathered) -> int:
    """The files, and a generous allowance for headers, ledger, openings and index."""
    entries = len(gathered.intake.items) + len(gathered.intake.records) + len(gathered.findings)
    return gathered.total_bytes + 8_192 * entries + 4_000_000


def _write(
    gathered: Gathered, order: SealOrder, placement: Placement
) -> tuple[Sealed, Sequence[CopiedFile]]:
    """The whole archive; what was sealed, and the files with what was written of each."""
    reference = gathered.intake.day.description.reference
    with ZipWriter(placement.stream, reference, read_back=True) as archive:
        copied = _copy_payload(gathered, order, archive, placement)
        statement, moment = _write_rest(gathered, order, copied, _TagFiles(archive))
        size = archive.finish()
    sealed = Sealed(
        statement=statement,
        statement_sha256=sha256(statement.to_bytes()).hex(),
        files=len(copied),
        bytes_written=size,
        time_stamp=moment,
    )
    return sealed, copied


def _write_rest(
    gathered: Gathered, order: SealOrder, copied: Sequence[CopiedFile], tags: _TagFiles
) -> tuple[SealStatement, datetime | None]:
    """All that stands behind the payload; the statement, and the stamped time."""
    reference = gathered.intake.day.description.reference
    with LedgerWriter(order.output.absolute().parent) as ledger:
        records = _write_entries(gathered, order, copied, ledger)
        tags.add_spooled(layout.LEDGER, ledger.ledger)
        tags.add_spooled(layout.OPENINGS, ledger.openings)
        index = index_pdf(
            _index_facts(gathered, order, copied, records, ledger), open_file=gathered.export.open
        )
        tags.add(layout.INDEX, index)
        tags.add(
            layout.VERIFY,
            verify_text(reference=reference, time_stamp=order.time_stamp is not None),
        )
        statement = _statement(gathered, order, copied, ledger, tags.digests)
    moment = _sign(order, statement, tags)
    _close_bag(gathered, order, copied, tags)
    return statement, moment


class _TagFiles:
    """Adds the files outside the payload and keeps their digests."""

    def __init__(self, archive: ZipWriter) -> None:
        self._archive = archive
        self.digests: dict[str, bytes] = {}

    def add(self, name: str, data: bytes) -> None:
        self._keep(self._archive.add_bytes(name, data))

    def add_spooled(self, name: str, spooled: IO[bytes]) -> None:
        size = spooled.seek(0, io.SEEK_END)
        spooled.seek(0)
        self._keep(self._archive.add_stream(name, size, cast("BinaryIO", spooled)))

    def _keep(self, written: Written) -> None:
        self.digests[written.name] = written.sha256


def _copy_payload(
    gathered: Gathered, order: SealOrder, archive: ZipWriter, placement: Placement
) -> Sequence[CopiedFile]:
    unsynced = 0

    def told(count: int) -> None:
        """Keep the disk busy while files are copied, rather than after."""
        nonlocal unsynced
        unsynced += count
        if unsynced >= _SYNC_EVERY_BYTES:
            unsynced = 0
            placement.begin_sync()
        if order.on_bytes is not None:
            order.on_bytes(count)

    writer = PayloadWriter(
        archive,
        random=order.random,
        pixel_proof=order.pixel_proof,
        on_bytes=told,
    )
    try:
        for item in gathered.intake.items:
            with _open(gathered, item) as stream:
                writer.copy(item, stream)
        copied = writer.finish()
    finally:
        writer.close()
    placement.begin_sync()
    return copied


def _open(gathered: Gathered, item: Item) -> BinaryIO:
    if item.origin == "export":
        return cast("BinaryIO", gathered.export.open_unbuffered(item.path))
    return gathered.office.open(item.path)


def _write_entries(
    gathered: Gathered, order: SealOrder, copied: Sequence[CopiedFile], ledger: LedgerWriter
) -> Sequence[Record]:
    """Files, records, findings; returns the records in the order in which they were written."""
    entry_of: dict[str, int] = {}
    for file in copied:
        values = file_values(file.item, sha256=file.sha256, pixels=file.pixels)
        entry_of[file.item.path] = ledger.add("file", values, file.key)
    records = ordered_records(gathered.intake.records, entry_of)
    for source_entry, record in records:
        ledger.add("record", record_values(record, source_entry=source_entry), order.random(32))
    for finding in gathered.findings:
        ledger.add("finding", finding.to_values(), order.random(32))
    return [record for _, record in records]


def _index_facts(
    gathered: Gathered,
    order: SealOrder,
    copied: Sequence[CopiedFile],
    records: Sequence[Record],
    ledger: LedgerWriter,
) -> IndexFacts:
    with gathered.office.open(layout.OFFICE_SEALING) as stream:
        note = stream.read()
    return IndexFacts(
        intake=gathered.intake,
        rules=gathered.rules,
        files=[
            IndexedFile(
                number=number,
                path=file.item.path,
                kind=file.item.kind.value,
                origin=file.item.origin,
                size=file.item.size,
                modified=utc_text(file.item.modified),
                sha256=file.sha256.hex(),
                original_name=file.item.original_name,
            )
            for number, file in enumerate(copied)
        ],
        records=records,
        findings=gathered.findings,
        chain_head=ledger.chain_head,
        tree_root=ledger.tree_root(),
        claimed_time=order.claimed_time,
        signer=order.signer.certificate,
        previous=order.previous,
        time_stamp_expected=order.time_stamp is not None,
        pixel_proof=any(file.pixels is not None for file in copied),
        evidpack_version=__version__,
        note=note,
    )


def _statement(
    gathered: Gathered,
    order: SealOrder,
    copied: Sequence[CopiedFile],
    ledger: LedgerWriter,
    digests: dict[str, bytes],
) -> SealStatement:
    counts = Counter(finding.outcome.value for finding in gathered.findings)
    paths = [file.item.path for file in copied]
    return SealStatement(
        day=gathered.intake.day.description.reference,
        entries=dict(ledger.counts),
        chain_head=ledger.chain_head,
        tree_root=ledger.tree_root(),
        pinned={name: digests[name] for name in layout.PINNED_BY_SEAL},
        findings={outcome.value: counts[outcome.value] for outcome in Outcome},
        rule_set_entry=paths.index(layout.OFFICE_RULES) if gathered.rules is not None else None,
        claimed_time=order.claimed_time,
        signing_certificate=fingerprint(order.signer.certificate),
        time_stamp_required=order.time_stamp is not None,
        previous=order.previous,
        versions=current_versions(),
    )


def _sign(order: SealOrder, statement: SealStatement, tags: _TagFiles) -> datetime | None:
    """Sign the statement and have the signature time stamped; returns the stamped time."""
    content = statement.to_bytes()
    signature = sign_detached(
        content,
        key=order.signer.key,
        certificate=order.signer.certificate,
        intermediates=order.signer.chain,
    )
    tags.add(layout.STATEMENT, content)
    tags.add(layout.SIGNATURE, signature)
    if order.time_stamp is None:
        return None
    response = order.time_stamp(signature)
    token = parse_token(response, path=layout.TOKEN)
    require_imprint(token, signature)
    require_claim_before(token, order.claimed_time)
    tags.add(layout.TOKEN, response)
    return token.gen_time


def _close_bag(
    gathered: Gathered, order: SealOrder, copied: Sequence[CopiedFile], tags: _TagFiles
) -> None:
    tags.add(
        layout.MANIFEST,
        manifest({layout.DATA + file.item.path: file.sha256 for file in copied}),
    )
    tags.add(
        layout.BAG_INFO,
        bag_info(
            top=gathered.intake.day.description.reference,
            payload_bytes=gathered.total_bytes,
            payload_files=len(copied),
            bagging_date=order.claimed_time.date().isoformat(),
        ),
    )
    tags.add(layout.BAGIT, BAGIT_TXT)
    tags.add(layout.TAG_MANIFEST, manifest(tags.digests))
