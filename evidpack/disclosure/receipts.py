"""Receipts that a recipient with a signing key signs (docs/release-log.md).

The receipt is canonical JSON; the recipient signs exactly these bytes with `openssl cms -sign
-binary` or any other program that makes a detached CMS signature (RFC 5652).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Final

from cryptography import x509

from evidpack.errors import ProofError
from evidpack.proof.canonical import canonical_bytes, parse_canonical
from evidpack.proof.members import Members
from evidpack.proof.statement import FORMAT_VERSION
from evidpack.trust.cms import Signature, parse_signature, require_signature, require_signer

if TYPE_CHECKING:
    from evidpack.disclosure.release_lines import Release

TYPE: Final = "receipt"
MAX_RECEIPT_BYTES: Final = 16_384


@dataclass(frozen=True, slots=True, kw_only=True)
class Receipt:
    """What a recipient signs: which pack they have (SHA-256 of the plain pack), and since when."""

    pack: bytes
    case: str
    recipient: str
    issue: int
    received_by: str
    received_at: datetime

    def to_bytes(self) -> bytes:
        """The canonical JSON to be signed, without line feed."""
        return canonical_bytes(
            {
                "case": self.case,
                "issue": self.issue,
                "pack": self.pack.hex(),
                "received_at": self.received_at.isoformat(),
                "received_by": self.received_by,
                "recipient": self.recipient,
                "type": TYPE,
                "version": FORMAT_VERSION,
            }
        )


def receipt_of(content: bytes, *, path: str) -> Receipt:
    """Read a receipt strictly. Raises ProofError with path."""
    if len(content) > MAX_RECEIPT_BYTES:
        raise ProofError(
            "the receipt is too large",
            path=path,
            expected=f"at most {MAX_RECEIPT_BYTES} bytes",
            observed=f"{len(content)} bytes",
        )
    members = Members(parse_canonical(content, path=path), path=path, where="the receipt")
    members.choice("type", (TYPE,))
    if members.integer("version") != FORMAT_VERSION:
        raise members.wrong("version", f"version {FORMAT_VERSION}")
    found = Receipt(
        pack=members.digest("pack"),
        case=members.text("case"),
        recipient=members.text("recipient"),
        issue=members.integer("issue"),
        received_by=members.text("received_by"),
        received_at=members.time("received_at"),
    )
    members.finish()
    return found


def check_receipt(
    content: bytes,
    signature: bytes,
    *,
    releases: Sequence[Release],
    anchors: Sequence[x509.Certificate],
    at: datetime,
    path: str,
) -> tuple[Receipt, Release, Signature]:
    """A signed receipt: what it says, the release it is for, and the signature that was checked.

    `anchors` are certificates trusted for recipients, with the path judged at the time `at`; without
    any, the signature is checked but who signed is not established.

    Raises ProofError where the receipt is malformed or for no pack of the log, or says otherwise
    than the log; TrustError where the signature or its path does not hold.
    """
    receipt = receipt_of(content, path=path)
    parsed = parse_signature(signature, path=path)
    require_signature(parsed, content)
    if anchors:
        require_signer(parsed, anchors, at=at)
    matching = [release for release in releases if release.pack == receipt.pack]
    if not matching:
        raise ProofError(
            "the receipt is for a pack that the release log does not have",
            path=path,
            expected="the SHA-256 of a pack in the log",
            observed=receipt.pack.hex(),
        )
    release = matching[-1]
    said = (receipt.case, receipt.recipient, receipt.issue)
    logged = (release.case, release.recipient, release.issue)
    if said != logged:
        raise ProofError(
            "the receipt says otherwise than the release log",
            path=path,
            expected=f"case {logged[0]}, recipient {logged[1]}, issue {logged[2]}",
            observed=f"case {said[0]}, recipient {said[1]}, issue {said[2]}",
        )
    return receipt, release, parsed
