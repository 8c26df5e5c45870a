"""DER, and the structures of signed data (RFC 5652) and certificates that we read and write.

cryptography's declarative ASN.1 is not covered by its compatibility promise, so it is used in
this module and in der_timestamps alone (docs/decisions).  It accepts DER only: definite and shortest lengths, sorted
sets, no default value written out, nothing trailing.  A field that is not declared here cannot be
present, which is how certificate revocation lists and unsigned attributes are refused.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Annotated, TypeVar

from cryptography import x509
from cryptography.hazmat import asn1

from evidpack.errors import TrustError

Structure = TypeVar("Structure")
ObjectIdentifier = x509.ObjectIdentifier
Null = asn1.Null
SetOf = asn1.SetOf
Tlv = asn1.TLV
GeneralizedTime = asn1.GeneralizedTime
UtcTime = asn1.UTCTime

SEQUENCE_TAG = b"\x30"
SET_TAG = b"\x31"
OCTET_STRING_TAG = b"\x04"
CONTEXT_ZERO_TAG = b"\xa0"
UTC_TIME_TAG = b"\x17"


@asn1.sequence
class AlgorithmIdentifier:
    """RFC 5280 §4.1.1.2. Parameters are absent or NULL; every other kind is refused."""

    algorithm: ObjectIdentifier
    parameters: Null | None


@asn1.sequence
class Attribute:
    """RFC 5652 §5.3."""

    kind: ObjectIdentifier
    values: SetOf[Tlv]


@asn1.sequence
class AttributeHolder:
    """A carrier: its content octets are the DER ``SET OF Attribute`` that a signature covers."""

    attributes: SetOf[Attribute]


@asn1.sequence
class IssuerAndSerial:
    """RFC 5652 §10.2.4; the only form of signer identifier in use here."""

    issuer: Tlv
    serial_number: int


@asn1.sequence
class SignerInfo:
    """RFC 5652 §5.3, as read. Signed attributes must be there, unsigned ones must not."""

    version: int
    identifier: IssuerAndSerial
    digest_algorithm: AlgorithmIdentifier
    signed_attributes: Tlv
    signature_algorithm: AlgorithmIdentifier
    signature: bytes


@asn1.sequence
class EncapsulatedContent:
    """RFC 5652 §5.2; ``content`` is absent in a detached signature."""

    content_type: ObjectIdentifier
    content: Annotated[bytes | None, asn1.Explicit(0)]


@asn1.sequence
class SignedData:
    """RFC 5652 §5.1, as read. The certificates are kept raw, since some authorities do not sort
    them; no revocation lists.
    """

    version: int
    digest_algorithms: SetOf[AlgorithmIdentifier]
    content: EncapsulatedContent
    certificates: Tlv
    signers: SetOf[SignerInfo]


@asn1.sequence
class ContentInfo:
    """RFC 5652 §3, holding SignedData."""

    content_type: ObjectIdentifier
    content: Annotated[SignedData, asn1.Explicit(0)]


@asn1.sequence
class WrittenSignedData:
    """SignedData as written: the encoder sorts the certificates."""

    version: int
    digest_algorithms: SetOf[AlgorithmIdentifier]
    content: EncapsulatedContent
    certificates: Annotated[SetOf[Tlv], asn1.Implicit(0)]
    signers: SetOf[SignerInfo]


@asn1.sequence
class WrittenContentInfo:
    """ContentInfo as written."""

    content_type: ObjectIdentifier
    content: Annotated[WrittenSignedData, asn1.Explicit(0)]


@asn1.sequence
class TlvPair:
    """Two elements, the second taken as it stands."""

    first: Tlv
    second: Tlv


@asn1.sequence
class TlvList:
    """A carrier for any number of elements, one after another."""

    elements: list[Tlv]


@asn1.sequence
class TbsCertificate:
    """RFC 5280 §4.1, read for the issuer's own encoding."""

    version: Annotated[int | None, asn1.Explicit(0)]
    serial_number: int
    signature: Tlv
    issuer: Tlv
    validity: Tlv
    subject: Tlv
    public_key: Tlv
    issuer_identifier: Annotated[asn1.BitString | None, asn1.Implicit(1)]
    subject_identifier: Annotated[asn1.BitString | None, asn1.Implicit(2)]
    extensions: Annotated[list[Tlv] | None, asn1.Explicit(3)]


@asn1.sequence
class CertificateParts:
    """RFC 5280 §4.1."""

    body: TbsCertificate
    algorithm: Tlv
    signature: asn1.BitString


def decode(structure: type[Structure], data: bytes, *, what: str, path: str | None) -> Structure:
    """Read exactly one structure from all of ``data``.

    Raises:
        TrustError: not DER, another structure, or something before, in or after it.
    """
    try:
        return asn1.decode_der(structure, data)
    except ValueError as error:
        raise TrustError(
            f"{what} is not in the one form that is accepted",
            path=path,
            expected="DER, no optional part that this format leaves out, nothing trailing",
            observed=str(error),
            hint="ask for the file again; it was altered, cut short or made by something else",
        ) from error


def encode(structure: object) -> bytes:
    """The DER of a structure of this module."""
    return asn1.encode_der(structure)


def element(tag: bytes, content: bytes) -> bytes:
    """One DER element (X.690 §8.1) with the shortest length."""
    size = len(content)
    if size < 0x80:
        return tag + bytes((size,)) + content
    length = size.to_bytes((size.bit_length() + 7) // 8, "big")
    return tag + bytes((0x80 | len(length),)) + length + content


def raw(tlv: Tlv) -> bytes:
    """The whole encoding of an element."""
    return element(tlv.tag_bytes, bytes(tlv.data))


def content(encoding: bytes) -> bytes:
    """What stands inside one element that is already DER."""
    return encoding[_header_size(encoding) :]


def split(content: bytes, *, what: str, path: str | None) -> tuple[bytes, ...]:
    """The elements that stand one after another in ``content``, each as its whole encoding."""
    holder = element(SEQUENCE_TAG, element(SEQUENCE_TAG, content))
    return tuple(raw(tlv) for tlv in decode(TlvList, holder, what=what, path=path).elements)


def as_tlv(encoding: bytes) -> Tlv:
    """An element that is already DER, to be put into a structure."""
    holder = element(SEQUENCE_TAG, element(SEQUENCE_TAG, encoding))
    return asn1.decode_der(TlvList, holder).elements[0]


def issuer_bytes(certificate: bytes, *, path: str | None) -> bytes:
    """The issuer's name in the certificate's own encoding."""
    parts = decode(CertificateParts, certificate, what="a certificate", path=path)
    return raw(parts.body.issuer)


def require_whole_octets(certificate: bytes) -> None:
    """The signature of a certificate must be a whole number of octets.

    The count of unused bits is not covered by that signature, and common readers ignore it: where
    the last bits happen to be zero, it could be changed without any other check failing.

    Raises:
        ValueError: it is not DER, or says that bits are unused.
    """
    parts = asn1.decode_der(CertificateParts, certificate)
    if parts.signature.padding_bits():
        raise ValueError("unused bits in the signature of the certificate")


def encode_identifier(identifier: ObjectIdentifier) -> bytes:
    """The DER of one object identifier."""
    return asn1.encode_der(identifier)


def encode_attributes(values: Mapping[str, bytes]) -> bytes:
    """The DER ``SET OF Attribute``, each kind (dotted) with one value that is already DER."""
    attributes = [
        Attribute(kind=ObjectIdentifier(kind), values=SetOf([as_tlv(value)]))
        for kind, value in values.items()
    ]
    holder = encode(AttributeHolder(attributes=SetOf(attributes)))
    return split(holder[_header_size(holder) :], what="attributes", path=None)[0]


def retagged(encoding: bytes, tag: bytes) -> Tlv:
    """The same content under another one-byte tag (IMPLICIT, X.690 §8.14)."""
    return as_tlv(tag + encoding[1:])


def _header_size(encoding: bytes) -> int:
    """How many bytes of tag and length stand before the content; the tag has one byte."""
    return 2 if encoding[1] < 0x80 else 2 + (encoding[1] & 0x7F)


def decode_time(value: bytes, *, what: str, path: str | None) -> dt.datetime:
    """RFC 5652 §11.3: UTCTime until 2049, GeneralizedTime after; always with seconds and Z."""
    if value[:1] == UTC_TIME_TAG:
        return decode(UtcTime, value, what=what, path=path).as_datetime()
    return decode(GeneralizedTime, value, what=what, path=path).as_datetime()
