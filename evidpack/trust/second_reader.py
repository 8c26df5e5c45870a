"""A second opinion on a time-stamp token, by rfc3161-client and the OpenSSL inside it."""

from __future__ import annotations

from collections.abc import Sequence

from cryptography import x509
from rfc3161_client import VerifierBuilder, decode_timestamp_response
from rfc3161_client.errors import VerificationError

from evidpack.errors import TrustError
from evidpack.trust import der, der_timestamps
from evidpack.trust.signed_data import SignedMessage


def require_second_reading(
    signed: SignedMessage, message: bytes, path: Sequence[x509.Certificate]
) -> None:
    """rfc3161-client must accept the token too, over ``message`` and along ``path``.

    Raises:
        TrustError: it cannot read the token or refuses it.
    """
    # All lists are given at once: the builder's adding methods share one list between builders.
    verifier = VerifierBuilder(
        tsa_certificate=path[0], intermediates=list(path[1:-1]), roots=[path[-1]]
    ).build()
    try:
        verifier.verify_message(decode_timestamp_response(sorted_response(signed)), message)
    except (ValueError, VerificationError) as error:
        raise TrustError(
            f"{signed.what} was refused by the second reader",
            path=signed.path,
            expected="two independent readers accept it",
            observed=str(error),
            hint="ask the time-stamp authority for a token that follows RFC 3161",
        ) from error


def sorted_response(signed: SignedMessage) -> bytes:
    """A granted response around the token, its certificates in DER order."""
    return der.encode(
        der_timestamps.SortedTimeStampResponse(
            status=der_timestamps.PkiStatusInfo(status=0, texts=None, failure=None),
            token=_sorted(signed.info),
        )
    )


def _sorted(info: der.ContentInfo) -> der.WrittenContentInfo:
    data = info.content
    carried = der.split(bytes(data.certificates.data), what="the time-stamp token", path=None)
    return der.WrittenContentInfo(
        content_type=info.content_type,
        content=der.WrittenSignedData(
            version=data.version,
            digest_algorithms=data.digest_algorithms,
            content=data.content,
            certificates=der.SetOf([der.as_tlv(encoding) for encoding in carried]),
            signers=data.signers,
        ),
    )
