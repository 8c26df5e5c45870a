"""The demonstration authority: plainly one, repeatable, and accepted where it should be."""

from __future__ import annotations

import datetime as dt
import hashlib

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec

from evidpack.errors import TrustError
from evidpack.trust import der, der_timestamps
from evidpack.trust.authority import DemoAuthority, demo_time_stamp
from evidpack.trust.keys import load_signing_key
from evidpack.trust.paths import Usage, require_path
from evidpack.trust.timestamps import parse_token, request, require_token
from tests.trust import forging
from tests.trust.certificate_maker import DAY, NOW

NAME = "Thistlemoor Roads Unit"


def fixed_keys(seed: str) -> object:
    """Keys from a counter, so that two authorities can have the same ones."""
    count = 0

    def source() -> ec.EllipticCurvePrivateKey:
        nonlocal count
        count += 1
        number = int.from_bytes(hashlib.sha256(f"{seed}{count}".encode()).digest(), "big") >> 2
        return ec.derive_private_key(number, ec.SECP256R1())

    return source


def create(
    seed: str | None = None, *, now: dt.datetime = NOW, with_intermediate: bool = False
) -> DemoAuthority:
    more = {} if seed is None else {"key_source": fixed_keys(seed)}
    return DemoAuthority.create(name=NAME, now=now, with_intermediate=with_intermediate, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("with_intermediate", [False, True])
def test_the_same_keys_and_time_give_the_same_bytes(with_intermediate: bool) -> None:
    first, second = (create("x", with_intermediate=with_intermediate) for _ in range(2))
    assert first.signer.certificate_pem == second.signer.certificate_pem
    assert first.time_stamper.certificate == second.time_stamper.certificate
    assert first.intermediates == second.intermediates
    asked = request(b"m", 5)
    stamps = [demo_time_stamp(asked, authority=made, now=NOW) for made in (first, second)]
    assert stamps[0] == stamps[1]
    assert stamps[0] != demo_time_stamp(asked, authority=first, now=NOW + DAY)


def test_other_keys_or_times_give_other_bytes() -> None:
    base = create("x").signer.certificate
    assert create("y").signer.certificate != base
    assert create("x", now=NOW + DAY).signer.certificate != base
    assert create().signer.certificate != create().signer.certificate


def test_all_of_it_says_that_it_is_a_demonstration() -> None:
    made = create(with_intermediate=True)
    holders = [made.root, made.intermediate, made.signer, made.time_stamp_root, made.time_stamper]
    for holder in holders:
        assert holder is not None
        assert "demonstration" in holder.certificate.subject.rfc4514_string().lower()
        assert "demonstration" in holder.certificate.issuer.rfc4514_string().lower()
    serials = {holder.certificate.serial_number for holder in holders if holder}
    assert len(serials) == 5
    assert all(0 < serial < 2**127 for serial in serials)


@pytest.mark.parametrize("with_intermediate", [False, True])
def test_the_paths_are_accepted(with_intermediate: bool) -> None:
    made = create(with_intermediate=with_intermediate)
    path = require_path(
        made.signer.certificate,
        made.intermediates,
        [made.root.certificate],
        at=NOW,
        usage=Usage.SIGNING,
    )
    assert len(path) == 2 + with_intermediate
    require_path(
        made.time_stamper.certificate,
        [],
        [made.time_stamp_root.certificate],
        at=NOW,
        usage=Usage.TIME_STAMPING,
    )


def test_neither_certificate_serves_for_the_others_use() -> None:
    made = create()
    with pytest.raises(TrustError, match="is for another or a second purpose"):
        require_path(
            made.signer.certificate, [], [made.root.certificate], at=NOW, usage=Usage.TIME_STAMPING
        )
    with pytest.raises(TrustError, match="has the wrong key usage"):
        require_path(
            made.time_stamper.certificate,
            [],
            [made.time_stamp_root.certificate],
            at=NOW,
            usage=Usage.SIGNING,
        )
    with pytest.raises(TrustError, match="is not known"):
        require_path(
            made.signer.certificate,
            [],
            [made.time_stamp_root.certificate],
            at=NOW,
            usage=Usage.SIGNING,
        )


def test_the_signing_certificate_has_the_documented_profile() -> None:
    certificate = create().signer.certificate
    usage = certificate.extensions.get_extension_for_class(x509.KeyUsage)
    assert usage.critical
    assert usage.value.digital_signature
    assert usage.value.content_commitment
    purposes = certificate.extensions.get_extension_for_class(x509.ExtendedKeyUsage)
    assert [purpose.dotted_string for purpose in purposes.value] == [
        "1.3.6.1.5.5.7.3.36",
        "1.3.6.1.5.5.7.3.4",
    ]
    assert certificate.not_valid_before_utc == NOW - DAY


def test_the_time_stamp_certificate_has_the_one_critical_purpose() -> None:
    certificate = create().time_stamper.certificate
    purposes = certificate.extensions.get_extension_for_class(x509.ExtendedKeyUsage)
    assert purposes.critical
    assert [purpose.dotted_string for purpose in purposes.value] == ["1.3.6.1.5.5.7.3.8"]


def test_a_key_is_handed_out_encrypted_only() -> None:
    made = create()
    pem = made.signer.key_pem(b"demonstration only")
    key = load_signing_key(pem, b"demonstration only", path="k")
    assert key.public_key() == made.signer.certificate.public_key()
    with pytest.raises(TrustError, match="the passphrase is too short"):
        made.signer.key_pem(b"")


def test_a_stamp_carries_time_nonce_and_accuracy() -> None:
    made = create()
    moment = NOW.astimezone(dt.timezone(dt.timedelta(hours=2)))
    token = parse_token(demo_time_stamp(request(b"m", 99), authority=made, now=moment), path="t")
    require_token(token, b"m", [made.time_stamp_root.certificate])
    assert token.gen_time == NOW
    assert token.nonce == 99
    assert token.accuracy == dt.timedelta(seconds=1)
    assert token.policy.startswith("2.25.")


def _request(**changed: object) -> bytes:
    fields: dict[str, object] = {
        "version": 1,
        "imprint": der_timestamps.MessageImprint(
            hash_algorithm=forging.algorithm(forging.SHA256), hashed_message=bytes(32)
        ),
        "policy": None,
        "nonce": 1,
        "certificates_wanted": True,
        "extensions": None,
    }
    return der.encode(der_timestamps.TimeStampRequest(**(fields | changed)))  # type: ignore[arg-type]


def test_the_request_made_here_is_a_good_one() -> None:
    demo_time_stamp(_request(), authority=create(), now=NOW)


@pytest.mark.parametrize(
    "changed",
    [
        {"version": 2},
        {"policy": forging.oid("1.2.3")},
        {"certificates_wanted": False},
        {
            "extensions": [
                der_timestamps.Extension(kind=forging.oid("1.2.3"), critical=False, value=b"")
            ]
        },
        {
            "imprint": der_timestamps.MessageImprint(
                hash_algorithm=forging.algorithm(forging.SHA256), hashed_message=bytes(31)
            )
        },
    ],
)
def test_a_request_of_another_kind_is_refused(changed: dict[str, object]) -> None:
    with pytest.raises(TrustError, match="answers only plain requests that want certificates"):
        demo_time_stamp(_request(**changed), authority=create(), now=NOW)


def test_a_weak_digest_is_not_stamped() -> None:
    weak = der_timestamps.MessageImprint(
        hash_algorithm=forging.algorithm("1.3.14.3.2.26"), hashed_message=bytes(20)
    )
    with pytest.raises(TrustError, match="the time-stamp request uses a digest that is weak"):
        demo_time_stamp(_request(imprint=weak), authority=create(), now=NOW)


@pytest.mark.parametrize("data", [b"", b"\x30\x00", b"junk"])
def test_what_is_no_request(data: bytes) -> None:
    with pytest.raises(TrustError, match="the time-stamp request is not in the one form"):
        demo_time_stamp(data, authority=create(), now=NOW)
