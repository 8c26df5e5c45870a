"""Signed data and tokens with any one part changed, signed properly, for tests.

Written with the project's encoder, so a good forgery is accepted and shows that a bad one is
refused for the part that was changed.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Callable, Sequence
from typing import Any

from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, padding

from evidpack.trust import der, der_timestamps
from tests.trust.certificate_maker import NOW, Made

SHA256 = "2.16.840.1.101.3.4.2.1"
ECDSA_SHA256 = "1.2.840.10045.4.3.2"
RSA = "1.2.840.113549.1.1.1"
SIGNED_DATA = "1.2.840.113549.1.7.2"
DATA = "1.2.840.113549.1.7.1"
TST_INFO = "1.2.840.113549.1.9.16.1.4"
CONTENT_TYPE = "1.2.840.113549.1.9.3"
MESSAGE_DIGEST = "1.2.840.113549.1.9.4"
SIGNING_TIME = "1.2.840.113549.1.9.5"
NAMED_V1 = "1.2.840.113549.1.9.16.2.12"
NAMED_V2 = "1.2.840.113549.1.9.16.2.47"
Attributes = list[tuple[str, list[bytes]]]


def oid(dotted: str) -> der.ObjectIdentifier:
    return der.ObjectIdentifier(dotted)


def octets(value: bytes) -> bytes:
    return der.element(b"\x04", value)


def utc_time(moment: dt.datetime) -> bytes:
    return der.element(b"\x17", moment.strftime("%y%m%d%H%M%SZ").encode())


def algorithm(dotted: str, *, null: bool = False) -> der.AlgorithmIdentifier:
    return der.AlgorithmIdentifier(algorithm=oid(dotted), parameters=der.Null() if null else None)


def attribute_set(attributes: Attributes) -> bytes:
    """The DER SET OF Attribute."""
    made = [
        der.Attribute(kind=oid(kind), values=der.SetOf([der.as_tlv(v) for v in values]))
        for kind, values in attributes
    ]
    encoded = der.encode(der.AttributeHolder(attributes=der.SetOf(made)))
    return encoded[2:] if encoded[1] < 0x80 else encoded[2 + (encoded[1] & 0x7F) :]


def content_of(encoding: bytes) -> bytes:
    """What stands inside one element."""
    return encoding[2 if encoding[1] < 0x80 else 2 + (encoding[1] & 0x7F) :]


def parts_of(encoding: bytes) -> list[bytes]:
    """The elements inside one element."""
    return list(der.split(content_of(encoding), what="", path=None))


def put_together(parts: Sequence[bytes], tag: bytes = b"\x30") -> bytes:
    return der.element(tag, b"".join(parts))


SHA1_ECDSA = bytes.fromhex("300906072a8648ce3d0401")  # ecdsa-with-SHA1, RFC 3279 §2.2.3


def resigned_body(made: Made, body: Sequence[bytes], *, weak: bool = False) -> bytes:
    """A certificate or list with this body, signed with an EC key, with SHA-1 if ``weak``.

    The library signs nothing with SHA-1 any more, nor a list without its next update.
    """
    assert isinstance(made.key, ec.EllipticCurvePrivateKey)
    signed = put_together(body)
    digest = hashes.SHA1() if weak else hashes.SHA256()
    algorithm_der = SHA1_ECDSA if weak else bytes.fromhex("300a06082a8648ce3d040302")
    signature = made.key.sign(signed, ec.ECDSA(digest))
    return put_together([signed, algorithm_der, der.element(b"\x03", b"\0" + signature)])


def sign(made: Made, data: bytes) -> bytes:
    if isinstance(made.key, ec.EllipticCurvePrivateKey):
        return made.key.sign(data, ec.ECDSA(hashes.SHA256()))
    return made.key.sign(data, padding.PKCS1v15(), hashes.SHA256())


def plain_attributes(content: bytes, content_type: str = DATA) -> Attributes:
    attributes: Attributes = [
        (CONTENT_TYPE, [der.encode_identifier(oid(content_type))]),
        (MESSAGE_DIGEST, [octets(hashlib.sha256(content).digest())]),
    ]
    if content_type == DATA:
        attributes.append((SIGNING_TIME, [utc_time(NOW)]))
    return attributes


def signed_data(
    signer: Made,
    attributes: Attributes,
    *,
    carried: Sequence[bytes] | None = None,
    content_type: str = DATA,
    content: bytes | None = None,
    change: Callable[[Any], None] = lambda _info: None,
    sort: bool = True,
) -> bytes:
    """DER ContentInfo; ``change`` may alter the structure before it is written."""
    signed = attribute_set(attributes)
    is_ec = isinstance(signer.key, ec.EllipticCurvePrivateKey)
    certificates = list(carried) if carried is not None else [signer.der]
    if sort:
        certificates.sort()
    info = der.ContentInfo(
        content_type=oid(SIGNED_DATA),
        content=der.SignedData(
            version=1 if content_type == DATA else 3,
            digest_algorithms=der.SetOf([algorithm(SHA256)]),
            content=der.EncapsulatedContent(content_type=oid(content_type), content=content),
            certificates=der.as_tlv(der.element(b"\xa0", b"".join(certificates))),
            signers=der.SetOf(
                [
                    der.SignerInfo(
                        version=1,
                        identifier=der.IssuerAndSerial(
                            issuer=der.as_tlv(der.issuer_bytes(signer.der, path=None)),
                            serial_number=signer.certificate.serial_number,
                        ),
                        digest_algorithm=algorithm(SHA256),
                        signed_attributes=der.as_tlv(b"\xa0" + signed[1:]),
                        signature_algorithm=algorithm(ECDSA_SHA256)
                        if is_ec
                        else algorithm(RSA, null=True),
                        signature=sign(signer, signed),
                    )
                ]
            ),
        ),
    )
    change(info)
    return der.encode(info)


def first_signer(info: Any) -> Any:
    return info.content.signers.as_list()[0]


def stamp_info(message: bytes, **changed: Any) -> der_timestamps.TimeStampInfo:
    fields: dict[str, Any] = {
        "version": 1,
        "policy": oid("2.25.1"),
        "imprint": der_timestamps.MessageImprint(
            hash_algorithm=algorithm(SHA256), hashed_message=hashlib.sha256(message).digest()
        ),
        "serial_number": 7,
        "gen_time": der.GeneralizedTime(NOW),
        "accuracy": None,
        "ordering": False,
        "nonce": None,
        "authority": None,
        "extensions": None,
    }
    return der_timestamps.TimeStampInfo(**(fields | changed))


def named_v2(
    certificate: bytes, *, explicit: str | None = None, digest: bytes | None = None
) -> bytes:
    """SigningCertificateV2 with SHA-256, the algorithm written out or not."""
    named = der_timestamps.EssCertificateIdV2(
        algorithm=algorithm(explicit) if explicit else None,
        digest=digest or hashlib.sha256(certificate).digest(),
        issuer_serial=None,
    )
    return der.encode(der_timestamps.SigningCertificateV2(certificates=[named], policies=None))


def named_v1(certificate: bytes) -> bytes:
    digest = hashlib.sha1(certificate).digest()
    named = der_timestamps.EssCertificateId(digest=digest, issuer_serial=None)
    return der.encode(der_timestamps.SigningCertificate(certificates=[named], policies=None))


def response(
    token: bytes | None,
    *,
    status: int = 0,
    texts: list[str] | None = None,
    failure: bytes | None = None,
) -> bytes:
    """TimeStampResp around a token."""
    bits = None if failure is None else der_timestamps.asn1.BitString(failure, 0)
    info = der_timestamps.PkiStatusInfo(status=status, texts=texts, failure=bits)
    if token is None:
        return der.encode(der_timestamps.TimeStampResponse(status=info, token=None))
    return der.encode(der_timestamps.WrittenTimeStampResponse(status=info, token=der.as_tlv(token)))


def token(
    signer: Made,
    message: bytes,
    *,
    info: der_timestamps.TimeStampInfo | None = None,
    attributes: Attributes | None = None,
    carried: Sequence[bytes] | None = None,
    sort: bool = True,
    change: Callable[[Any], None] = lambda _info: None,
) -> bytes:
    """A granted response with a token; without ``attributes`` it has the usual ones."""
    content = der.encode(info or stamp_info(message))
    if attributes is None:
        attributes = [(NAMED_V2, [named_v2(signer.der)])]
    return response(
        signed_data(
            signer,
            plain_attributes(content, TST_INFO) + attributes,
            carried=carried,
            content_type=TST_INFO,
            content=content,
            sort=sort,
            change=change,
        )
    )
