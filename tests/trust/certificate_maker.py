"""Certificates of any kind, good and bad, for tests. Names are invented."""

from __future__ import annotations

import datetime as dt
import functools
from collections.abc import Iterable
from dataclasses import dataclass

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.hazmat.primitives.serialization import Encoding
from cryptography.x509.oid import ExtendedKeyUsageOID as Purpose
from cryptography.x509.oid import NameOID, ObjectIdentifier

DOCUMENT_SIGNING = ObjectIdentifier("1.3.6.1.5.5.7.3.36")  # RFC 9336
SIGNING = (DOCUMENT_SIGNING, Purpose.EMAIL_PROTECTION)
STAMPING = (Purpose.TIME_STAMPING,)
NOW = dt.datetime(2026, 5, 14, 16, 0, tzinfo=dt.UTC)
DAY = dt.timedelta(days=1)
Key = ec.EllipticCurvePrivateKey | rsa.RSAPrivateKey


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A certificate with its key."""

    certificate: x509.Certificate
    key: Key

    @property
    def der(self) -> bytes:
        return self.certificate.public_bytes(Encoding.DER)

    @property
    def pem(self) -> bytes:
        return self.certificate.public_bytes(Encoding.PEM)


def ec_key(curve: ec.EllipticCurve | None = None) -> ec.EllipticCurvePrivateKey:
    return ec.generate_private_key(curve or ec.SECP256R1())


@functools.cache
def rsa_key(bits: int, number: int = 0) -> rsa.RSAPrivateKey:
    """One key for each size and number, since making them is slow."""
    return rsa.generate_private_key(public_exponent=65537, key_size=bits)


def name(common: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, common)])


def usage_bits(*names: str) -> x509.KeyUsage:
    fields = (
        "digital_signature",
        "content_commitment",
        "key_encipherment",
        "data_encipherment",
        "key_agreement",
        "key_cert_sign",
        "crl_sign",
        "encipher_only",
        "decipher_only",
    )
    return x509.KeyUsage(**{field: field in names for field in fields})


def make(
    common: str = "Thistlemoor Roads Unit",
    *,
    issuer: Made | None = None,
    issuer_name: x509.Name | None = None,
    key: Key | None = None,
    ca: bool | None = False,
    path_length: int | None = None,
    usage: Iterable[str] | None = ("digital_signature", "content_commitment"),
    purposes: Iterable[ObjectIdentifier] | None = SIGNING,
    purposes_critical: bool = False,
    start: dt.datetime = NOW - 30 * DAY,
    end: dt.datetime = NOW + 300 * DAY,
    digest: hashes.HashAlgorithm | None = None,
    extra: Iterable[tuple[x509.ExtensionType, bool]] = (),
    serial: int | None = None,
) -> Made:
    """One certificate; without an issuer it is self-signed."""
    key = key or ec_key()
    signing_key = issuer.key if issuer else key
    subject = name(common)
    builder = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer_name or (issuer.certificate.subject if issuer else subject))
        .public_key(key.public_key())
        .serial_number(serial or x509.random_serial_number())
        .not_valid_before(start)
        .not_valid_after(end)
    )
    own = x509.SubjectKeyIdentifier.from_public_key(key.public_key())
    above = x509.AuthorityKeyIdentifier.from_issuer_public_key(signing_key.public_key())
    builder = builder.add_extension(own, critical=False).add_extension(above, critical=False)
    if ca is not None:
        constraints = x509.BasicConstraints(ca=ca, path_length=path_length)
        builder = builder.add_extension(constraints, critical=True)
    if usage is not None:
        builder = builder.add_extension(usage_bits(*usage), critical=True)
    if purposes is not None:
        eku = x509.ExtendedKeyUsage(list(purposes))
        builder = builder.add_extension(eku, critical=purposes_critical)
    for value, critical in extra:
        builder = builder.add_extension(value, critical=critical)
    certificate = builder.sign(signing_key, digest or hashes.SHA256())  # type: ignore[arg-type]
    return Made(certificate=certificate, key=key)


def authority(
    common: str = "Invented County Root",
    *,
    issuer: Made | None = None,
    key: Key | None = None,
    path_length: int | None = None,
    usage: Iterable[str] | None = ("key_cert_sign", "crl_sign"),
    purposes: Iterable[ObjectIdentifier] | None = None,
    start: dt.datetime = NOW - 300 * DAY,
    end: dt.datetime = NOW + 3000 * DAY,
    digest: hashes.HashAlgorithm | None = None,
    extra: Iterable[tuple[x509.ExtensionType, bool]] = (),
) -> Made:
    """An authority's certificate: a root, or under ``issuer``."""
    return make(
        common,
        issuer=issuer,
        key=key,
        ca=True,
        path_length=path_length,
        usage=usage,
        purposes=purposes,
        start=start,
        end=end,
        digest=digest,
        extra=extra,
    )


def stamper(
    common: str = "Invented Time Office",
    *,
    issuer: Made,
    key: Key | None = None,
    purposes: Iterable[ObjectIdentifier] | None = STAMPING,
    critical: bool = True,
    usage: Iterable[str] | None = ("digital_signature",),
    start: dt.datetime = NOW - 30 * DAY,
    end: dt.datetime = NOW + 300 * DAY,
) -> Made:
    """A time-stamp authority's certificate."""
    return make(
        common,
        issuer=issuer,
        key=key,
        usage=usage,
        purposes=purposes,
        purposes_critical=critical,
        start=start,
        end=end,
    )
