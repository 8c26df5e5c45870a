"""Writing the demonstration authority's files."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Final

from evidpack.trust.authority import DemoAuthority

# A demonstration key is protected for show only: its passphrase lies beside it.
DEMO_PASSPHRASE: Final = b"demonstration only"


def write_demo_keys(folder: Path, *, now: datetime) -> DemoAuthority:
    """Write authority.pem, tsa-authority.pem, signer.pem, signer.key and passphrase.txt."""
    from cryptography.hazmat.primitives import serialization

    from evidpack.cli.key import write_private

    authority = DemoAuthority.create(name="Invented Demonstration", now=now)
    pem = serialization.Encoding.PEM
    for name, certificate in (
        ("authority.pem", authority.root.certificate),
        ("tsa-authority.pem", authority.time_stamp_root.certificate),
        ("signer.pem", authority.signer.certificate),
    ):
        (folder / name).write_bytes(certificate.public_bytes(pem))
    encrypted = authority.signer.key.private_bytes(
        pem,
        serialization.PrivateFormat.PKCS8,
        serialization.BestAvailableEncryption(DEMO_PASSPHRASE),
    )
    write_private(folder / "signer.key", encrypted)
    (folder / "passphrase.txt").write_bytes(DEMO_PASSPHRASE + b"\n")
    return authority
