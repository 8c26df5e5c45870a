"""Reading X.509 certificates (RFC 5280) so that none fails later, half-way through a check."""

from __future__ import annotations

import re
import warnings
from typing import Final

from cryptography import x509
from cryptography.exceptions import UnsupportedAlgorithm
from cryptography.hazmat.primitives.serialization import Encoding

from evidpack.errors import TrustError
from evidpack.limits import MAX_CERTIFICATE_BYTES, MAX_PEM_BYTES
from evidpack.trust import der
from evidpack.trust.fingerprints import name_of

_LABEL: Final = re.compile(rb"^-----BEGIN ([A-Z0-9 ]*)-----\s*$", re.MULTILINE)
_BLOCK: Final = re.compile(
    rb"^-----BEGIN CERTIFICATE-----[ \t\r]*\n(?:[A-Za-z0-9+/=]+[ \t\r]*\n)+"
    rb"-----END CERTIFICATE-----[ \t\r]*$",
    re.MULTILINE,
)
_MAX_CERTIFICATES: Final = 64
_CONVERT: Final = "openssl x509 -inform DER -in FILE -out FILE.pem"


def load_certificates(pem: bytes, *, path: str) -> tuple[x509.Certificate, ...]:
    """All certificates of a PEM file (RFC 7468), in its order; text between them is ignored.

    Raises:
        TrustError: none, too many, the same one twice, a private key or any other block, or one
            that is not a readable X.509 version 3 certificate.
    """
    _require_pem(pem, path=path)
    blocks = _BLOCK.findall(pem)
    if len(blocks) != len(_LABEL.findall(pem)):
        raise TrustError(
            "a certificate block is broken off or holds something other than base64",
            path=path,
            expected=f"{len(_LABEL.findall(pem))} complete blocks",
            observed=str(len(blocks)),
            hint="copy the file again from where it came",
        )
    found: list[x509.Certificate] = []
    for block in blocks:
        certificate = _read(block, Encoding.PEM, path=path)
        if certificate in found:
            raise TrustError(
                f"the certificate of {name_of(certificate)} stands in the file twice", path=path
            )
        found.append(certificate)
    return tuple(found)


def certificate_from_der(der: bytes, *, path: str | None) -> x509.Certificate:
    """One certificate from exactly these bytes.

    Raises:
        TrustError: too large, not DER, not version 3, or with parts that cannot be read.
    """
    return _read(der, Encoding.DER, path=path)


def _require_pem(pem: bytes, *, path: str) -> None:
    if len(pem) > MAX_PEM_BYTES:
        raise TrustError(
            "the file is too large to be a list of certificates",
            path=path,
            expected=f"at most {MAX_PEM_BYTES} bytes",
            observed=f"{len(pem)} bytes",
        )
    labels = _LABEL.findall(pem)
    if not labels:
        hint = f"convert it: {_CONVERT}" if pem[:1] == b"\x30" else "ask for the certificate as PEM"
        raise TrustError(
            "there is no certificate in this file",
            path=path,
            expected="a line “-----BEGIN CERTIFICATE-----”",
            observed="none",
            hint=hint,
        )
    for label in labels:
        if label != b"CERTIFICATE":
            raise TrustError(
                "the file holds something other than certificates",
                path=path,
                expected="CERTIFICATE blocks only",
                observed=label.decode("ascii"),
                hint="never hand over a private key; keep each kind of block in a file of its own",
            )
    if len(labels) > _MAX_CERTIFICATES:
        raise TrustError(
            "the file holds too many certificates",
            path=path,
            expected=f"at most {_MAX_CERTIFICATES}",
            observed=str(len(labels)),
        )


def _read(data: bytes, encoding: Encoding, *, path: str | None) -> x509.Certificate:
    if len(data) > MAX_CERTIFICATE_BYTES:
        raise TrustError(
            "a certificate is too large",
            path=path,
            expected=f"at most {MAX_CERTIFICATE_BYTES} bytes",
            observed=f"{len(data)} bytes",
        )
    try:
        with warnings.catch_warnings():
            # What the library only warns about, a verifier must not pass over.
            warnings.simplefilter("error")
            if encoding is Encoding.PEM:
                certificate = x509.load_pem_x509_certificate(data)
            else:
                certificate = x509.load_der_x509_certificate(data)
            _touch(certificate)
    except (ValueError, TypeError, UnsupportedAlgorithm, Warning) as error:
        raise _unreadable(error, path) from error
    except (x509.DuplicateExtension, x509.InvalidVersion, x509.UnsupportedGeneralNameType) as error:
        raise _unreadable(error, path) from error
    return certificate


def _touch(certificate: x509.Certificate) -> None:
    """Parse every part now: the library reads most of them only when they are asked for."""
    der.require_whole_octets(certificate.public_bytes(Encoding.DER))
    if certificate.version is not x509.Version.v3:
        raise ValueError(f"X.509 {certificate.version.name}, not version 3")
    certificate.public_key()
    _ = certificate.extensions
    _ = (certificate.subject.rfc4514_string(), certificate.issuer.rfc4514_string())
    _ = (certificate.not_valid_before_utc, certificate.not_valid_after_utc)
    _ = (certificate.signature_hash_algorithm, certificate.signature_algorithm_parameters)


def _unreadable(error: BaseException, path: str | None) -> TrustError:
    return TrustError(
        "a certificate cannot be read",
        path=path,
        expected="an X.509 version 3 certificate in DER",
        observed=str(error),
        hint="ask the authority that issued it for a new copy",
    )
