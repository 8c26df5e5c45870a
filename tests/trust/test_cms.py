"""Detached signatures: made here, checked by OpenSSL; and every other form refused."""

from __future__ import annotations

import datetime as dt
import subprocess
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, padding
from cryptography.hazmat.primitives.serialization import Encoding
from cryptography.hazmat.primitives.serialization.pkcs7 import PKCS7Options, PKCS7SignatureBuilder

from evidpack.errors import TrustError
from evidpack.limits import MAX_SIGNATURE_BYTES
from evidpack.trust import der
from evidpack.trust.cms import parse_signature, require_signature, require_signer, sign_detached
from tests.trust.certificate_maker import NOW, SIGNING, Made, authority, ec_key, make, rsa_key
from tests.trust.forging import (
    CONTENT_TYPE,
    DATA,
    ECDSA_SHA256,
    MESSAGE_DIGEST,
    SIGNING_TIME,
    algorithm,
    content_of,
    first_signer,
    oid,
    parts_of,
    plain_attributes,
    put_together,
    signed_data,
    utc_time,
)

CONTENT = b'{"type":"seal"}'
KEYS = {
    "P-256": ec_key,
    "P-384": lambda: ec_key(ec.SECP384R1()),
    "RSA-3072": lambda: rsa_key(3072),
}


def openssl_verify(
    folder: Path, signature: bytes, content: bytes, root: Made
) -> subprocess.CompletedProcess[bytes]:
    for name, data in (("s", signature), ("c", content), ("r", root.pem)):
        (folder / name).write_bytes(data)
    return subprocess.run(
        [
            "openssl",
            "cms",
            "-verify",
            "-binary",
            "-inform",
            "DER",
            "-in",
            folder / "s",
            "-content",
            folder / "c",
            "-CAfile",
            folder / "r",
            "-attime",
            str(int(NOW.timestamp())),
            "-out",
            folder / "o",
        ],
        capture_output=True,
        check=False,
    )


@pytest.mark.parametrize("kind", KEYS)
def test_a_signature_verifies_here_and_with_openssl(
    kind: str, root: Made, branch: Made, tmp_path: Path
) -> None:
    signer = make(issuer=branch, key=KEYS[kind]())
    data = sign_detached(
        CONTENT,
        key=signer.key,
        certificate=signer.certificate,
        intermediates=[branch.certificate],
    )
    signature = parse_signature(data, path="s.p7s")
    require_signature(signature, CONTENT)
    path = require_signer(signature, [root.certificate], at=NOW)
    assert path == (signer.certificate, branch.certificate, root.certificate)
    assert signature.certificate == signer.certificate
    assert set(signature.certificates) == {signer.certificate, branch.certificate}
    assert abs(signature.signing_time - dt.datetime.now(dt.UTC)) < dt.timedelta(minutes=5)
    assert openssl_verify(tmp_path, data, CONTENT, root).returncode == 0
    refused = openssl_verify(tmp_path, data, CONTENT + b" ", root)
    assert refused.returncode != 0


@pytest.mark.parametrize("digest", ["sha256", "sha384", "sha512"])
def test_a_signature_made_by_openssl_verifies(
    digest: str, root: Made, branch: Made, signer: Made, tmp_path: Path
) -> None:
    from cryptography.hazmat.primitives.serialization import NoEncryption, PrivateFormat

    key = signer.key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    for name, data in (("k", key), ("c", CONTENT), ("s", signer.pem), ("b", branch.pem)):
        (tmp_path / name).write_bytes(data)
    subprocess.run(
        [
            "openssl",
            "cms",
            "-sign",
            "-binary",
            "-in",
            tmp_path / "c",
            "-signer",
            tmp_path / "s",
            "-inkey",
            tmp_path / "k",
            "-certfile",
            tmp_path / "b",
            "-md",
            digest,
            "-outform",
            "DER",
            "-out",
            tmp_path / "o",
        ],
        check=True,
        capture_output=True,
    )
    data = (tmp_path / "o").read_bytes()
    # OpenSSL writes the certificates in the order given; DER, and this format, want them sorted.
    signature = parse_signature(_with_sorted_certificates(data), path="o")
    require_signature(signature, CONTENT)
    require_signer(signature, [root.certificate], at=NOW)


def _with_sorted_certificates(data: bytes) -> bytes:
    info = der.decode(der.ContentInfo, data, what="", path=None)
    parts = der.split(bytes(info.content.certificates.data), what="", path=None)
    info.content.certificates = der.as_tlv(der.element(b"\xa0", b"".join(sorted(parts))))
    return der.encode(info)


def test_signing_refuses_another_key(signer: Made) -> None:
    with pytest.raises(TrustError, match="private key does not belong to the certificate"):
        sign_detached(CONTENT, key=ec_key(), certificate=signer.certificate)


def test_signing_refuses_a_certificate_for_another_use(branch: Made) -> None:
    made = make(issuer=branch, purposes=SIGNING[1:])
    with pytest.raises(TrustError, match="is for another purpose") as caught:
        sign_detached(CONTENT, key=made.key, certificate=made.certificate)
    assert caught.value.observed == "emailProtection"


def test_signing_refuses_a_short_key(branch: Made) -> None:
    made = make(issuer=branch, key=rsa_key(2048))
    with pytest.raises(TrustError, match="not strong enough") as caught:
        sign_detached(CONTENT, key=made.key, certificate=made.certificate)
    assert caught.value.observed == "RSA of 2048 bits"


@pytest.fixture(scope="module")
def good(signer: Made, branch: Made) -> bytes:
    return sign_detached(
        CONTENT,
        key=signer.key,
        certificate=signer.certificate,
        intermediates=[branch.certificate],
    )


def refused(data: bytes, *, content: bytes = CONTENT) -> TrustError:
    with pytest.raises(TrustError) as caught:
        require_signature(parse_signature(data, path="seal/statement.p7s"), content)
    assert caught.value.path == "seal/statement.p7s"
    return caught.value


def test_other_content_is_refused_with_both_digests(good: bytes) -> None:
    error = refused(good, content=CONTENT + b"x")
    assert error.message == "the signature was made over other bytes"
    assert str(error.expected).startswith("sha256 ")
    assert error.expected != error.observed


def test_a_stranger_signing_with_the_same_name_is_refused(
    root: Made, branch: Made, good: bytes
) -> None:
    stranger_root = authority()
    stranger = make(issuer=authority("Invented County Branch", issuer=stranger_root))
    data = sign_detached(CONTENT, key=stranger.key, certificate=stranger.certificate)
    signature = parse_signature(data, path="s")
    require_signature(signature, CONTENT)
    with pytest.raises(
        TrustError, match="issuer of the certificate of “Thistlemoor Roads Unit” is not known"
    ):
        require_signer(signature, [root.certificate], at=NOW)


@pytest.mark.parametrize("extra", [b"\0", b"0", b"\n", bytes(100)])
def test_trailing_bytes_are_refused(good: bytes, extra: bytes) -> None:
    error = refused(good + extra)
    assert error.message == "the signature is not in the one form that is accepted"
    assert "ExtraData" in str(error.observed)


@pytest.mark.parametrize("kept", [0, 1, 2, 10, 100, -1])
def test_a_cut_off_file_is_refused(good: bytes, kept: int) -> None:
    assert "form that is accepted" in refused(good[:kept]).message


def test_the_size_is_bounded_at_the_limit() -> None:
    with pytest.raises(TrustError, match="form that is accepted"):
        parse_signature(bytes(MAX_SIGNATURE_BYTES), path="s")
    with pytest.raises(TrustError, match="the signature file is too large"):
        parse_signature(bytes(MAX_SIGNATURE_BYTES + 1), path="s")


def test_indefinite_length_is_refused(good: bytes) -> None:
    assert good[:2] == b"\x30\x82"
    assert "InvalidLength" in str(refused(b"\x30\x80" + good[4:] + b"\0\0").observed)


def test_a_length_longer_than_needed_is_refused(good: bytes) -> None:
    assert "InvalidLength" in str(refused(b"\x30\x83\x00" + good[2:]).observed)


def test_an_attached_signature_is_refused(signer: Made) -> None:
    builder = PKCS7SignatureBuilder().set_data(CONTENT)
    builder = builder.add_signer(signer.certificate, signer.key, hashes.SHA256())
    data = builder.sign(Encoding.DER, [PKCS7Options.Binary])
    assert refused(data).expected == "a detached signature, without the content"


def test_two_signers_are_refused(signer: Made, branch: Made) -> None:
    other = make(issuer=branch)
    builder = PKCS7SignatureBuilder().set_data(CONTENT)
    for made in (signer, other):
        builder = builder.add_signer(made.certificate, made.key, hashes.SHA256())
    data = builder.sign(Encoding.DER, [PKCS7Options.Binary, PKCS7Options.DetachedSignature])
    error = refused(data)
    assert (error.expected, error.observed) == ("one signer", "2")


def test_a_signature_without_attributes_is_refused(signer: Made) -> None:
    builder = PKCS7SignatureBuilder().set_data(CONTENT)
    builder = builder.add_signer(signer.certificate, signer.key, hashes.SHA256())
    data = builder.sign(
        Encoding.DER,
        [PKCS7Options.Binary, PKCS7Options.DetachedSignature, PKCS7Options.NoAttributes],
    )
    assert "form that is accepted" in refused(data).message


def test_a_signature_without_certificates_is_refused(signer: Made) -> None:
    builder = PKCS7SignatureBuilder().set_data(CONTENT)
    builder = builder.add_signer(signer.certificate, signer.key, hashes.SHA256())
    data = builder.sign(
        Encoding.DER,
        [PKCS7Options.Binary, PKCS7Options.DetachedSignature, PKCS7Options.NoCerts],
    )
    assert "form that is accepted" in refused(data).message


def test_rsa_with_pss_is_refused(branch: Made) -> None:
    signer = make(issuer=branch, key=rsa_key(3072))
    builder = (
        PKCS7SignatureBuilder()
        .set_data(CONTENT)
        .add_signer(
            signer.certificate,
            rsa_key(3072),
            hashes.SHA256(),
            rsa_padding=padding.PSS(mgf=padding.MGF1(hashes.SHA256()), salt_length=32),
        )
    )
    data = builder.sign(Encoding.DER, [PKCS7Options.Binary, PKCS7Options.DetachedSignature])
    assert "form that is accepted" in refused(data).message


def test_the_forger_makes_good_signatures(signer: Made) -> None:
    data = signed_data(signer, plain_attributes(CONTENT))
    require_signature(parse_signature(data, path="s"), CONTENT)


def _set(*names: str, value: Any) -> Any:
    def change(info: Any) -> None:
        target = info
        for name in names[:-1]:
            target = first_signer(info) if name == "signer" else getattr(target, name)
        setattr(target, names[-1], value)

    return change


CHANGES = {
    "another outer type": (_set("content_type", value=oid("1.2.840.113549.1.7.3")), "signed data"),
    "data version 3": (_set("content", "version", value=3), "version 1"),
    "signer version 3": (_set("signer", "version", value=3), "signer version 1"),
    "another content type": (
        _set("content", "content", "content_type", value=oid("1.2.3")),
        f"content type {DATA}",
    ),
    "two digest algorithms": (
        _set(
            "content",
            "digest_algorithms",
            value=der.SetOf(
                [algorithm("2.16.840.1.101.3.4.2.1"), algorithm("2.16.840.1.101.3.4.2.2")]
            ),
        ),
        "one digest algorithm, the signer's",
    ),
    "no digest algorithm": (
        _set("content", "digest_algorithms", value=der.SetOf([])),
        "one digest algorithm, the signer's",
    ),
    "digest algorithm with other parameters": (
        _set(
            "content",
            "digest_algorithms",
            value=der.SetOf([algorithm("2.16.840.1.101.3.4.2.1", null=True)]),
        ),
        "one digest algorithm, the signer's",
    ),
    "SHA-1": (
        _set("signer", "digest_algorithm", value=algorithm("1.3.14.3.2.26")),
        "SHA-256, SHA-384 or SHA-512",
    ),
    "MD5": (
        _set("signer", "digest_algorithm", value=algorithm("1.2.840.113549.2.5")),
        "SHA-256, SHA-384 or SHA-512",
    ),
    "another signature algorithm": (
        _set("signer", "signature_algorithm", value=algorithm("1.2.840.10045.4.3.3")),
        f"{ECDSA_SHA256} without parameters",
    ),
    "signature algorithm with parameters": (
        _set("signer", "signature_algorithm", value=algorithm(ECDSA_SHA256, null=True)),
        f"{ECDSA_SHA256} without parameters",
    ),
    "another serial number": (
        _set("signer", "identifier", "serial_number", value=5),
        "one certificate inside with the issuer and serial number that the signer is named by",
    ),
    "another issuer": (
        _set("signer", "identifier", "issuer", value=der.as_tlv(b"\x30\x00")),
        "one certificate inside with the issuer and serial number that the signer is named by",
    ),
    "signed attributes under another tag": (
        _set("signer", "signed_attributes", value=der.as_tlv(b"\xa1\x00")),
        "signed attributes",
    ),
    "no certificates": (
        _set("content", "certificates", value=der.as_tlv(b"\xa1\x00")),
        "the signer's certificate inside",
    ),
}


@pytest.mark.parametrize("kind", CHANGES)
def test_an_unsigned_field_has_one_permitted_value(kind: str, signer: Made) -> None:
    change, expected = CHANGES[kind]

    def with_target(info: Any) -> None:
        change(info)

    error = refused(signed_data(signer, plain_attributes(CONTENT), change=with_target))
    assert error.expected == expected


def test_rsa_must_name_its_algorithm_with_null(branch: Made) -> None:
    signer = make(issuer=branch, key=rsa_key(3072))
    good = signed_data(signer, plain_attributes(CONTENT))
    require_signature(parse_signature(good, path="s"), CONTENT)

    def with_digest(info: Any) -> None:
        first_signer(info).signature_algorithm = algorithm("1.2.840.113549.1.1.11", null=True)

    same = signed_data(signer, plain_attributes(CONTENT), change=with_digest)
    require_signature(parse_signature(same, path="s"), CONTENT)

    def without(info: Any) -> None:
        first_signer(info).signature_algorithm = algorithm("1.2.840.113549.1.1.11")

    error = refused(signed_data(signer, plain_attributes(CONTENT), change=without))
    assert str(error.expected).endswith("with NULL parameters")
    assert error.observed == "1.2.840.113549.1.1.11 without parameters"


def test_unsigned_attributes_are_refused(signer: Made) -> None:
    data = signed_data(signer, plain_attributes(CONTENT))
    unsigned = der.element(b"\xa1", b"")
    assert "form that is accepted" in refused(_append_to_signer(data, unsigned)).message


def _append_to_signer(data: bytes, extra: bytes) -> bytes:
    """Put an element at the end of the only SignerInfo, mending every length around it."""

    def inside(encoding: bytes, depth: int) -> bytes:
        if depth == 0:
            return der.element(encoding[:1], content_of(encoding) + extra)
        parts = parts_of(encoding)
        parts[-1] = inside(parts[-1], depth - 1)
        return put_together(parts, encoding[:1])

    # ContentInfo, [0], SignedData, SET OF SignerInfo, SignerInfo
    return inside(data, 4)


def test_the_mending_of_lengths_is_itself_right(signer: Made) -> None:
    data = signed_data(signer, plain_attributes(CONTENT))
    assert _append_to_signer(data, b"") == data


ATTRIBUTES = {
    "no content type": (
        lambda: plain_attributes(CONTENT)[1:],
        "a signed content type equal to the outer one",
    ),
    "another content type": (
        lambda: [
            (CONTENT_TYPE, [der.encode_identifier(oid("1.2.3"))]),
            *plain_attributes(CONTENT)[1:],
        ],
        "a signed content type equal to the outer one",
    ),
    "no signing time": (lambda: plain_attributes(CONTENT)[:2], "a signing time"),
    "a time without Z": (
        lambda: [
            *plain_attributes(CONTENT)[:2],
            (SIGNING_TIME, [der.element(b"\x17", b"260514160000+0100")]),
        ],
        "DER, no optional part that this format leaves out, nothing trailing",
    ),
    "two values": (
        lambda: [
            *plain_attributes(CONTENT)[:2],
            (SIGNING_TIME, [utc_time(NOW), utc_time(NOW + dt.timedelta(1))]),
        ],
        f"one value of attribute {SIGNING_TIME}",
    ),
    "no value": (
        lambda: [*plain_attributes(CONTENT)[:2], (SIGNING_TIME, [])],
        f"one value of attribute {SIGNING_TIME}",
    ),
    "an attribute twice": (
        lambda: [*plain_attributes(CONTENT), (SIGNING_TIME, [utc_time(NOW + dt.timedelta(1))])],
        f"attribute {SIGNING_TIME} once",
    ),
}


@pytest.mark.parametrize("kind", ATTRIBUTES)
def test_signed_attributes_that_are_wrong_are_refused(kind: str, signer: Made) -> None:
    attributes, expected = ATTRIBUTES[kind]
    assert refused(signed_data(signer, attributes())).expected == expected


def test_a_signature_without_a_digest_is_refused(signer: Made) -> None:
    attributes = [plain_attributes(CONTENT)[0], plain_attributes(CONTENT)[2]]
    error = refused(signed_data(signer, attributes))
    assert (error.message, error.observed) == ("the signature was made over other bytes", "none")


def test_a_digest_as_another_type_is_refused(signer: Made) -> None:
    good = plain_attributes(CONTENT)
    octets = good[1][1][0]
    bad = [good[0], (MESSAGE_DIGEST, [b"\x0c" + octets[1:]]), good[2]]
    assert refused(signed_data(signer, bad)).message == "the signature was made over other bytes"


def test_a_generalized_signing_time_is_read(signer: Made) -> None:
    late = der.element(b"\x18", b"20510101000000Z")
    attributes = [*plain_attributes(CONTENT)[:2], (SIGNING_TIME, [late])]
    signature = parse_signature(signed_data(signer, attributes), path="s")
    assert signature.signing_time == dt.datetime(2051, 1, 1, tzinfo=dt.UTC)


def test_a_signature_by_another_key_is_refused(signer: Made, branch: Made) -> None:
    other = Made(certificate=signer.certificate, key=ec_key())
    error = refused(signed_data(other, plain_attributes(CONTENT)))
    assert "the signature does not verify with the key of the certificate" in error.message


def test_an_rsa_signature_by_another_key_is_refused(branch: Made) -> None:
    signer = make(issuer=branch, key=rsa_key(3072))
    other = Made(certificate=signer.certificate, key=rsa_key(3072, 1))
    error = refused(signed_data(other, plain_attributes(CONTENT)))
    assert "the signature does not verify with the key of the certificate" in error.message


@pytest.mark.parametrize(
    ("key", "observed"),
    [
        (lambda: rsa_key(2048), "RSA of 2048 bits"),
        (lambda: ec_key(ec.SECP521R1()), "an elliptic-curve key on secp521r1"),
        (lambda: ec_key(ec.SECP256K1()), "an elliptic-curve key on secp256k1"),
    ],
)
def test_a_signer_with_a_key_not_accepted_is_refused(key: Any, observed: str, branch: Made) -> None:
    error = refused(signed_data(make(issuer=branch, key=key()), plain_attributes(CONTENT)))
    assert error.observed == observed


def test_unsorted_certificates_are_refused(signer: Made, branch: Made) -> None:
    carried = sorted([signer.der, branch.der], reverse=True)
    data = signed_data(signer, plain_attributes(CONTENT), carried=carried, sort=False)
    assert refused(data).expected == "certificates in DER order"


def test_the_same_certificate_twice_is_refused(signer: Made) -> None:
    data = signed_data(signer, plain_attributes(CONTENT), carried=[signer.der, signer.der])
    assert refused(data).observed == "the same certificate twice"


def test_too_many_certificates_are_refused(signer: Made, branch: Made) -> None:
    carried = [signer.der, *(make(issuer=branch).der for _ in range(16))]
    data = signed_data(signer, plain_attributes(CONTENT), carried=carried)
    assert refused(data).expected == "at most 16 certificates"
    fits = signed_data(signer, plain_attributes(CONTENT), carried=carried[:-1])
    require_signature(parse_signature(fits, path="s"), CONTENT)


def test_something_else_among_the_certificates_is_refused(signer: Made) -> None:
    data = signed_data(signer, plain_attributes(CONTENT), carried=[signer.der, b"\xa1\x00"])
    assert "certificate" in refused(data).message


def test_a_certificate_off_the_path_is_refused(root: Made, branch: Made, signer: Made) -> None:
    bystander = authority("Invented Bystander")
    data = signed_data(
        signer, plain_attributes(CONTENT), carried=[signer.der, branch.der, bystander.der]
    )
    signature = parse_signature(data, path="s")
    require_signature(signature, CONTENT)
    with pytest.raises(
        TrustError,
        match="carries the certificate of “Invented Bystander”, which is not on the path",
    ):
        require_signer(signature, [root.certificate], at=NOW)


def test_the_anchor_may_be_carried(root: Made, branch: Made, signer: Made) -> None:
    data = signed_data(
        signer, plain_attributes(CONTENT), carried=[signer.der, branch.der, root.der]
    )
    path = require_signer(parse_signature(data, path="s"), [root.certificate], at=NOW)
    assert path[-1] == root.certificate


def test_another_certificate_for_the_same_key_changes_the_signer(
    branch: Made, signer: Made
) -> None:
    """The statement pins the certificate; here only the identifier has to fit."""
    twin = make("Invented Other Name", issuer=branch, key=signer.key)
    data = signed_data(signer, plain_attributes(CONTENT), carried=[twin.der])
    assert "issuer and serial number" in str(refused(data).expected)
