"""The fingerprint sheet shows the digest that OpenSSL computes."""

from __future__ import annotations

import hashlib
import subprocess
from pathlib import Path

from evidpack.trust.fingerprints import grouped
from evidpack.trust.sheet import fingerprint_sheet, key_fingerprint
from tests.trust.certificate_maker import NOW, make


def test_the_key_fingerprint_is_openssls(tmp_path: Path) -> None:
    made = make()
    (tmp_path / "c").write_bytes(made.pem)
    pem = subprocess.run(
        ["openssl", "x509", "-in", tmp_path / "c", "-noout", "-pubkey"],
        check=True,
        capture_output=True,
    ).stdout
    der = subprocess.run(
        ["openssl", "pkey", "-pubin", "-outform", "DER"],
        check=True,
        capture_output=True,
        input=pem,
    ).stdout
    assert key_fingerprint(made.key.public_key()) == hashlib.sha256(der).digest()


def test_it_is_the_same_for_a_renewed_certificate_and_differs_for_another_key() -> None:
    first = make()
    renewed = make(key=first.key)
    assert first.certificate != renewed.certificate
    digests = [key_fingerprint(made.key.public_key()) for made in (first, renewed, make())]
    assert digests[0] == digests[1]
    assert digests[0] != digests[2]


def test_the_sheet_shows_name_day_and_every_group() -> None:
    key = make().key.public_key()
    sheet = fingerprint_sheet(key, name="Thistlemoor Roads Unit", made=NOW)
    assert "Key of:  Thistlemoor Roads Unit" in sheet
    assert "2026-05-14" in sheet
    assert grouped(key_fingerprint(key)) in " ".join(sheet.split())
    assert max(map(len, sheet.splitlines())) < 100
