"""Paths: every rule broken once, each refusal naming the certificate and the rule."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID as Purpose

from evidpack.errors import TrustError
from evidpack.trust.certificates import certificate_from_der
from evidpack.trust.paths import Usage, find_path, require_nothing_off_path, require_path
from tests.trust.certificate_maker import (
    DAY,
    DOCUMENT_SIGNING,
    NOW,
    SIGNING,
    Made,
    authority,
    ec_key,
    make,
    rsa_key,
)
from tests.trust.forging import SHA1_ECDSA, parts_of, resigned_body

UNKNOWN = x509.UnrecognizedExtension(x509.ObjectIdentifier("1.2.3.4.5"), b"\x05\x00")


def path_of(
    end: Made, between: list[Made], root: Made, *, at: dt.datetime = NOW
) -> tuple[x509.Certificate, ...]:
    return require_path(
        end.certificate,
        [made.certificate for made in between],
        [root.certificate],
        at=at,
        usage=Usage.SIGNING,
    )


def refused(end: Made, between: list[Made], root: Made, *, at: dt.datetime = NOW) -> TrustError:
    with pytest.raises(TrustError) as caught:
        path_of(end, between, root, at=at)
    assert caught.value.hint, "every refusal says what to do next"
    return caught.value


def test_a_path_is_given_from_the_end_to_the_anchor(root: Made, branch: Made, signer: Made) -> None:
    unused = authority("Invented Bystander")
    path = path_of(signer, [unused, branch], root)
    assert path == (signer.certificate, branch.certificate, root.certificate)


def test_a_path_without_intermediates(root: Made) -> None:
    end = make(issuer=root)
    assert path_of(end, [], root) == (end.certificate, root.certificate)


def test_rsa_and_p384_authorities() -> None:
    root = authority(key=rsa_key(3072))
    branch = authority("Invented County Branch", issuer=root, key=ec_key(ec.SECP384R1()))
    assert len(path_of(make(issuer=branch), [branch], root)) == 3


def test_an_anchor_may_be_an_intermediate(root: Made, branch: Made, signer: Made) -> None:
    assert path_of(signer, [], branch) == (signer.certificate, branch.certificate)


def test_the_right_one_of_two_anchors_with_one_name_is_found(
    signer: Made, root: Made, branch: Made
) -> None:
    other = authority()
    path = require_path(
        signer.certificate,
        [branch.certificate],
        [other.certificate, root.certificate],
        at=NOW,
        usage=Usage.SIGNING,
    )
    assert path[-1] == root.certificate


# Usage of the end certificate


ENDS = {
    "no key usage": (
        {"usage": None},
        "has no key usage",
        "keyUsage digitalSignature and nonRepudiation",
        "no keyUsage",
    ),
    "key encipherment": (
        {"usage": ("key_encipherment",)},
        "has the wrong key usage",
        "keyUsage digitalSignature and nonRepudiation",
        "keyEncipherment",
    ),
    "digital signature alone": (
        {"usage": ("digital_signature",)},
        "has the wrong key usage",
        "keyUsage digitalSignature and nonRepudiation",
        "digitalSignature",
    ),
    "no purpose": (
        {"purposes": None},
        "names no purpose",
        "extendedKeyUsage documentSigning, emailProtection",
        "no extendedKeyUsage",
    ),
    "server": (
        {"purposes": [Purpose.SERVER_AUTH]},
        "is for another purpose",
        "extendedKeyUsage documentSigning, emailProtection",
        "serverAuth",
    ),
    "any purpose": (
        {"purposes": [Purpose.ANY_EXTENDED_KEY_USAGE]},
        "is for another purpose",
        "extendedKeyUsage documentSigning, emailProtection",
        "anyExtendedKeyUsage",
    ),
    "document signing alone": (
        {"purposes": [DOCUMENT_SIGNING]},
        "is for another purpose",
        "extendedKeyUsage documentSigning, emailProtection",
        "documentSigning",
    ),
    "a purpose without a name": (
        {"purposes": [x509.ObjectIdentifier("1.2.3.4")]},
        "is for another purpose",
        "extendedKeyUsage documentSigning, emailProtection",
        "1.2.3.4",
    ),
    "an authority's own": (
        {"ca": True, "usage": ("key_cert_sign", "digital_signature", "content_commitment")},
        "is an authority's own",
        "basicConstraints CA false",
        "CA true",
    ),
    "unknown critical extension": (
        {"extra": [(UNKNOWN, True)]},
        "has a critical extension that is not understood",
        "keyUsage, extendedKeyUsage and basicConstraints alone as critical",
        "1.2.3.4.5",
    ),
    "known critical extension without effect here": (
        {"extra": [(x509.SubjectAlternativeName([x509.DNSName("a.invalid")]), True)]},
        "has a critical extension that is not understood",
        "keyUsage, extendedKeyUsage and basicConstraints alone as critical",
        "2.5.29.17",
    ),
}


@pytest.mark.parametrize("kind", ENDS)
def test_an_end_certificate_of_the_wrong_kind_is_refused(
    kind: str, root: Made, branch: Made
) -> None:
    settings, rule, expected, observed = ENDS[kind]
    error = refused(make(issuer=branch, **settings), [branch], root)  # type: ignore[arg-type]
    assert error.message == f"the certificate of “Thistlemoor Roads Unit” {rule}"
    assert (error.expected, error.observed) == (expected, observed)


def test_no_basic_constraints_and_more_purposes_are_fine(root: Made, branch: Made) -> None:
    path_of(make(issuer=branch, ca=None), [branch], root)
    path_of(make(issuer=branch, purposes=(*SIGNING, Purpose.CLIENT_AUTH)), [branch], root)
    path_of(make(issuer=branch, extra=[(UNKNOWN, False)]), [branch], root)


# Time


@pytest.mark.parametrize(
    ("at", "valid"),
    [
        (NOW - 30 * DAY, True),
        (NOW - 30 * DAY - dt.timedelta(seconds=1), False),
        (NOW + 300 * DAY, True),
        (NOW + 300 * DAY + dt.timedelta(microseconds=1), False),
        (NOW + 300 * DAY + dt.timedelta(seconds=1), False),
    ],
)
def test_the_end_certificate_is_valid_from_first_to_last_second(
    at: dt.datetime, valid: bool, root: Made, branch: Made, signer: Made
) -> None:
    if valid:
        path_of(signer, [branch], root, at=at)
        return
    error = refused(signer, [branch], root, at=at)
    word = "not yet" if at < NOW else "no longer"
    assert (
        error.message == f"the certificate of “Thistlemoor Roads Unit” was {word} valid at the time"
    )
    assert error.observed == at.isoformat()
    assert str(error.expected).startswith("a time from 2026-04-14T16:00:00+00:00 to ")


def test_a_time_with_another_offset_is_the_same_time(
    root: Made, branch: Made, signer: Made
) -> None:
    zone = dt.timezone(dt.timedelta(hours=14))
    path_of(signer, [branch], root, at=(NOW - 30 * DAY).astimezone(zone))


def test_a_time_without_offset_is_a_mistake_of_the_caller(root: Made, signer: Made) -> None:
    with pytest.raises(ValueError, match="a time with an offset is needed"):
        path_of(signer, [], root, at=NOW.replace(tzinfo=None))


@pytest.mark.parametrize(
    ("start", "end", "word"),
    [(NOW - 300 * DAY, NOW - DAY, "no longer"), (NOW + DAY, NOW + 300 * DAY, "not yet")],
)
def test_an_authority_must_be_valid_too(
    start: dt.datetime, end: dt.datetime, word: str, root: Made
) -> None:
    branch = authority("Invented County Branch", issuer=root, start=start, end=end)
    error = refused(make(issuer=branch), [branch], root)
    assert (
        error.message == f"the certificate of “Invented County Branch” was {word} valid at the time"
    )


def test_an_anchor_must_be_valid_too() -> None:
    root = authority(end=NOW - DAY)
    error = refused(make(issuer=root), [], root)
    assert (
        error.message == "the certificate of “Invented County Root” was no longer valid at the time"
    )


# Who issued it


def test_no_anchor(signer: Made) -> None:
    with pytest.raises(TrustError, match="no anchor was given") as caught:
        require_path(signer.certificate, [], [], at=NOW, usage=Usage.SIGNING)
    assert "root certificate" in str(caught.value.hint)


def test_a_self_signed_stranger(root: Made) -> None:
    error = refused(make(), [], root)
    assert error.message == (
        "the certificate of “Thistlemoor Roads Unit” is self-signed and is not an anchor"
    )


def test_the_end_certificate_as_its_own_anchor() -> None:
    for made in (make(), make(issuer=authority())):
        error = refused(made, [], made)
        assert "was itself given as an anchor" in error.message


def test_the_right_name_with_another_key(root: Made) -> None:
    impostor = authority()
    error = refused(make(issuer=impostor), [], root)
    assert error.message == (
        "the certificate of “Thistlemoor Roads Unit” was not signed with the key of "
        "“Invented County Root”"
    )
    assert error.observed == "the right name but another key"


def test_the_right_name_with_a_key_of_another_kind(root: Made) -> None:
    impostor = authority(key=rsa_key(3072))
    assert "was not signed with the key of" in refused(make(issuer=impostor), [], root).message


def test_an_intermediate_with_the_right_name_and_another_key(root: Made, signer: Made) -> None:
    impostor = authority("Invented County Branch", issuer=root)
    error = refused(signer, [impostor], root)
    assert "was not signed with the key of “Invented County Branch”" in error.message


def test_a_missing_intermediate(root: Made, signer: Made) -> None:
    error = refused(signer, [], root)
    assert error.message == (
        "the issuer of the certificate of “Thistlemoor Roads Unit” is not known: "
        "“Invented County Branch”"
    )
    assert "ask “Invented County Branch” for its root certificate" in str(error.hint)


def test_an_unknown_root(branch: Made, signer: Made) -> None:
    error = refused(signer, [branch], authority("Invented Other Root"))
    assert error.message.endswith("is not known: “Invented County Root”")


def test_two_authorities_that_vouch_for_each_other(root: Made) -> None:
    first_key, second_key = ec_key(), ec_key()
    second = authority("Second", key=second_key)
    first = authority("First", issuer=second, key=first_key)
    second = authority(
        "Second", issuer=Made(certificate=first.certificate, key=first_key), key=second_key
    )
    first = authority("First", issuer=second, key=first_key)
    error = refused(make(issuer=first), [first, second], root)
    assert error.message.startswith("no acceptable path leads from the certificate of")


# What an authority may do


AUTHORITIES: dict[str, tuple[Callable[[Made], Made], str, str]] = {
    "CA false": (
        lambda root: make(
            "Invented County Branch", issuer=root, usage=("key_cert_sign",), purposes=None
        ),
        "is not an authority's, but issued another",
        "CA false or absent",
    ),
    "no basic constraints": (
        lambda root: make(
            "Invented County Branch", issuer=root, ca=None, usage=("key_cert_sign",), purposes=None
        ),
        "is not an authority's, but issued another",
        "CA false or absent",
    ),
    "no key usage": (
        lambda root: authority("Invented County Branch", issuer=root, usage=None),
        "may not sign certificates",
        "no keyUsage",
    ),
    "another key usage": (
        lambda root: authority("Invented County Branch", issuer=root, usage=("crl_sign",)),
        "may not sign certificates",
        "cRLSign",
    ),
    "unknown critical extension": (
        lambda root: authority("Invented County Branch", issuer=root, extra=[(UNKNOWN, True)]),
        "has a critical extension that is not understood",
        "1.2.3.4.5",
    ),
}


@pytest.mark.parametrize("kind", AUTHORITIES)
def test_an_authority_of_the_wrong_kind_is_refused(kind: str, root: Made) -> None:
    maker, rule, observed = AUTHORITIES[kind]
    branch = maker(root)
    error = refused(make(issuer=branch), [branch], root)
    assert error.message == f"the certificate of “Invented County Branch” {rule}"
    assert error.observed == observed


def test_another_signer_as_issuer(root: Made, signer: Made, branch: Made) -> None:
    error = refused(make("Invented Accomplice", issuer=signer), [signer, branch], root)
    assert error.message == (
        "the certificate of “Thistlemoor Roads Unit” is not an authority's, but issued another"
    )


def test_a_path_longer_than_an_authority_allows(root: Made, branch: Made) -> None:
    below = authority("Invented District", issuer=branch)
    error = refused(make(issuer=below), [below, branch], root)
    assert error.message == (
        "the certificate of “Invented County Branch” allows fewer authorities below it than "
        "there are"
    )
    assert (error.expected, error.observed) == ("path length at most 0", "1")


def test_a_path_longer_than_the_anchor_allows() -> None:
    root = authority(path_length=0)
    branch = authority("Invented County Branch", issuer=root)
    error = refused(make(issuer=branch), [branch], root)
    assert "“Invented County Root” allows fewer authorities below it" in error.message


def test_the_length_of_a_path_is_bounded(root: Made) -> None:
    chain = [authority("Level 1", issuer=root)]
    for level in range(2, 8):
        chain.append(authority(f"Level {level}", issuer=chain[-1]))
    assert len(path_of(make(issuer=chain[5]), chain[:6], root)) == 8
    error = refused(make(issuer=chain[6]), chain, root)
    assert error.message.startswith("no acceptable path leads")
    assert "depth" in str(error.observed)


@pytest.mark.parametrize(
    "purposes",
    [[Purpose.SERVER_AUTH], [Purpose.EMAIL_PROTECTION], [Purpose.ANY_EXTENDED_KEY_USAGE]],
)
def test_an_authority_limited_to_other_purposes(
    purposes: list[x509.ObjectIdentifier], root: Made
) -> None:
    branch = authority("Invented County Branch", issuer=root, purposes=purposes)
    error = refused(make(issuer=branch), [branch], root)
    assert error.message == (
        "the authority “Invented County Branch” may not issue certificates for signing seals"
    )


def test_an_authority_limited_to_our_purposes(root: Made) -> None:
    branch = authority("Invented County Branch", issuer=root, purposes=SIGNING)
    assert len(path_of(make(issuer=branch), [branch], root)) == 3


# Strength


@pytest.mark.parametrize("bits", [1024, 2048])
def test_a_short_rsa_key_at_the_end(bits: int, root: Made) -> None:
    error = refused(make(issuer=root, key=rsa_key(bits)), [], root)
    assert error.message == (
        "the key of “Thistlemoor Roads Unit” is not strong enough or not of an accepted kind"
    )
    assert error.observed == f"RSA of {bits} bits"


@pytest.mark.parametrize("bits", [1024, 2048])
def test_a_short_rsa_key_of_an_authority(bits: int, root: Made) -> None:
    branch = authority("Invented County Branch", issuer=root, key=rsa_key(bits))
    error = refused(make(issuer=branch), [branch], root)
    assert (error.message[:35], error.observed) == (
        "the key of “Invented County Branch”",
        f"RSA of {bits} bits",
    )


def test_a_short_rsa_key_of_the_anchor() -> None:
    root = authority(key=rsa_key(2048))
    assert "“Invented County Root” is not strong" in refused(make(issuer=root), [], root).message


def test_a_curve_that_is_not_accepted() -> None:
    root = authority(key=ec_key(ec.SECP521R1()))
    error = refused(make(issuer=root), [], root)
    assert error.observed == "an elliptic-curve key on secp521r1"


def test_an_edwards_key(root: Made) -> None:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    end = make(issuer=root, key=Ed25519PrivateKey.generate())  # type: ignore[arg-type]
    assert refused(end, [], root).observed == "a key of another kind (Ed25519PublicKey)"


def signed_with_sha1(made: Made, issuer: Made) -> Made:
    body = parts_of(parts_of(made.der)[0])
    assert body[2] == bytes.fromhex("300a06082a8648ce3d040302")  # ecdsa-with-SHA256
    body[2] = SHA1_ECDSA
    encoded = resigned_body(issuer, body, weak=True)
    return Made(certificate=certificate_from_der(encoded, path="sha1"), key=made.key)


def test_a_weak_digest_by_an_authority(root: Made) -> None:
    end = signed_with_sha1(make(issuer=root), root)
    error = refused(end, [], root)
    assert error.message == (
        "the certificate of “Thistlemoor Roads Unit” is signed with a weak digest"
    )
    assert (error.expected, error.observed) == ("SHA-256, SHA-384 or SHA-512", "SHA1")


def test_an_anchor_signed_with_a_weak_digest() -> None:
    """Its signature vouches for nothing, but the rule is the same for all and simple to state."""
    root = authority()
    root = signed_with_sha1(root, root)
    error = refused(make(issuer=root), [], root)
    assert error.message == "the certificate of “Invented County Root” is signed with a weak digest"


# Certificates beside the path


def test_a_certificate_beside_the_path(root: Made, branch: Made, signer: Made) -> None:
    path = path_of(signer, [branch], root)
    require_nothing_off_path(path, path, what="the signature", place="s")
    twin = authority("Invented County Branch", issuer=root, key=branch.key)
    with pytest.raises(TrustError, match="which is not on the path to the anchor") as caught:
        require_nothing_off_path([*path, twin.certificate], path, what="the signature", place="s")
    assert caught.value.path == "s"


def test_find_path_leaves_purposes_and_sizes_aside(root: Made) -> None:
    end = make(issuer=root, key=rsa_key(2048), purposes=[Purpose.SERVER_AUTH])
    path = find_path(end.certificate, [], [root.certificate], at=NOW)
    assert path == (end.certificate, root.certificate)


def test_a_name_without_common_name_is_given_in_full(root: Made) -> None:
    end = make(
        issuer=root,
        issuer_name=x509.Name(
            [x509.NameAttribute(x509.NameOID.ORGANIZATION_NAME, "Invented Office")]
        ),
    )
    error = refused(end, [], root)
    assert error.message.endswith("is not known: “O=Invented Office”")
