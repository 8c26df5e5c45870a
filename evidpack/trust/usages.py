"""What a certificate may be used for: key usage and extended key usage (RFC 5280 §4.2.1)."""

from __future__ import annotations

import enum
from typing import Final, TypeVar

from cryptography import x509
from cryptography.x509.oid import ExtendedKeyUsageOID, ObjectIdentifier

from evidpack.errors import TrustError
from evidpack.trust.fingerprints import name_of

Kind = TypeVar("Kind", bound=x509.ExtensionType)

# RFC 9336 (documentSigning) and RFC 5280 §4.2.1.12 (emailProtection): with the first alone,
# common verifiers refuse the signature.
DOCUMENT_SIGNING: Final = ObjectIdentifier("1.3.6.1.5.5.7.3.36")
SIGNING_PURPOSES: Final = (DOCUMENT_SIGNING, ExtendedKeyUsageOID.EMAIL_PROTECTION)
TIME_STAMPING_PURPOSES: Final = (ExtendedKeyUsageOID.TIME_STAMPING,)
_PURPOSE_NAMES: Final = {
    DOCUMENT_SIGNING: "documentSigning",
    ExtendedKeyUsageOID.EMAIL_PROTECTION: "emailProtection",
    ExtendedKeyUsageOID.TIME_STAMPING: "timeStamping",
    ExtendedKeyUsageOID.SERVER_AUTH: "serverAuth",
    ExtendedKeyUsageOID.CLIENT_AUTH: "clientAuth",
    ExtendedKeyUsageOID.CODE_SIGNING: "codeSigning",
    ExtendedKeyUsageOID.OCSP_SIGNING: "OCSPSigning",
    ExtendedKeyUsageOID.ANY_EXTENDED_KEY_USAGE: "anyExtendedKeyUsage",
}
_KEY_USAGES: Final = (
    ("digital_signature", "digitalSignature"),
    ("content_commitment", "nonRepudiation"),
    ("key_encipherment", "keyEncipherment"),
    ("data_encipherment", "dataEncipherment"),
    ("key_agreement", "keyAgreement"),
    ("key_cert_sign", "keyCertSign"),
    ("crl_sign", "cRLSign"),
)
_LEAF_CRITICAL: Final = (x509.KeyUsage, x509.ExtendedKeyUsage, x509.BasicConstraints)


class Usage(enum.Enum):
    """What the certificate at the end of a path has to be good for."""

    SIGNING = "signing seals"
    TIME_STAMPING = "time stamping"


def signing_key_usage() -> x509.KeyUsage:
    """The key usage of a signing certificate: digitalSignature and nonRepudiation alone."""
    return key_usage("digitalSignature", "nonRepudiation")


def key_usage(*names: str) -> x509.KeyUsage:
    """A KeyUsage value with exactly these bits, by the names of RFC 5280 §4.2.1.3."""
    bits = {field: name in names for field, name in _KEY_USAGES}
    return x509.KeyUsage(**bits, encipher_only=False, decipher_only=False)


def require_usage(certificate: x509.Certificate, usage: Usage) -> None:
    """The certificate must be an end certificate for exactly this use.

    Signing seals: keyUsage with digitalSignature and nonRepudiation, extendedKeyUsage with
    documentSigning and emailProtection.  Time stamping: extendedKeyUsage critical and
    timeStamping alone (RFC 3161 §2.3), keyUsage, if there, for signatures only.

    Raises:
        TrustError: names the certificate and the rule that it breaks.
    """
    _require_end_certificate(certificate)
    if usage is Usage.SIGNING:
        _require_signing(certificate)
    else:
        _require_time_stamping(certificate)


def require_authority_purposes(certificate: x509.Certificate, usage: Usage) -> None:
    """An authority limited to certain purposes must be allowed the ones at hand.

    Raises:
        TrustError: its extendedKeyUsage leaves one out.
    """
    purposes = extension(certificate, x509.ExtendedKeyUsage)
    wanted = SIGNING_PURPOSES if usage is Usage.SIGNING else TIME_STAMPING_PURPOSES
    if purposes is not None and not set(wanted) <= set(purposes.value):
        raise TrustError(
            f"the authority {name_of(certificate)} may not issue certificates for {usage.value}",
            expected=f"extendedKeyUsage with {_names(wanted)}, or none",
            observed=_names(tuple(purposes.value)),
            hint="ask the authority for a certificate from its branch for this purpose",
        )


def extension(certificate: x509.Certificate, kind: type[Kind]) -> x509.Extension[Kind] | None:
    """The extension of this kind, or None."""
    try:
        return certificate.extensions.get_extension_for_class(kind)
    except x509.ExtensionNotFound:
        return None


def key_usage_names(certificate: x509.Certificate) -> tuple[str, ...] | None:
    """The bits that are set, by their RFC 5280 names; None without the extension."""
    found = extension(certificate, x509.KeyUsage)
    if found is None:
        return None
    return tuple(name for field, name in _KEY_USAGES if getattr(found.value, field))


def _require_end_certificate(certificate: x509.Certificate) -> None:
    constraints = extension(certificate, x509.BasicConstraints)
    if constraints is not None and constraints.value.ca:
        raise _wrong(certificate, "is an authority's own", "basicConstraints CA false", "CA true")
    for found in certificate.extensions:
        if found.critical and not isinstance(found.value, _LEAF_CRITICAL):
            raise _wrong(
                certificate,
                "has a critical extension that is not understood",
                "keyUsage, extendedKeyUsage and basicConstraints alone as critical",
                found.oid.dotted_string,
            )


def _require_signing(certificate: x509.Certificate) -> None:
    usages = key_usage_names(certificate)
    expected = "keyUsage digitalSignature and nonRepudiation"
    if usages is None:
        raise _wrong(certificate, "has no key usage", expected, "no keyUsage")
    if not {"digitalSignature", "nonRepudiation"} <= set(usages):
        raise _wrong(certificate, "has the wrong key usage", expected, ", ".join(usages) or "none")
    purposes = extension(certificate, x509.ExtendedKeyUsage)
    expected = f"extendedKeyUsage {_names(SIGNING_PURPOSES)}"
    if purposes is None:
        raise _wrong(certificate, "names no purpose", expected, "no extendedKeyUsage")
    if not set(SIGNING_PURPOSES) <= set(purposes.value):
        raise _wrong(certificate, "is for another purpose", expected, _names(tuple(purposes.value)))


def _require_time_stamping(certificate: x509.Certificate) -> None:
    purposes = extension(certificate, x509.ExtendedKeyUsage)
    expected = "extendedKeyUsage critical, timeStamping alone"
    if purposes is None:
        raise _wrong(certificate, "names no purpose", expected, "no extendedKeyUsage")
    if tuple(purposes.value) != TIME_STAMPING_PURPOSES:
        raise _wrong(
            certificate,
            "is for another or a second purpose",
            expected,
            _names(tuple(purposes.value)),
        )
    if not purposes.critical:
        raise _wrong(certificate, "has a purpose that is not critical", expected, "not critical")
    usages = key_usage_names(certificate)
    if usages is not None and not (
        usages and set(usages) <= {"digitalSignature", "nonRepudiation"}
    ):
        raise _wrong(
            certificate,
            "has the wrong key usage",
            "keyUsage digitalSignature, nonRepudiation or both",
            ", ".join(usages) or "none",
        )


def _names(purposes: tuple[ObjectIdentifier, ...]) -> str:
    return ", ".join(_PURPOSE_NAMES.get(purpose, purpose.dotted_string) for purpose in purposes)


def _wrong(certificate: x509.Certificate, rule: str, expected: str, observed: str) -> TrustError:
    return TrustError(
        f"the certificate of {name_of(certificate)} {rule}",
        expected=expected,
        observed=observed,
        hint="ask the authority that issued it for a certificate of the right kind, or the "
        "sender who should have signed",
    )
