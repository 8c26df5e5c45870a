"""What the demonstration authority issues: roots, an intermediate, a signer, a time-stamper.

Everything says “demonstration” in its name and vouches for nobody.  Given the same keys and the
same time the certificates are the same, byte for byte (deterministic ECDSA, RFC 6979).
"""

from __future__ import annotations

import datetime as dt
import hashlib
from dataclasses import dataclass
from typing import Final

from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from evidpack.trust.algorithms import digest_for
from evidpack.trust.keys import private_key_pem
from evidpack.trust.usages import (
    SIGNING_PURPOSES,
    TIME_STAMPING_PURPOSES,
    key_usage,
    signing_key_usage,
)

ROOT_VALIDITY: Final = dt.timedelta(days=3_650)
END_VALIDITY: Final = dt.timedelta(days=1_095)


@dataclass(frozen=True, slots=True, kw_only=True)
class Holder:
    """A certificate with its private key."""

    certificate: x509.Certificate
    key: ec.EllipticCurvePrivateKey

    @property
    def certificate_pem(self) -> bytes:
        """The certificate as PEM."""
        return self.certificate.public_bytes(Encoding.PEM)

    def key_pem(self, passphrase: bytes) -> bytes:
        """The private key as encrypted PKCS #8 PEM."""
        return private_key_pem(self.key, passphrase)


def issue_root(name: str, start: dt.datetime, key: ec.EllipticCurvePrivateKey) -> Holder:
    """A self-signed authority."""
    subject = _name(name)
    builder = _builder(subject, subject, key, start, ROOT_VALIDITY)
    builder = _as_authority(builder, path_length=1)
    builder = _key_identifiers(builder, key, key)
    return Holder(certificate=_signed(builder, key), key=key)


def issue_intermediate(
    issuer: Holder, start: dt.datetime, key: ec.EllipticCurvePrivateKey
) -> Holder:
    """An authority below the root that may issue end certificates only."""
    subject = _name("Demonstration intermediate authority, vouches for nobody")
    builder = _builder(subject, issuer.certificate.subject, key, start, ROOT_VALIDITY)
    builder = _as_authority(builder, path_length=0)
    builder = _key_identifiers(builder, key, issuer.key)
    return Holder(certificate=_signed(builder, issuer.key), key=key)


def issue_signer(
    issuer: Holder, name: str, start: dt.datetime, key: ec.EllipticCurvePrivateKey
) -> Holder:
    """A signing certificate with the usage and purposes that a seal needs."""
    subject = _name(f"{name} (demonstration)")
    builder = _builder(subject, issuer.certificate.subject, key, start, END_VALIDITY)
    builder = _as_end(builder, signing_key_usage())
    builder = builder.add_extension(x509.ExtendedKeyUsage(SIGNING_PURPOSES), critical=False)
    builder = _key_identifiers(builder, key, issuer.key)
    return Holder(certificate=_signed(builder, issuer.key), key=key)


def issue_time_stamper(
    issuer: Holder, start: dt.datetime, key: ec.EllipticCurvePrivateKey
) -> Holder:
    """A time-stamp certificate: timeStamping alone, critical (RFC 3161 §2.3)."""
    subject = _name("Demonstration time-stamp authority")
    builder = _builder(subject, issuer.certificate.subject, key, start, ROOT_VALIDITY)
    builder = _as_end(builder, key_usage("digitalSignature"))
    builder = builder.add_extension(x509.ExtendedKeyUsage(TIME_STAMPING_PURPOSES), critical=True)
    builder = _key_identifiers(builder, key, issuer.key)
    return Holder(certificate=_signed(builder, issuer.key), key=key)


def _name(common: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, common)])


def _builder(
    subject: x509.Name,
    issuer: x509.Name,
    key: ec.EllipticCurvePrivateKey,
    start: dt.datetime,
    validity: dt.timedelta,
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(serial_number(key))
        .not_valid_before(start)
        .not_valid_after(start + validity)
    )


def serial_number(key: ec.EllipticCurvePrivateKey) -> int:
    """A positive number of at most 127 bits from the digest of the public key."""
    encoded = key.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    return (int.from_bytes(hashlib.sha256(encoded).digest()[:16], "big") >> 1) | 1


def _as_authority(builder: x509.CertificateBuilder, *, path_length: int) -> x509.CertificateBuilder:
    constraints = x509.BasicConstraints(ca=True, path_length=path_length)
    return builder.add_extension(constraints, critical=True).add_extension(
        key_usage("keyCertSign", "cRLSign"), critical=True
    )


def _as_end(builder: x509.CertificateBuilder, usage: x509.KeyUsage) -> x509.CertificateBuilder:
    constraints = x509.BasicConstraints(ca=False, path_length=None)
    return builder.add_extension(constraints, critical=True).add_extension(usage, critical=True)


def _key_identifiers(
    builder: x509.CertificateBuilder,
    key: ec.EllipticCurvePrivateKey,
    issuer_key: ec.EllipticCurvePrivateKey,
) -> x509.CertificateBuilder:
    own = x509.SubjectKeyIdentifier.from_public_key(key.public_key())
    issuers = x509.AuthorityKeyIdentifier.from_issuer_public_key(issuer_key.public_key())
    return builder.add_extension(own, critical=False).add_extension(issuers, critical=False)


def _signed(builder: x509.CertificateBuilder, key: ec.EllipticCurvePrivateKey) -> x509.Certificate:
    # Deterministic ECDSA (RFC 6979).
    return builder.sign(key, digest_for(key), ecdsa_deterministic=True)
