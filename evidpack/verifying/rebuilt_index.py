"""The index made again from the ledger and the originals, against the sealed one (step 8)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from evidpack.container import layout
from evidpack.errors import EvidpackError
from evidpack.index.content import IndexedFile
from evidpack.intake.intake import Intake
from evidpack.limits import MAX_SIGNATURE_BYTES, MAX_STATEMENT_BYTES
from evidpack.model.findings import Finding
from evidpack.proof.digests import sha256
from evidpack.proof.entries import ordered_records
from evidpack.rules.ruleset import RuleSet
from evidpack.trust.cms import parse_signature
from evidpack.verifying.index_content import IndexFacts, index_pdf
from evidpack.verifying.ledger_walk import LedgerWalk
from evidpack.verifying.report import Fault, fault_from
from evidpack.verifying.sealed_source import SealedSource

if TYPE_CHECKING:
    from evidpack.container.archive import Archive
    from evidpack.proof.statement import SealStatement


def index_fault(
    archive: Archive,
    statement: SealStatement,
    walk: LedgerWalk,
    intake: Intake,
    rules: RuleSet | None,
    findings: Sequence[Finding],
) -> Fault | None:
    """A fault where the index made again is not the sealed one."""
    entry_of = {path: sealed.entry for path, sealed in walk.files.items()}
    signature = archive.read(layout.SIGNATURE, limit=MAX_SIGNATURE_BYTES)
    note = layout.DATA + layout.OFFICE_SEALING
    facts = IndexFacts(
        intake=intake,
        rules=rules,
        files=[
            IndexedFile(
                number=sealed.entry,
                path=path,
                kind=sealed.item_kind,
                origin=sealed.origin,
                size=sealed.size,
                modified=sealed.modified,
                sha256=sealed.sha256.hex(),
                original_name=sealed.original_name,
            )
            for path, sealed in walk.files.items()
        ],
        records=[record for _, record in ordered_records(intake.records, entry_of)],
        findings=findings,
        chain_head=statement.chain_head,
        tree_root=statement.tree_root,
        claimed_time=statement.claimed_time,
        signer=parse_signature(signature, path=layout.SIGNATURE).certificate,
        previous=statement.previous,
        time_stamp_expected=statement.time_stamp_required,
        pixel_proof=any(sealed.pixel_root is not None for sealed in walk.files.values()),
        evidpack_version=statement.versions.get("evidpack", ""),
        note=archive.read(note, limit=MAX_STATEMENT_BYTES),
    )
    try:
        again = sha256(index_pdf(facts, open_file=SealedSource(archive, walk, "export").open))
    except EvidpackError as error:
        return fault_from(error, layout.INDEX)
    sealed = statement.pinned[layout.INDEX]
    if again == sealed:
        return None
    return Fault(
        item=layout.INDEX,
        message="the index made again from the ledger is not the sealed one",
        expected=again.hex(),
        observed=sealed.hex(),
    )
