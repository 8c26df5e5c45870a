"""The signed attribute that names the signer's certificate by digest (RFC 2634 §5.4, RFC 5035).

RFC 3161 §2.4.2 requires it of a token.  The older form names the certificate by SHA-1: it is
compared, but nothing rests on it, since issuer and serial number, the key and the path name the
certificate as well.  Only the first identifier, the signer's, is compared.
"""

from __future__ import annotations

import hashlib
from typing import Final

from cryptography.hazmat.primitives.serialization import Encoding

from evidpack.errors import TrustError
from evidpack.trust import der, der_timestamps
from evidpack.trust.algorithms import digest_name
from evidpack.trust.signed_data import SignedMessage

SIGNING_CERTIFICATE: Final = "1.2.840.113549.1.9.16.2.12"
SIGNING_CERTIFICATE_V2: Final = "1.2.840.113549.1.9.16.2.47"


def require_named_certificate(signed: SignedMessage) -> None:
    """At least one of the two attributes is there, and each names the signer's certificate.

    Raises:
        TrustError: neither is there, or one names another certificate.
    """
    named = [*_first(signed), *_second(signed)]
    if not named:
        raise TrustError(
            f"{signed.what} does not say which certificate it was signed with",
            path=signed.path,
            expected="a signed attribute signing-certificate (RFC 3161 §2.4.2)",
            observed="none",
            hint="ask the authority for a token that follows RFC 3161",
        )
    encoded = signed.certificate.public_bytes(Encoding.DER)
    for name, digest in named:
        expected = hashlib.new(name, encoded, usedforsecurity=False).digest()
        if digest != expected:
            raise TrustError(
                f"{signed.what} was signed under another certificate than the one it carries",
                path=signed.path,
                expected=f"{name} {digest.hex()}",
                observed=expected.hex(),
                hint="treat it as altered; ask the sender for the original token",
            )


def _first(signed: SignedMessage) -> list[tuple[str, bytes]]:
    value = signed.attributes.get(SIGNING_CERTIFICATE)
    if value is None:
        return []
    read = der.decode(der_timestamps.SigningCertificate, value, what=signed.what, path=signed.path)
    return [("sha1", found.digest) for found in read.certificates[:1]]


def _second(signed: SignedMessage) -> list[tuple[str, bytes]]:
    value = signed.attributes.get(SIGNING_CERTIFICATE_V2)
    if value is None:
        return []
    read = der.decode(
        der_timestamps.SigningCertificateV2, value, what=signed.what, path=signed.path
    )
    return [(_algorithm(found, signed), found.digest) for found in read.certificates[:1]]


def _algorithm(found: der_timestamps.EssCertificateIdV2, signed: SignedMessage) -> str:
    if found.algorithm is None:
        return "sha256"
    return digest_name(found.algorithm, what=signed.what, path=signed.path)
