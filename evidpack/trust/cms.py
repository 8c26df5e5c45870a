"""Detached CMS signatures over a seal statement (RFC 5652)."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding
from cryptography.hazmat.primitives.serialization.pkcs7 import PKCS7Options, PKCS7SignatureBuilder

from evidpack.errors import TrustError
from evidpack.limits import MAX_SIGNATURE_BYTES
from evidpack.trust import der
from evidpack.trust.algorithms import SigningKey, digest_for, require_key_strength
from evidpack.trust.keys import require_matching_key
from evidpack.trust.paths import require_nothing_off_path, require_path
from evidpack.trust.signed_data import DATA, SignedMessage, read_signed_data, require_message
from evidpack.trust.usages import Usage, require_usage

WHAT: Final = "the signature"


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    """A detached signature that was read but not yet checked.

    ``signing_time`` is the signer's own claim and proves nothing.
    """

    raw: bytes
    signed: SignedMessage
    signing_time: dt.datetime

    @property
    def certificate(self) -> x509.Certificate:
        """The signing certificate."""
        return self.signed.certificate

    @property
    def certificates(self) -> tuple[x509.Certificate, ...]:
        """All certificates inside, the signing certificate among them."""
        return self.signed.certificates


def sign_detached(
    content: bytes,
    *,
    key: SigningKey,
    certificate: x509.Certificate,
    intermediates: Sequence[x509.Certificate] = (),
) -> bytes:
    """A detached DER signature over ``content``, with the certificate and its intermediates.

    P-384 signs with SHA-384, other keys with SHA-256.

    Raises:
        TrustError: a weak key, a key that is not the certificate's, or a certificate that is not
            for signing seals.
    """
    require_key_strength(key.public_key())
    require_matching_key(key, certificate)
    require_usage(certificate, Usage.SIGNING)
    builder = PKCS7SignatureBuilder().set_data(content)
    builder = builder.add_signer(certificate, key, digest_for(key))
    for intermediate in intermediates:
        builder = builder.add_certificate(intermediate)
    options = [PKCS7Options.Binary, PKCS7Options.DetachedSignature]
    return builder.sign(Encoding.DER, options)


def parse_signature(data: bytes, *, path: str) -> Signature:
    """Read a detached signature in the one form that is accepted.

    Raises:
        TrustError: too large, not DER, more or less than that form allows, or bytes after it.
    """
    if len(data) > MAX_SIGNATURE_BYTES:
        raise TrustError(
            "the signature file is too large",
            path=path,
            expected=f"at most {MAX_SIGNATURE_BYTES} bytes",
            observed=f"{len(data)} bytes",
        )
    info = der.decode(der.ContentInfo, data, what=WHAT, path=path)
    signed = read_signed_data(info, what=WHAT, path=path, content_type=DATA, version=1)
    signing_time = signed.signing_time
    if signed.content is not None:
        raise _wrong(path, "a detached signature, without the content")
    if not signed.certificates_sorted:
        raise _wrong(path, "certificates in DER order")
    if signing_time is None:
        raise _wrong(path, "a signing time")
    return Signature(raw=data, signed=signed, signing_time=signing_time)


def _wrong(path: str, expected: str) -> TrustError:
    return TrustError(
        "the signature is not in the one form that is accepted",
        path=path,
        expected=expected,
        observed="another form",
        hint="ask for the file again; it was altered or made by something else",
    )


def require_signature(signature: Signature, content: bytes) -> None:
    """The signature must be valid and over ``content``. Who signed is another question.

    Raises:
        TrustError: other content, or a signature that does not verify.
    """
    require_message(signature.signed, content)


def require_signer(
    signature: Signature, anchors: Sequence[x509.Certificate], *, at: dt.datetime
) -> tuple[x509.Certificate, ...]:
    """The path from the signing certificate to one of the anchors, for signing seals, at a time.

    Every certificate in the signature must be on that path.

    Raises:
        TrustError: no such path, or a certificate beside it.
    """
    path = require_path(
        signature.certificate, signature.signed.intermediates, anchors, at=at, usage=Usage.SIGNING
    )
    require_nothing_off_path(signature.certificates, path, what=WHAT, place=signature.signed.path)
    return path
