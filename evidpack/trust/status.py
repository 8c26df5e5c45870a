"""What a time-stamp authority answered: granted, or why not (RFC 3161 §2.4.2)."""

from __future__ import annotations

from typing import Final

from evidpack.errors import TimeStampUnavailableError, TrustError
from evidpack.trust.der import ContentInfo
from evidpack.trust.der_timestamps import PkiStatusInfo, TimeStampResponse
from evidpack.trust.fingerprints import quoted_text

GRANTED: Final = 0
_STATUSES: Final = {
    0: "granted",
    1: "granted with modifications",
    2: "rejected",
    3: "waiting",
    4: "revocation warning",
    5: "revoked",
}
_FAILURES: Final = {
    0: "the digest algorithm is not accepted",
    2: "the request was not permitted",
    5: "the request was not understood",
    14: "its time source is not available",
    15: "the policy is not offered",
    16: "an extension is not accepted",
    17: "further information is not available",
    25: "a failure on its side",
}


def require_granted(
    response: TimeStampResponse, *, texts_allowed: bool, path: str | None
) -> ContentInfo:
    """The token of a response that was granted as asked.

    ``texts_allowed`` is for a fresh response: in a stored one a text would be a place that no
    signature covers.

    Raises:
        TimeStampUnavailableError: refused, or granted otherwise than asked.
        TrustError: a status text or failure bits beside a token.
    """
    status = response.status
    if status.status != GRANTED or response.token is None:
        raise TimeStampUnavailableError(
            "the time-stamp authority did not grant the request",
            path=path,
            expected="status granted, and a token",
            observed=_refusal(status, response.token is not None),
            hint="ask the authority, use another, or seal with --no-time-stamp",
        )
    if status.failure is not None or (status.texts is not None and not texts_allowed):
        raise TrustError(
            "the time-stamp response has words or failure bits that no signature covers",
            path=path,
            expected="status granted and nothing else",
            observed=_refusal(status, has_token=True),
            hint="treat it as altered; ask the sender for the original token",
        )
    return response.token


def _refusal(status: PkiStatusInfo, has_token: bool) -> str:
    parts = [_STATUSES.get(status.status, f"status {status.status}")]
    if status.failure is not None:
        parts += [
            _FAILURES.get(bit, f"failure bit {bit}") for bit in _set_bits(status.failure.as_bytes())
        ]
    parts += [quoted_text(text) for text in status.texts or ()]
    if not has_token:
        parts.append("no token")
    return ", ".join(parts)


def _set_bits(octets: bytes) -> list[int]:
    """The numbers of the bits that are set, the first being the highest of the first octet."""
    limit = 8 * min(len(octets), 4)
    return [bit for bit in range(limit) if octets[bit // 8] & (0x80 >> bit % 8)]
