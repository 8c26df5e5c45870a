"""RFC 3161 tokens: made by ``openssl ts``, by the demonstration and by forgers."""

from __future__ import annotations

import datetime as dt
import hashlib
import subprocess
from pathlib import Path
from typing import Any

import pytest

from evidpack.errors import TimeStampUnavailableError, TrustError
from evidpack.limits import MAX_TOKEN_BYTES
from evidpack.trust import der, der_timestamps
from evidpack.trust.authority import DemoAuthority, demo_time_stamp
from evidpack.trust.cms import parse_signature, require_signer, sign_detached
from evidpack.trust.timestamps import (
    Token,
    parse_token,
    request,
    require_claim_before,
    require_imprint,
    require_token,
)
from tests.trust import forging
from tests.trust.certificate_maker import (
    DAY,
    NOW,
    SIGNING,
    STAMPING,
    Made,
    authority,
    rsa_key,
    stamper,
)
from tests.trust.forging import NAMED_V1, NAMED_V2, named_v1, named_v2, oid, stamp_info
from tests.trust.openssl_authority import USUAL_OPTIONS, OpensslAuthority, set_up

MESSAGE = b"a signature file"


def checked(data: bytes, anchor: Made | Any, message: bytes = MESSAGE) -> Token:
    token = parse_token(data, path="seal/statement.tsr")
    require_token(token, message, [getattr(anchor, "certificate", anchor)])
    return token


def refused(data: bytes, anchor: Made | Any, message: bytes = MESSAGE) -> TrustError:
    with pytest.raises(TrustError) as caught:
        checked(data, anchor, message)
    return caught.value


# Requests


def test_the_request_is_what_openssl_reads(tmp_path: Path) -> None:
    (tmp_path / "q").write_bytes(request(MESSAGE, 0x1234))
    shown = subprocess.run(
        ["openssl", "ts", "-query", "-in", tmp_path / "q", "-text"],
        check=True,
        capture_output=True,
        text=True,
    ).stdout
    assert "Hash Algorithm: sha256" in shown
    assert "Certificate required: yes" in shown
    assert "Nonce: 0x1234" in shown
    digest = hashlib.sha256(MESSAGE).hexdigest()
    assert " ".join(digest[i : i + 2] for i in range(0, 32, 2)) in shown.replace("-", " ")


@pytest.mark.parametrize("nonce", [-1, 1 << 128])
def test_a_nonce_out_of_range_is_refused(nonce: int) -> None:
    with pytest.raises(ValueError, match="not negative and of at most 128 bits"):
        request(MESSAGE, nonce)


# Tokens of a real authority


def test_a_token_by_openssl_is_read_and_accepted(openssl_authority: OpensslAuthority) -> None:
    data = openssl_authority.reply(request(MESSAGE, 77))
    token = checked(data, openssl_authority.anchor)
    assert token.nonce == 77
    assert token.hash_name == "sha256"
    assert token.imprint == hashlib.sha256(MESSAGE).digest()
    assert token.policy == "1.2.3.4.1"
    assert token.accuracy == dt.timedelta(seconds=1, microseconds=500_100)
    assert abs(token.gen_time - dt.datetime.now(dt.UTC)) < dt.timedelta(minutes=5)
    assert token.tsa_certificate == openssl_authority.stamper.certificate
    assert len(token.certificates) == 2
    assert token.raw == data
    assert token.serial > 0


OPTIONS = {
    "everything": USUAL_OPTIONS.replace("no", "yes").replace("secs:1,", "secs:0,")
    + "clock_precision_digits = 3\n",
    "older certificate digest": USUAL_OPTIONS.replace("= sha256", "= sha1"),
    "certificate digest sha512": USUAL_OPTIONS.replace("= sha256", "= sha512"),
    "no accuracy": "ordering = no\ness_cert_id_alg = sha256\n",
}


@pytest.mark.parametrize("kind", OPTIONS)
def test_tokens_with_other_options_are_accepted(kind: str, tmp_path: Path) -> None:
    made = set_up(tmp_path, options=OPTIONS[kind])
    token = checked(made.reply(request(MESSAGE, 5)), made.anchor)
    assert (token.accuracy is None) == (kind == "no accuracy")


@pytest.mark.parametrize("stamper_kind", ["rsa", "ec"])
@pytest.mark.parametrize("root_kind", ["rsa", "ec"])
def test_tokens_with_unsorted_certificates_are_accepted(
    stamper_kind: str, root_kind: str, tmp_path: Path
) -> None:
    """OpenSSL writes the signer first, so some of these four are not in DER order."""
    made = set_up(
        tmp_path,
        stamper_key=rsa_key(3072) if stamper_kind == "rsa" else None,
        root_key=rsa_key(3072, 1) if root_kind == "rsa" else None,
        with_intermediate=False,
    )
    token = checked(made.reply(request(MESSAGE, 5)), made.anchor)
    first, second = token.certificates
    assert first == made.stamper.certificate
    assert second == made.root.certificate
    lengths = [len(made.stamper.der), len(made.root.der)]
    assert token.signed.certificates_sorted == (lengths == sorted(lengths))


def test_sorted_and_unsorted_tokens_both_occur(time_root: Made, time_office: Made) -> None:
    carried = sorted([time_office.der, time_root.der])
    for order, is_sorted in ((carried, True), (carried[::-1], False)):
        data = forging.token(time_office, MESSAGE, carried=order, sort=False)
        assert checked(data, time_root).signed.certificates_sorted is is_sorted


def test_our_stored_token_is_accepted_by_openssl(tmp_path: Path) -> None:
    made = DemoAuthority.create(name="Thistlemoor Roads Unit", now=NOW)
    data = demo_time_stamp(request(MESSAGE, 9), authority=made, now=NOW)
    (tmp_path / "t").write_bytes(data)
    (tmp_path / "m").write_bytes(MESSAGE)
    (tmp_path / "r").write_bytes(made.time_stamp_root.certificate_pem)
    command = [
        "openssl",
        "ts",
        "-verify",
        "-data",
        tmp_path / "m",
        "-in",
        tmp_path / "t",
        "-CAfile",
        tmp_path / "r",
        "-attime",
        str(int(NOW.timestamp())),
    ]
    assert subprocess.run(command, capture_output=True, check=False).returncode == 0
    (tmp_path / "m").write_bytes(MESSAGE + b"x")
    assert subprocess.run(command, capture_output=True, check=False).returncode != 0


def test_an_intermediate_may_be_the_anchor(tmp_path: Path) -> None:
    made = set_up(tmp_path)
    token = parse_token(made.reply(request(MESSAGE, 5)), path="t")
    branch = next(found for found in token.certificates if found != token.tsa_certificate)
    assert require_token(token, MESSAGE, [branch]) == (token.tsa_certificate, branch)


def test_an_expired_stamper_is_judged_at_the_time_of_the_token(time_root: Made) -> None:
    expired = stamper(issuer=time_root, start=NOW - DAY, end=NOW + dt.timedelta(seconds=1))
    checked(forging.token(expired, MESSAGE), time_root)


# Forged tokens


def test_the_forger_makes_good_tokens(time_root: Made, time_office: Made) -> None:
    token = checked(forging.token(time_office, MESSAGE), time_root)
    assert token.gen_time == NOW
    assert token.accuracy is None


def test_a_token_over_other_bytes_is_refused(time_root: Made, time_office: Made) -> None:
    error = refused(forging.token(time_office, b"other bytes"), time_root)
    assert error.message == "the time-stamp token is about other bytes"
    assert error.path == "seal/statement.tsr"
    assert str(error.expected).endswith(hashlib.sha256(MESSAGE).hexdigest())
    assert error.observed == hashlib.sha256(b"other bytes").hexdigest()


def test_the_imprint_alone_can_be_checked(time_office: Made) -> None:
    token = parse_token(forging.token(time_office, MESSAGE), path="t")
    require_imprint(token, MESSAGE)
    with pytest.raises(TrustError, match="about other bytes"):
        require_imprint(token, MESSAGE + b" ")


def test_a_claim_after_the_token_is_refused(time_office: Made) -> None:
    token = parse_token(forging.token(time_office, MESSAGE), path="t")
    require_claim_before(token, NOW)
    with pytest.raises(TrustError, match="claimed sealing time is after the time stamp") as caught:
        require_claim_before(token, NOW + dt.timedelta(microseconds=1))
    assert "clock of the sealing computer was ahead" in str(caught.value.hint)


def test_a_token_from_before_the_signer_existed(
    root: Made, branch: Made, signer: Made, time_root: Made, time_office: Made
) -> None:
    """The token itself is good; the signer's path is judged at its time, and fails."""
    signature = sign_detached(
        MESSAGE, key=signer.key, certificate=signer.certificate, intermediates=[branch.certificate]
    )
    early = signer.certificate.not_valid_before_utc - dt.timedelta(seconds=1)
    office = stamper(issuer=time_root, start=NOW - 200 * DAY)
    info = stamp_info(signature, gen_time=der.GeneralizedTime(early))
    token = checked(forging.token(office, signature, info=info), time_root, signature)
    with pytest.raises(TrustError, match="“Thistlemoor Roads Unit” was not yet valid at the time"):
        require_signer(parse_signature(signature, path="s"), [root.certificate], at=token.gen_time)


def test_an_unknown_authority_is_refused(time_office: Made) -> None:
    error = refused(forging.token(time_office, MESSAGE), authority("Invented Time Root"))
    assert "was not signed with the key of “Invented Time Root”" in error.message


def test_no_anchor_is_refused(time_office: Made) -> None:
    token = parse_token(forging.token(time_office, MESSAGE), path="t")
    with pytest.raises(TrustError, match="no anchor was given"):
        require_token(token, MESSAGE, [])


STAMPERS = {
    "second purpose": ({"purposes": (*STAMPING, SIGNING[1])}, "is for another or a second purpose"),
    "another purpose": ({"purposes": SIGNING}, "is for another or a second purpose"),
    "no purpose": ({"purposes": None}, "names no purpose"),
    "not critical": ({"critical": False}, "has a purpose that is not critical"),
    "key encipherment": (
        {"usage": ("digital_signature", "key_encipherment")},
        "has the wrong key usage",
    ),
    "signing certificates": ({"usage": ("key_cert_sign",)}, "has the wrong key usage"),
    "not yet valid": ({"start": NOW + DAY}, "was not yet valid at the time"),
    "expired": ({"end": NOW - DAY}, "was no longer valid at the time"),
    "short key": ({"key": lambda: rsa_key(2048)}, "is not strong enough"),
}


@pytest.mark.parametrize("kind", STAMPERS)
def test_a_certificate_not_for_time_stamping_is_refused(kind: str, time_root: Made) -> None:
    settings, message = STAMPERS[kind]
    settings = {k: v() if callable(v) else v for k, v in settings.items()}
    made = stamper(issuer=time_root, **settings)  # type: ignore[arg-type]
    assert message in refused(forging.token(made, MESSAGE), time_root).message


def test_no_key_usage_and_non_repudiation_are_fine(time_root: Made) -> None:
    for usage in (None, ("content_commitment",)):
        checked(forging.token(stamper(issuer=time_root, usage=usage), MESSAGE), time_root)


def test_a_certificate_off_the_path_is_refused(time_root: Made, time_office: Made) -> None:
    bystander = authority("Invented Bystander")
    data = forging.token(time_office, MESSAGE, carried=[time_office.der, bystander.der])
    assert "“Invented Bystander”, which is not on the path" in refused(data, time_root).message


def test_a_token_without_certificates_is_refused(time_root: Made, time_office: Made) -> None:
    def without(info: Any) -> None:
        info.content.certificates = der.as_tlv(b"\xa0\x00")

    data = forging.token(time_office, MESSAGE, change=without)
    assert "issuer and serial number" in str(refused(data, time_root).expected)


def _imprint(digest: str, size: int) -> der_timestamps.MessageImprint:
    return der_timestamps.MessageImprint(
        hash_algorithm=forging.algorithm(digest), hashed_message=bytes(size)
    )


def _extension(critical: bool) -> list[der_timestamps.Extension]:
    return [der_timestamps.Extension(kind=oid("1.2.3.4"), critical=critical, value=b"\x05\x00")]


def _accuracy(**parts: int) -> der_timestamps.Accuracy:
    return der_timestamps.Accuracy(**({"seconds": None, "millis": None, "micros": None} | parts))


INFOS = {
    "version 2": ({"version": 2}, "time-stamp information of version 1"),
    "critical extension": ({"extensions": _extension(True)}, "no critical extension"),
    "SHA-1": ({"imprint": _imprint("1.3.14.3.2.26", 20)}, "SHA-256, SHA-384 or SHA-512"),
    "short digest": ({"imprint": _imprint(forging.SHA256, 31)}, "an imprint of 32 bytes"),
    "long accuracy": ({"accuracy": _accuracy(seconds=86_401)}, "an accuracy within a day"),
    "negative accuracy": ({"accuracy": _accuracy(seconds=-1)}, "an accuracy within a day"),
    "1,000 ms": ({"accuracy": _accuracy(millis=1000)}, "an accuracy within a day"),
    "1,000 µs": ({"accuracy": _accuracy(micros=1000)}, "an accuracy within a day"),
}


@pytest.mark.parametrize("kind", INFOS)
def test_time_stamp_information_that_is_wrong_is_refused(
    kind: str, time_root: Made, time_office: Made
) -> None:
    changed, expected = INFOS[kind]
    data = forging.token(time_office, MESSAGE, info=stamp_info(MESSAGE, **changed))
    assert refused(data, time_root).expected == expected


def test_an_extension_that_is_not_critical_is_fine(time_root: Made, time_office: Made) -> None:
    info = stamp_info(MESSAGE, extensions=_extension(False))
    checked(forging.token(time_office, MESSAGE, info=info), time_root)


@pytest.mark.parametrize(
    ("digest", "name"), [("2.16.840.1.101.3.4.2.2", "sha384"), ("2.16.840.1.101.3.4.2.3", "sha512")]
)
def test_stronger_imprints_are_accepted(
    digest: str, name: str, time_root: Made, time_office: Made
) -> None:
    imprint = der_timestamps.MessageImprint(
        hash_algorithm=forging.algorithm(digest),
        hashed_message=hashlib.new(name, MESSAGE).digest(),
    )
    info = stamp_info(MESSAGE, imprint=imprint)
    assert checked(forging.token(time_office, MESSAGE, info=info), time_root).hash_name == name


def test_a_detached_token_is_refused(time_root: Made, time_office: Made) -> None:
    def without(info: Any) -> None:
        info.content.content.content = None

    data = forging.token(time_office, MESSAGE, change=without)
    assert refused(data, time_root).expected == "the time-stamp information inside"


def test_exchanged_time_stamp_information_is_refused(time_root: Made, time_office: Made) -> None:
    def exchange(info: Any) -> None:
        earlier = der.GeneralizedTime(NOW - DAY)
        info.content.content.content = der.encode(stamp_info(MESSAGE, gen_time=earlier))

    error = refused(forging.token(time_office, MESSAGE, change=exchange), time_root)
    assert error.message == "the time-stamp token was made over other bytes"


def test_a_signature_passed_off_as_a_token_is_refused(time_root: Made, time_office: Made) -> None:
    inner = forging.signed_data(time_office, forging.plain_attributes(MESSAGE))
    assert refused(forging.response(inner), time_root).expected == "version 3"


# The certificate that the token names


NAMES: dict[str, Any] = {
    "none": (lambda _der: [], "does not say which certificate it was signed with"),
    "no identifier": (
        lambda _der: [
            (
                NAMED_V2,
                [der.encode(der_timestamps.SigningCertificateV2(certificates=[], policies=None))],
            )
        ],
        "does not say which certificate it was signed with",
    ),
    "another": (
        lambda made: [(NAMED_V2, [named_v2(made, digest=bytes(32))])],
        "was signed under another certificate than the one it carries",
    ),
    "another by SHA-1": (
        lambda _der: [(NAMED_V1, [named_v1(b"another")])],
        "was signed under another certificate than the one it carries",
    ),
    "both, one wrong": (
        lambda made: [(NAMED_V1, [named_v1(b"another")]), (NAMED_V2, [named_v2(made)])],
        "was signed under another certificate than the one it carries",
    ),
    "weak digest in the newer form": (
        lambda made: [
            (
                NAMED_V2,
                [named_v2(made, explicit="1.3.14.3.2.26", digest=hashlib.sha1(made).digest())],
            )
        ],
        "uses a digest that is weak or not accepted",
    ),
    "not such a structure": (
        lambda _der: [(NAMED_V2, [b"\x05\x00"])],
        "is not in the one form that is accepted",
    ),
}


@pytest.mark.parametrize("kind", NAMES)
def test_a_token_must_name_its_certificate(kind: str, time_root: Made, time_office: Made) -> None:
    attributes, message = NAMES[kind]
    data = forging.token(time_office, MESSAGE, attributes=attributes(time_office.der))
    assert message in refused(data, time_root).message


@pytest.mark.parametrize(
    "attributes",
    [
        lambda made: [(NAMED_V1, [named_v1(made)])],
        lambda made: [(NAMED_V1, [named_v1(made)]), (NAMED_V2, [named_v2(made)])],
        lambda made: [(NAMED_V2, [named_v2(made, explicit=forging.SHA256)])],
    ],
)
def test_each_form_of_naming_the_certificate_is_accepted(
    attributes: Any, time_root: Made, time_office: Made
) -> None:
    data = forging.token(time_office, MESSAGE, attributes=attributes(time_office.der))
    checked(data, time_root)


def test_a_second_certificate_for_the_same_key_is_refused(
    time_root: Made, time_office: Made
) -> None:
    twin = stamper("Invented Other Office", issuer=time_root, key=time_office.key)

    def exchange(info: Any) -> None:
        info.content.certificates = der.as_tlv(der.element(b"\xa0", twin.der))
        forging.first_signer(info).identifier.serial_number = twin.certificate.serial_number

    data = forging.token(time_office, MESSAGE, change=exchange)
    assert "under another certificate than the one it carries" in refused(data, time_root).message


# The response around the token


def _inner(data: bytes) -> bytes:
    return der.raw(der.decode(der.TlvPair, data, what="", path=None).second)


def test_a_bare_token_is_refused(time_root: Made, time_office: Made) -> None:
    data = _inner(forging.token(time_office, MESSAGE))
    assert "form that is accepted" in refused(data, time_root).message


@pytest.mark.parametrize("extra", [b"\0", b"\x05\x00", bytes(50)])
def test_trailing_bytes_are_refused(extra: bytes, time_root: Made, time_office: Made) -> None:
    error = refused(forging.token(time_office, MESSAGE) + extra, time_root)
    assert "ExtraData" in str(error.observed)


def test_ber_lengths_are_refused(time_root: Made, time_office: Made) -> None:
    data = forging.token(time_office, MESSAGE)
    assert data[:2] == b"\x30\x82"
    for changed in (b"\x30\x80" + data[4:] + b"\0\0", b"\x30\x83\0" + data[2:]):
        assert "InvalidLength" in str(refused(changed, time_root).observed)


def test_a_status_text_is_refused(time_root: Made, time_office: Made) -> None:
    inner = _inner(forging.token(time_office, MESSAGE))
    for changed in (
        forging.response(inner, texts=["all is well"]),
        forging.response(inner, texts=[]),
        forging.response(inner, failure=b"\x80"),
    ):
        error = refused(changed, time_root)
        assert "has words or failure bits that no signature covers" in error.message


@pytest.mark.parametrize(
    ("status", "words"),
    [(1, "granted with modifications"), (2, "rejected"), (3, "waiting"), (9, "status 9")],
)
def test_a_status_other_than_granted_is_refused(
    status: int, words: str, time_root: Made, time_office: Made
) -> None:
    inner = _inner(forging.token(time_office, MESSAGE))
    error = refused(forging.response(inner, status=status), time_root)
    assert error.message == "the time-stamp authority did not grant the request"
    assert str(error.observed).startswith(words)


def test_a_refusal_gives_the_authoritys_words(time_root: Made) -> None:
    data = forging.response(None, status=2, texts=["no\x1b[31m funds"], failure=b"\x84\x00\x00\x41")
    with pytest.raises(TimeStampUnavailableError) as caught:
        parse_token(data, path="t")
    assert caught.value.observed == (
        "rejected, the digest algorithm is not accepted, the request was not understood, "
        "a failure on its side, failure bit 31, “no?[31m funds”, no token"
    )


def test_granted_without_a_token_is_refused(time_root: Made) -> None:
    assert str(refused(forging.response(None), time_root).observed) == "granted, no token"


def test_the_size_is_bounded_at_the_limit() -> None:
    with pytest.raises(TrustError, match="form that is accepted"):
        parse_token(bytes(MAX_TOKEN_BYTES), path="t")
    with pytest.raises(TrustError, match="the time-stamp file is too large"):
        parse_token(bytes(MAX_TOKEN_BYTES + 1), path="t")
