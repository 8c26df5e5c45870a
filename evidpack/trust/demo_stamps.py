"""Time stamps by the demonstration authority, made in process (RFC 3161 §2.4.2).

They have the right form and no worth: whoever runs the demonstration chooses the time.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from typing import Final

from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding

from evidpack.errors import TrustError
from evidpack.trust import der, der_timestamps
from evidpack.trust.algorithms import DIGEST_IDENTIFIERS, ECDSA_IDENTIFIERS, digest_name
from evidpack.trust.demo_certificates import Holder
from evidpack.trust.signed_data import CONTENT_TYPE, MESSAGE_DIGEST, SIGNED_DATA
from evidpack.trust.signing_certificates import SIGNING_CERTIFICATE_V2
from evidpack.trust.timestamps import TOKEN_CONTENT, TOKEN_VERSION

# An identifier under 2.25 (ITU-T X.667: any UUID), drawn for the demonstration.
DEMO_POLICY: Final = der.ObjectIdentifier("2.25.134180437052918394562917465003726117349")
_WHAT: Final = "the time-stamp request"


def stamp(request_der: bytes, *, stamper: Holder, now: dt.datetime) -> bytes:
    """A granted DER TimeStampResp for the request, with the time ``now`` (aware).

    The same request, keys and time give the same bytes.

    Raises:
        TrustError: not a request of the kind that timestamps.request makes.
    """
    asked = der.decode(der_timestamps.TimeStampRequest, request_der, what=_WHAT, path=None)
    name = digest_name(asked.imprint.hash_algorithm, what=_WHAT, path=None)
    fits = len(asked.imprint.hashed_message) == hashlib.new(name).digest_size
    plain = asked.policy is None and asked.extensions is None and asked.version == 1
    if not (fits and plain and asked.certificates_wanted):
        raise TrustError(
            "the demonstration authority answers only plain requests that want certificates",
            expected="version 1, a whole digest, certReq true, no policy, no extensions",
            observed="another request",
        )
    content = der.encode(_info(asked, request_der, now))
    token = der.encode(_token(content, stamper))
    granted = der_timestamps.PkiStatusInfo(status=0, texts=None, failure=None)
    return der.encode(
        der_timestamps.WrittenTimeStampResponse(status=granted, token=der.as_tlv(token))
    )


def _info(
    asked: der_timestamps.TimeStampRequest, request_der: bytes, now: dt.datetime
) -> der_timestamps.TimeStampInfo:
    moment = now.astimezone(dt.UTC)
    drawn = hashlib.sha256(request_der + moment.isoformat().encode()).digest()
    return der_timestamps.TimeStampInfo(
        version=1,
        policy=DEMO_POLICY,
        imprint=asked.imprint,
        serial_number=int.from_bytes(drawn[:8], "big") >> 1 | 1,
        gen_time=der.GeneralizedTime(moment),
        accuracy=der_timestamps.Accuracy(seconds=1, millis=None, micros=None),
        ordering=False,
        nonce=asked.nonce,
        authority=None,
        extensions=None,
    )


def _token(content: bytes, stamper: Holder) -> der.WrittenContentInfo:
    digest = der.AlgorithmIdentifier(algorithm=DIGEST_IDENTIFIERS["sha256"], parameters=None)
    certificate = stamper.certificate.public_bytes(Encoding.DER)
    attributes = der.encode_attributes(
        {
            CONTENT_TYPE.dotted_string: der.encode_identifier(TOKEN_CONTENT),
            MESSAGE_DIGEST.dotted_string: _octets(hashlib.sha256(content).digest()),
            SIGNING_CERTIFICATE_V2: _naming(certificate),
        }
    )
    # Deterministic ECDSA (RFC 6979).
    algorithm = ec.ECDSA(hashes.SHA256(), deterministic_signing=True)
    signer = der.SignerInfo(
        version=1,
        identifier=der.IssuerAndSerial(
            issuer=der.as_tlv(der.issuer_bytes(certificate, path=None)),
            serial_number=stamper.certificate.serial_number,
        ),
        digest_algorithm=digest,
        signed_attributes=der.retagged(attributes, der.CONTEXT_ZERO_TAG),
        signature_algorithm=der.AlgorithmIdentifier(
            algorithm=der.ObjectIdentifier(ECDSA_IDENTIFIERS["sha256"]), parameters=None
        ),
        signature=stamper.key.sign(attributes, algorithm),
    )
    return der.WrittenContentInfo(
        content_type=SIGNED_DATA,
        content=der.WrittenSignedData(
            version=TOKEN_VERSION,
            digest_algorithms=der.SetOf([digest]),
            content=der.EncapsulatedContent(content_type=TOKEN_CONTENT, content=content),
            certificates=der.SetOf([der.as_tlv(certificate)]),
            signers=der.SetOf([signer]),
        ),
    )


def _octets(value: bytes) -> bytes:
    return der.element(der.OCTET_STRING_TAG, value)


def _naming(certificate: bytes) -> bytes:
    """SigningCertificateV2 with the SHA-256 of the certificate, the default algorithm."""
    named = der_timestamps.EssCertificateIdV2(
        algorithm=None, digest=hashlib.sha256(certificate).digest(), issuer_serial=None
    )
    return der.encode(der_timestamps.SigningCertificateV2(certificates=[named], policies=None))
