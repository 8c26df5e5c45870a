"""The fingerprint sheet: handed over once, so that a verifier can tell whose key signed."""

from __future__ import annotations

import hashlib
import textwrap
from datetime import datetime

from cryptography.hazmat.primitives.asymmetric.types import PublicKeyTypes
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from evidpack.trust.fingerprints import grouped

_TEXT = """\
FINGERPRINT SHEET

Key of:  {name}
Made:    {made}

SHA-256 of the public key:

{fingerprint}

Hand this sheet over once, on paper or by voice, never together with a bundle. Whoever
verifies a bundle compares the groups above with the key fingerprint that "evidpack verify"
prints. The sheet says whose key it is; it does not say that the person is right about
anything. Anybody who holds the key and its passphrase can sign in this name: if either
may have been seen by somebody else, tell everybody who has this sheet, and make a new key.
"""


def key_fingerprint(public_key: PublicKeyTypes) -> bytes:
    """SHA-256 of the DER SubjectPublicKeyInfo (RFC 5280, section 4.1.2.7), 32 bytes.

    It stays the same when a certificate for the key is renewed.
    """
    der = public_key.public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    return hashlib.sha256(der).digest()


def fingerprint_sheet(public_key: PublicKeyTypes, *, name: str, made: datetime) -> str:
    """The sheet as plain text, to be printed."""
    lines = textwrap.wrap(grouped(key_fingerprint(public_key)), 8 * 5 - 1)
    return _TEXT.format(
        name=name,
        made=made.date().isoformat(),
        fingerprint="\n".join(f"    {line}" for line in lines),
    )
