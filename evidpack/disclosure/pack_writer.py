"""Writing one pack: payload, proof, index, statement, signature, token, bag, in this order."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import BinaryIO

from evidpack import __version__
from evidpack.container import layout
from evidpack.container.bag import BAGIT_TXT, bag_info, manifest
from evidpack.container.zip_writer import Written, ZipWriter
from evidpack.disclosure.decisions import Decisions
from evidpack.disclosure.earlier import EarlierPack
from evidpack.disclosure.plan import (
    Plan,
    Revealed,
)
from evidpack.disclosure.redacted_stills import RedactedStill
from evidpack.disclosure.sealed_bundle import SealedBundle
from evidpack.disclosure.targets import Encrypted
from evidpack.disclosure.verify_text import pack_verify_text
from evidpack.model.findings import Finding
from evidpack.proof.accounting import Became, count_outcomes
from evidpack.proof.canonical import canonical_bytes
from evidpack.proof.digests import sha256
from evidpack.proof.disclosure_statement import (
    DisclosureStatement,
    EarlierVerification,
    pack_reference,
)
from evidpack.proof.pack_parts import OpenedField, PackOpening, leaves_text, tiles_text
from evidpack.sealing.order import Signer
from evidpack.trust.cms import sign_detached
from evidpack.trust.fingerprints import fingerprint
from evidpack.trust.timestamps import parse_token, require_claim_before, require_imprint
from evidpack.verifying.revealed_rows import Row, rendered_rows
from evidpack.verifying.versions import current_versions


@dataclass(frozen=True, slots=True, kw_only=True)
class PackFacts:
    """What the index of a pack is made from, besides the pack's own data.

    `contents` is the digest over all files that stand before the index and their names, from which the
    acknowledgement code is derived.
    """

    bundle: SealedBundle
    decisions: Decisions
    plan: Plan
    stills: Sequence[RedactedStill]
    order: PackOrder
    reference: str
    issue: int
    contents: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class PackOrder:
    """How to disclose, apart from what.

    `index` makes the pack's index.  `time_stamp` takes the signature's bytes and returns the
    authority's response, or is None.  `claimed_time` is aware, in whole seconds.  `random` is a
    source of secret bytes.  `release_log` is the digest of the log's last line.  `before_publishing`
    is called when all is made and verified, and nothing stands under the name yet: what it raises
    stops the pack.  `given_up` is called with the error where after that no pack was published.
    """

    signer: Signer
    claimed_time: datetime
    random: Callable[[int], bytes]
    index: Callable[[PackFacts], bytes]
    time_stamp: Callable[[bytes], bytes] | None = None
    verification: EarlierVerification | None = None
    release_log: bytes | None = None
    earlier: EarlierPack | None = None
    before_publishing: Callable[[MadePack], None] = lambda made: None  # noqa: ARG005
    given_up: Callable[[BaseException], None] = lambda error: None  # noqa: ARG005


@dataclass(frozen=True, slots=True, kw_only=True)
class MadePack:
    """What was made. `sha256` is that of the plain pack, hex; `plan` what it holds; `encrypted` is
    None where only the plain form was wanted; `redaction_findings` are those of check 19."""

    statement: DisclosureStatement
    statement_sha256: str
    sha256: str
    size: int
    plan: Plan
    contents: bytes
    encrypted: Encrypted | None
    redaction_findings: Sequence[Finding]


class PackWriter:
    """Writes one pack; keeps the digests of what was written."""

    def __init__(
        self,
        bundle: SealedBundle,
        decisions: Decisions,
        order: PackOrder,
        plan: Plan,
        stills: Sequence[RedactedStill],
    ) -> None:
        self._bundle = bundle
        self._decisions = decisions
        self._order = order
        self._plan = plan
        self._stills = stills
        self._issue = 1 if order.earlier is None else order.earlier.issue + 1
        self._reference = pack_reference(self._issue, order.random(6))
        self._payload: dict[str, Written] = {}
        self._tags: dict[str, bytes] = {}

    def write(self, stream: BinaryIO) -> tuple[DisclosureStatement, bytes]:
        """The whole archive; returns the statement and the digest of what precedes the index."""
        with ZipWriter(stream, self._reference) as self._archive:
            written = self._write_all()
            self._archive.finish()
        return written

    def _write_all(self) -> tuple[DisclosureStatement, bytes]:
        self._write_payload()
        self._write_proof()
        contents = self._contents()
        facts = PackFacts(
            bundle=self._bundle,
            decisions=self._decisions,
            plan=self._plan,
            stills=self._stills,
            order=self._order,
            reference=self._reference,
            issue=self._issue,
            contents=contents,
        )
        self._tag(layout.INDEX, self._order.index(facts))
        self._tag(
            layout.VERIFY,
            pack_verify_text(
                reference=self._reference,
                origin_token=self._bundle.token is not None,
                time_stamp=self._order.time_stamp is not None,
            ),
        )
        bag = self._bag_info()
        statement = self._statement(bag)
        self._sign(statement)
        self._close(bag)
        return statement, contents

    def _contents(self) -> bytes:
        """The digest of what precedes the index. With the folder's random name, since the same may
        be disclosed to two recipients, and each is to have a code of their own."""
        digests = self._digests().items()
        return sha256(canonical_bytes({f"{self._reference}/{n}": d.hex() for n, d in digests}))

    def _digests(self) -> dict[str, bytes]:
        return {name: one.sha256 for name, one in self._payload.items()} | self._tags

    def _write_payload(self) -> None:
        """Files under data/ by name: originals copied from the bundle, the rest from memory."""
        small = rendered_rows(_rows(self._plan.revealed))
        small |= {layout.exhibit_picture(one.exhibit): one.png for one in self._stills}
        originals = {
            layout.DATA + str(one.values["path"]): str(one.values["path"])
            for one in self._plan.revealed
            if one.line.kind == "file" and one.line.became is Became.RELEASED
        }
        for name in sorted(small.keys() | originals.keys()):
            if name in small:
                written = self._archive.add_bytes(name, small[name])
            else:
                source, size = self._bundle.open_file(originals[name])
                written = self._archive.add_stream(name, size, source)
            self._payload[name] = written

    def _write_proof(self) -> None:
        bundle, plan = self._bundle, self._plan
        self._tag(layout.ORIGIN_STATEMENT, bundle.statement_bytes)
        self._tag(layout.ORIGIN_SIGNATURE, bundle.signature)
        if bundle.token is not None:
            self._tag(layout.ORIGIN_TOKEN, bundle.token)
        self._tag(layout.DISCLOSURE_LEAVES, leaves_text(bundle.leaves))
        self._tag(layout.DISCLOSURE_ACCOUNTING, _lines(one.to_bytes() for one in plan.lines))
        self._tag(layout.DISCLOSURE_ENTRIES, _lines(one.proved.line for one in plan.revealed))
        self._tag(
            layout.DISCLOSURE_OPENINGS, _lines(_opening(one).to_bytes() for one in plan.revealed)
        )
        if self._stills:
            self._tag(
                layout.DISCLOSURE_REDACTIONS, _lines(one.record.to_bytes() for one in self._stills)
            )
        tiles = {layout.exhibit_tiles(one.exhibit): one for one in self._stills}
        for name in sorted(tiles):
            self._tag(name, tiles_text(tiles[name].salts, tiles[name].closed))

    def _tag(self, name: str, data: bytes) -> None:
        self._tags[name] = self._archive.add_bytes(name, data).sha256

    def _bag_info(self) -> bytes:
        return bag_info(
            top=self._reference,
            payload_bytes=sum(one.size for one in self._payload.values()),
            payload_files=len(self._payload),
            bagging_date=self._order.claimed_time.date().isoformat(),
        )

    def _statement(self, bag: bytes) -> DisclosureStatement:
        case, order, plan = self._decisions.case, self._order, self._plan
        pinned = self._digests()
        pinned |= {layout.BAG_INFO: sha256(bag), layout.BAGIT: sha256(BAGIT_TXT)}
        return DisclosureStatement(
            pack=self._reference,
            day=self._bundle.statement.day,
            origin=self._bundle.statement_sha256,
            case=case.case,
            recipient=case.recipient,
            issue=self._issue,
            previous=None if order.earlier is None else order.earlier.statement,
            decided_by=case.decided_by,
            decided_at=case.decided_at,
            accounting=count_outcomes(plan.lines),
            exhibits=plan.next_exhibit - 1,
            pinned=pinned,
            release_log=order.release_log,
            verification=order.verification,
            claimed_time=order.claimed_time,
            signing_certificate=fingerprint(order.signer.certificate),
            time_stamp_required=order.time_stamp is not None,
            versions={"evidpack": __version__, "pillow": current_versions()["pillow"]},
        )

    def _sign(self, statement: DisclosureStatement) -> None:
        content, order = statement.to_bytes(), self._order
        signature = sign_detached(
            content,
            key=order.signer.key,
            certificate=order.signer.certificate,
            intermediates=order.signer.chain,
        )
        self._tag(layout.DISCLOSURE_STATEMENT, content)
        self._tag(layout.DISCLOSURE_SIGNATURE, signature)
        if order.time_stamp is None:
            return
        response = order.time_stamp(signature)
        token = parse_token(response, path=layout.DISCLOSURE_TOKEN)
        require_imprint(token, signature)
        require_claim_before(token, order.claimed_time)
        self._tag(layout.DISCLOSURE_TOKEN, response)

    def _close(self, bag: bytes) -> None:
        payload = {name: one.sha256 for name, one in self._payload.items()}
        self._tag(layout.MANIFEST, manifest(payload))
        self._tag(layout.BAG_INFO, bag)
        self._tag(layout.BAGIT, BAGIT_TXT)
        self._tag(layout.TAG_MANIFEST, manifest(self._tags))


def _lines(lines: Iterable[bytes]) -> bytes:
    return b"".join(line + b"\n" for line in lines)


def _rows(revealed: Iterable[Revealed]) -> Iterable[Row]:
    for one in revealed:
        if one.line.kind != "file":
            yield Row(
                entry=one.number,
                exhibit=one.line.exhibit or 0,
                opened=one.opened,
                closed=one.line.closed,
            )


def _opening(one: Revealed) -> PackOpening:
    return PackOpening(
        entry=one.number,
        fields={
            name: OpenedField(salt=one.proved.salts[name], value=value)
            for name, value in one.opened.items()
        },
    )
