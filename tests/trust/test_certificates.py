"""Certificates are read whole or refused with the reason."""

from __future__ import annotations

import contextlib
import random
import subprocess
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from hypothesis import given
from hypothesis import strategies as st

from evidpack.errors import TrustError
from evidpack.limits import MAX_CERTIFICATE_BYTES, MAX_PEM_BYTES
from evidpack.trust import der
from evidpack.trust.certificates import certificate_from_der, load_certificates
from evidpack.trust.fingerprints import fingerprint, grouped, name_of, quoted_text
from tests.trust.certificate_maker import Made, authority, ec_key, make
from tests.trust.forging import parts_of, put_together

GOOD = make()


def refused(pem: bytes) -> TrustError:
    with pytest.raises(TrustError) as caught:
        load_certificates(pem, path="anchor.pem")
    assert caught.value.path == "anchor.pem"
    return caught.value


def test_certificates_come_in_the_order_of_the_file(root: Made, branch: Made) -> None:
    pem = b"some words\nsubject=CN\n" + branch.pem + b"more words\n" + root.pem
    assert load_certificates(pem, path="p") == (branch.certificate, root.certificate)


@pytest.mark.parametrize("ending", [b"\r\n", b"\n"])
def test_line_endings_do_not_matter(ending: bytes) -> None:
    pem = GOOD.pem.replace(b"\n", ending)
    assert load_certificates(pem, path="p") == (GOOD.certificate,)


def test_a_missing_last_line_feed_does_not_matter() -> None:
    assert load_certificates(GOOD.pem.rstrip(), path="p") == (GOOD.certificate,)


@pytest.mark.parametrize("data", [b"", b"hello", b"\0" * 100])
def test_a_file_without_certificates(data: bytes) -> None:
    error = refused(data)
    assert error.message == "there is no certificate in this file"
    assert error.hint == "ask for the certificate as PEM"


def test_a_der_file_says_how_to_convert_it() -> None:
    assert "openssl x509 -inform DER" in str(refused(GOOD.der).hint)


def test_a_private_key_in_the_file() -> None:
    key = GOOD.key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    error = refused(GOOD.pem + key)
    assert error.message == "the file holds something other than certificates"
    assert error.observed == "PRIVATE KEY"
    assert "never hand over a private key" in str(error.hint)


def test_the_same_certificate_twice() -> None:
    assert refused(GOOD.pem * 2).message == (
        "the certificate of “Thistlemoor Roads Unit” stands in the file twice"
    )


def test_too_many_certificates() -> None:
    error = refused(b"-----BEGIN CERTIFICATE-----\n" * 65)
    assert (error.expected, error.observed) == ("at most 64", "65")


def test_too_large_a_file() -> None:
    assert "no certificate" in refused(b" " * MAX_PEM_BYTES).message
    assert "too large to be a list" in refused(b" " * (MAX_PEM_BYTES + 1)).message


@pytest.mark.parametrize(
    "spoil",
    [
        lambda pem: pem[:200],
        lambda pem: pem.replace(b"-----END CERTIFICATE-----", b""),
        lambda pem: pem[:100] + b"!" + pem[101:],
        lambda pem: pem[:100] + b"\n\n" + pem[100:],
        lambda pem: GOOD.pem + b"-----BEGIN CERTIFICATE-----\n",
    ],
)
def test_a_block_that_is_broken_off(spoil: Any) -> None:
    assert "broken off or holds something other than base64" in refused(spoil(GOOD.pem)).message


def test_a_block_that_is_no_certificate() -> None:
    pem = b"-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n"
    assert refused(pem).message == "a certificate cannot be read"


def test_a_certificate_that_is_too_large() -> None:
    with pytest.raises(TrustError, match="cannot be read"):
        certificate_from_der(bytes(MAX_CERTIFICATE_BYTES), path="p")
    with pytest.raises(TrustError, match="a certificate is too large"):
        certificate_from_der(bytes(MAX_CERTIFICATE_BYTES + 1), path="p")


def test_trailing_bytes() -> None:
    with pytest.raises(TrustError, match="cannot be read"):
        certificate_from_der(GOOD.der + b"\0", path="p")


def _changed(made: Made, change: Any) -> bytes:
    """The certificate with its body changed; the signature no longer fits, which is not asked."""
    outer = parts_of(made.der)
    body = parts_of(outer[0])
    change(body)
    outer[0] = put_together(body)
    return put_together(outer)


BODIES = {
    "version 1": (lambda body: body.__delitem__(0), "version"),
    "serial number zero": (lambda body: body.__setitem__(1, b"\x02\x01\x00"), "serial"),
    "negative serial number": (lambda body: body.__setitem__(1, b"\x02\x01\x80"), "serial"),
    "no such key": (
        lambda body: body.__setitem__(6, bytes.fromhex("30080603 2a0304 0301 00".replace(" ", ""))),
        "",
    ),
    "broken extensions": (lambda body: body.__setitem__(7, b"\xa3\x04\x30\x02\x05\x00"), ""),
    "a time that does not exist": (
        lambda body: body.__setitem__(
            4, der.element(b"\x30", der.element(b"\x17", b"261301000000Z") * 2)
        ),
        "",
    ),
}


def test_a_body_that_was_taken_apart_and_put_together_is_the_same() -> None:
    assert _changed(GOOD, lambda body: body) == GOOD.der


@pytest.mark.parametrize("kind", BODIES)
def test_a_part_that_the_library_would_only_read_later(kind: str) -> None:
    change, words = BODIES[kind]
    with pytest.raises(TrustError, match="a certificate cannot be read") as caught:
        certificate_from_der(_changed(GOOD, change), path="p")
    assert words in str(caught.value.observed)
    assert caught.value.expected == "an X.509 version 3 certificate in DER"


def test_the_same_extension_twice() -> None:
    def twice(body: list[bytes]) -> None:
        one = bytes.fromhex("300c0603551d130101ff04023000")
        body[7] = der.element(b"\xa3", der.element(b"\x30", one * 2))

    with pytest.raises(TrustError, match="a certificate cannot be read") as caught:
        certificate_from_der(_changed(GOOD, twice), path="p")
    assert "Duplicate" in str(caught.value.observed)


def test_unused_bits_in_the_signature() -> None:
    """The count of unused bits is signed by nobody; with a zero bit at the end it is valid DER."""
    made = make()
    while made.certificate.signature[-1] & 1:
        made = make()
    start = made.der.rindex(b"\x00" + made.certificate.signature)
    changed = made.der[:start] + b"\x01" + made.der[start + 1 :]
    assert x509.load_der_x509_certificate(changed).signature == made.certificate.signature
    with pytest.raises(TrustError, match="a certificate cannot be read") as caught:
        certificate_from_der(changed, path="p")
    assert caught.value.observed == "unused bits in the signature of the certificate"


@given(st.data())
def test_spoiled_bytes_end_in_our_own_error(data: st.DataObject) -> None:
    changed = bytearray(GOOD.der)
    for _ in range(data.draw(st.integers(1, 4))):
        changed[data.draw(st.integers(0, len(changed) - 1))] = data.draw(st.integers(0, 255))
    with contextlib.suppress(TrustError):  # anything else escapes and fails
        certificate_from_der(bytes(changed), path="p")


@given(st.binary(max_size=300))
def test_any_bytes_end_in_our_own_error(data: bytes) -> None:
    for read in (certificate_from_der, load_certificates):
        with pytest.raises(TrustError):
            read(data, path="p")


# Fingerprints and names


def test_the_fingerprint_is_openssls(tmp_path: Path) -> None:
    (tmp_path / "c").write_bytes(GOOD.pem)
    shown = subprocess.run(
        ["openssl", "x509", "-in", tmp_path / "c", "-noout", "-fingerprint", "-sha256"],
        check=True,
        capture_output=True,
        text=True,
    ).stdout
    assert (
        shown.strip().split("=")[1].replace(":", "").lower() == fingerprint(GOOD.certificate).hex()
    )


def test_the_fingerprint_is_grouped_by_four() -> None:
    assert grouped(bytes(range(5))) == "0001 0203 04"
    assert len(grouped(bytes(32)).split()) == 16


@given(st.binary(max_size=64))
def test_grouping_loses_nothing(data: bytes) -> None:
    assert bytes.fromhex(grouped(data).replace(" ", "")) == data


@pytest.mark.parametrize(
    ("common", "shown"),
    [
        ("Thistlemoor Roads Unit", "“Thistlemoor Roads Unit”"),
        ("red\x1b[31m\ntwo lines\u202e", "“red?[31m?two lines?”"),
        ("Ü Ω Д", "“Ü Ω Д”"),
    ],
)
def test_a_name_is_made_fit_to_print(common: str, shown: str) -> None:
    assert name_of(make(common).certificate) == shown


def test_a_long_text_is_cut() -> None:
    assert quoted_text("x" * 120) == f"“{'x' * 120}”"
    assert quoted_text("x" * 121) == f"“{'x' * 119}…”"


def test_a_certificate_without_a_name() -> None:
    issuer = authority()
    builder = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([]))
        .issuer_name(issuer.certificate.subject)
        .public_key(ec_key().public_key())
        .serial_number(random.Random(1).getrandbits(60))
        .not_valid_before(issuer.certificate.not_valid_before_utc)
        .not_valid_after(issuer.certificate.not_valid_after_utc)
    )
    certificate = builder.sign(issuer.key, GOOD.certificate.signature_hash_algorithm)  # type: ignore[arg-type]
    assert name_of(certificate) == "“(no name)”"
