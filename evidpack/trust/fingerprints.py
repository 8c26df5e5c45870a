"""The fingerprint and the name by which people tell one certificate from another."""

from __future__ import annotations

import hashlib

from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding

from evidpack.proof.digests import groups_of_four

LONGEST_NAME_CHARACTERS = 120


def fingerprint(certificate: x509.Certificate) -> bytes:
    """The SHA-256 of the DER certificate, 32 bytes: what ``openssl x509 -fingerprint`` shows."""
    return hashlib.sha256(certificate.public_bytes(Encoding.DER)).digest()


def grouped(digest: bytes) -> str:
    """Lower-case hex in groups of four digits, the one form in which a person compares it."""
    return groups_of_four(digest)


def name_of(certificate: x509.Certificate) -> str:
    """The subject for use in a sentence: quoted, on one line, shortened, nothing unprintable."""
    return quoted_name(certificate.subject)


def quoted_name(name: x509.Name) -> str:
    """The common name, else the whole distinguished name (RFC 4514), quoted and made printable."""
    common = name.get_attributes_for_oid(x509.NameOID.COMMON_NAME)
    text = str(common[0].value) if len(common) == 1 else name.rfc4514_string()
    return quoted_text(text or "(no name)")


def quoted_text(text: str) -> str:
    """Words from outside, made safe to print: one line, no control characters, bounded length."""
    shown = "".join(mark if mark.isprintable() else "?" for mark in text)
    if len(shown) > LONGEST_NAME_CHARACTERS:
        shown = shown[: LONGEST_NAME_CHARACTERS - 1] + "…"
    return f"“{shown}”"
