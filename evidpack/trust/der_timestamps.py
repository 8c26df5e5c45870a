"""The structures of time-stamp requests, tokens and responses (RFC 3161, RFC 5816).

As in der: what is not declared here cannot be present.
"""

from __future__ import annotations

from typing import Annotated

from cryptography.hazmat import asn1

from evidpack.trust.der import (
    AlgorithmIdentifier,
    ContentInfo,
    GeneralizedTime,
    ObjectIdentifier,
    Tlv,
    WrittenContentInfo,
)


@asn1.sequence
class MessageImprint:
    """RFC 3161 §2.4.1."""

    hash_algorithm: AlgorithmIdentifier
    hashed_message: bytes


@asn1.sequence
class Extension:
    """RFC 5280 §4.1."""

    kind: ObjectIdentifier
    critical: Annotated[bool, asn1.Default(value=False)]
    value: bytes


@asn1.sequence
class TimeStampRequest:
    """RFC 3161 §2.4.1."""

    version: int
    imprint: MessageImprint
    policy: ObjectIdentifier | None
    nonce: int | None
    certificates_wanted: Annotated[bool, asn1.Default(value=False)]
    extensions: Annotated[list[Extension] | None, asn1.Implicit(0)]


@asn1.sequence
class Accuracy:
    """RFC 3161 §2.4.2."""

    seconds: int | None
    millis: Annotated[int | None, asn1.Implicit(0)]
    micros: Annotated[int | None, asn1.Implicit(1)]


@asn1.sequence
class TimeStampInfo:
    """RFC 3161 §2.4.2 (TSTInfo). ``authority`` may be a directory name or a URI."""

    version: int
    policy: ObjectIdentifier
    imprint: MessageImprint
    serial_number: int
    gen_time: GeneralizedTime
    accuracy: Accuracy | None
    ordering: Annotated[bool, asn1.Default(value=False)]
    nonce: int | None
    authority: Annotated[
        Annotated[Tlv, asn1.Explicit(4)] | Annotated[asn1.IA5String, asn1.Implicit(6)] | None,
        asn1.Explicit(0),
    ]
    extensions: Annotated[list[Extension] | None, asn1.Implicit(1)]


@asn1.sequence
class PkiStatusInfo:
    """RFC 3161 §2.4.2."""

    status: int
    texts: list[str] | None
    failure: asn1.BitString | None


@asn1.sequence
class TimeStampResponse:
    """RFC 3161 §2.4.2, as read: the token is kept as ContentInfo."""

    status: PkiStatusInfo
    token: ContentInfo | None


@asn1.sequence
class WrittenTimeStampResponse:
    """TimeStampResp around a token that is already DER."""

    status: PkiStatusInfo
    token: Tlv


@asn1.sequence
class SortedTimeStampResponse:
    """TimeStampResp whose token's certificates are sorted by the encoder."""

    status: PkiStatusInfo
    token: WrittenContentInfo


@asn1.sequence
class IssuerSerial:
    """RFC 5035 §5."""

    issuer: list[Tlv]
    serial_number: int


@asn1.sequence
class EssCertificateId:
    """RFC 2634 §5.4.1 (ESSCertID: SHA-1)."""

    digest: bytes
    issuer_serial: IssuerSerial | None


@asn1.sequence
class EssCertificateIdV2:
    """RFC 5035 §4 (ESSCertIDv2); no algorithm means SHA-256."""

    algorithm: AlgorithmIdentifier | None
    digest: bytes
    issuer_serial: IssuerSerial | None


@asn1.sequence
class SigningCertificate:
    """RFC 2634 §5.4."""

    certificates: list[EssCertificateId]
    policies: list[Tlv] | None


@asn1.sequence
class SigningCertificateV2:
    """RFC 5035 §3."""

    certificates: list[EssCertificateIdV2]
    policies: list[Tlv] | None
