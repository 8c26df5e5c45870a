"""CMS signed data (RFC 5652) in the one form accepted here, for seals and for time stamps.

Exactly one signer, named by issuer and serial number, with signed attributes; the certificates
inside; no revocation lists and no unsigned attributes.  Fields that the signature does not cover
have one permitted value each, so that no bit of the file is free.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding

from evidpack.errors import TrustError
from evidpack.trust import der
from evidpack.trust.algorithms import (
    digest_name,
    require_key_strength,
    require_signature_algorithm,
    require_signed,
)
from evidpack.trust.certificates import certificate_from_der
from evidpack.trust.fingerprints import name_of

SIGNED_DATA: Final = der.ObjectIdentifier("1.2.840.113549.1.7.2")
DATA: Final = der.ObjectIdentifier("1.2.840.113549.1.7.1")
CONTENT_TYPE: Final = der.ObjectIdentifier("1.2.840.113549.1.9.3")
MESSAGE_DIGEST: Final = der.ObjectIdentifier("1.2.840.113549.1.9.4")
SIGNING_TIME: Final = der.ObjectIdentifier("1.2.840.113549.1.9.5")
_MAX_CARRIED_CERTIFICATES: Final = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class SignedMessage:
    """What was read. The signature itself is checked by `require_message`.

    ``attributes`` maps a dotted object identifier to the DER of its one value;
    ``signed_bytes`` is the DER SET of all of them, over which the signature is made.
    """

    what: str
    path: str | None
    certificate: x509.Certificate
    certificates: tuple[x509.Certificate, ...]
    certificates_sorted: bool
    content: bytes | None
    digest: str
    attributes: Mapping[str, bytes]
    signed_bytes: bytes
    signature: bytes
    info: der.ContentInfo

    @property
    def intermediates(self) -> tuple[x509.Certificate, ...]:
        """The carried certificates but the signer's."""
        return tuple(found for found in self.certificates if found != self.certificate)

    @property
    def signing_time(self) -> dt.datetime | None:
        """The signer's own claim (RFC 5652 §11.3), or None."""
        value = self.attributes.get(SIGNING_TIME.dotted_string)
        if value is None:
            return None
        return der.decode_time(value, what=f"{self.what}: its signing time", path=self.path)


def read_signed_data(
    info: der.ContentInfo,
    *,
    what: str,
    path: str | None,
    content_type: der.ObjectIdentifier,
    version: int,
) -> SignedMessage:
    """Take signed data apart and hold every unsigned field to its one permitted value.

    Raises:
        TrustError: anything is missing, repeated, of another form, or does not agree.
    """
    data = info.content
    signer, digest = _only_signer(
        info, what=what, path=path, content_type=content_type, version=version
    )
    carried = _carried(data, what=what, path=path)
    certificates = tuple(certificate_from_der(found, path=path) for found in carried)
    certificate = _signer(certificates, signer.identifier, what=what, path=path)
    key = require_key_strength(certificate.public_key(), whose=name_of(certificate), path=path)
    require_signature_algorithm(
        signer.signature_algorithm, key=key, digest=digest, what=what, path=path
    )
    signed_bytes, attributes = _attributes(signer.signed_attributes, what=what, path=path)
    _require(
        attributes.get(CONTENT_TYPE.dotted_string) == der.encode_identifier(content_type),
        what,
        path,
        "a signed content type equal to the outer one",
        "none or another",
    )
    return SignedMessage(
        what=what,
        path=path,
        certificate=certificate,
        certificates=certificates,
        certificates_sorted=list(carried) == sorted(carried),
        content=data.content.content,
        digest=digest,
        attributes=attributes,
        signed_bytes=signed_bytes,
        signature=signer.signature,
        info=info,
    )


def _only_signer(
    info: der.ContentInfo,
    *,
    what: str,
    path: str | None,
    content_type: der.ObjectIdentifier,
    version: int,
) -> tuple[der.SignerInfo, str]:
    """The one signer and its digest's name, once versions, types and digest algorithms are what they must be."""
    data = info.content
    found = data.content.content_type
    wanted = f"content type {content_type.dotted_string}"
    signers = data.signers.as_list()
    _require(info.content_type == SIGNED_DATA, what, path, "signed data", "another content type")
    _require(data.version == version, what, path, f"version {version}", f"{data.version}")
    _require(found == content_type, what, path, wanted, found.dotted_string)
    _require(len(signers) == 1, what, path, "one signer", f"{len(signers)}")
    signer = signers[0]
    _require(signer.version == 1, what, path, "signer version 1", f"{signer.version}")
    digest = digest_name(signer.digest_algorithm, what=what, path=path)
    listed = [der.encode(listed) for listed in data.digest_algorithms.as_list()]
    same = listed == [der.encode(signer.digest_algorithm)]
    _require(same, what, path, "one digest algorithm, the signer's", "another list")
    return signer, digest


def require_message(message: SignedMessage, content: bytes) -> None:
    """The signature must be valid and made over ``content`` (RFC 5652 §5.4, §5.6).

    This says nothing about who the signer is; see paths for that.

    Raises:
        TrustError: other content, or a signature that does not verify.
    """
    signed = message.attributes.get(MESSAGE_DIGEST.dotted_string)
    digest = hashlib.new(message.digest, content).digest()
    if signed != der.element(der.OCTET_STRING_TAG, digest):
        raise TrustError(
            f"{message.what} was made over other bytes",
            path=message.path,
            expected=f"{message.digest} {digest.hex()}",
            observed="none" if signed is None else signed[2:].hex(),
            hint="treat the file as altered or exchanged; ask the sender for the original",
        )
    require_signed(
        require_key_strength(message.certificate.public_key(), whose=name_of(message.certificate)),
        signature=message.signature,
        data=message.signed_bytes,
        digest=message.digest,
        what=message.what,
        path=message.path,
    )


def _carried(data: der.SignedData, *, what: str, path: str | None) -> tuple[bytes, ...]:
    _require(
        data.certificates.tag_bytes == der.CONTEXT_ZERO_TAG,
        what,
        path,
        "the signer's certificate inside",
        "no certificates",
    )
    carried = der.split(bytes(data.certificates.data), what=what, path=path)
    _require(
        len(carried) <= _MAX_CARRIED_CERTIFICATES,
        what,
        path,
        f"at most {_MAX_CARRIED_CERTIFICATES} certificates",
        f"{len(carried)}",
    )
    _require(
        len(set(carried)) == len(carried),
        what,
        path,
        "each certificate once",
        "the same certificate twice",
    )
    return carried


def _signer(
    certificates: tuple[x509.Certificate, ...],
    identifier: der.IssuerAndSerial,
    *,
    what: str,
    path: str | None,
) -> x509.Certificate:
    issuer = der.raw(identifier.issuer)
    found = [
        certificate
        for certificate in certificates
        if certificate.serial_number == identifier.serial_number
        and der.issuer_bytes(certificate.public_bytes(Encoding.DER), path=path) == issuer
    ]
    _require(
        len(found) == 1,
        what,
        path,
        "one certificate inside with the issuer and serial number that the signer is named by",
        f"{len(found)}",
    )
    return found[0]


def _attributes(tlv: der.Tlv, *, what: str, path: str | None) -> tuple[bytes, Mapping[str, bytes]]:
    _require(tlv.tag_bytes == der.CONTEXT_ZERO_TAG, what, path, "signed attributes", "none")
    signed_bytes = der.element(der.SET_TAG, bytes(tlv.data))
    holder = der.decode(
        der.AttributeHolder, der.element(der.SEQUENCE_TAG, signed_bytes), what=what, path=path
    )
    attributes: dict[str, bytes] = {}
    for attribute in holder.attributes.as_list():
        values = attribute.values.as_list()
        kind = attribute.kind.dotted_string
        _require(len(values) == 1, what, path, f"one value of attribute {kind}", f"{len(values)}")
        _require(kind not in attributes, what, path, f"attribute {kind} once", "twice")
        attributes[kind] = der.raw(values[0])
    return signed_bytes, attributes


def _require(holds: bool, what: str, path: str | None, expected: str, observed: str) -> None:
    if not holds:
        raise TrustError(
            f"{what} is not in the one form that is accepted",
            path=path,
            expected=expected,
            observed=observed,
            hint="ask for the file again; it was altered or made by something else",
        )
