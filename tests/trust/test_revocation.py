"""Revocation lists: what a list can tell, and what it cannot. See also test_pkits."""

from __future__ import annotations

import contextlib
import datetime as dt
import subprocess
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding
from hypothesis import given
from hypothesis import strategies as st

from evidpack.errors import TrustError
from evidpack.limits import MAX_PEM_BYTES
from evidpack.trust.revocation import load_crls, require_not_revoked
from tests.trust.certificate_maker import DAY, NOW, Made, authority, ec_key, make, rsa_key
from tests.trust.forging import SHA1_ECDSA, parts_of, put_together, resigned_body

Entry = tuple[Made, dt.datetime, list[tuple[x509.ExtensionType, bool]]]
POINT = x509.UniformResourceIdentifier("http://lists.invalid/branch.crl")
ALL: dict[str, Any] = {
    "full_name": None,
    "relative_name": None,
    "only_contains_user_certs": False,
    "only_contains_ca_certs": False,
    "only_some_reasons": None,
    "indirect_crl": False,
    "only_contains_attribute_certs": False,
}
UNKNOWN = x509.UnrecognizedExtension(x509.ObjectIdentifier("1.2.3.4.5"), b"\x05\x00")


def crl(
    issuer: Made,
    *entries: Entry,
    key: Any = None,
    issued: dt.datetime = NOW - DAY,
    until: dt.datetime | None = NOW + DAY,
    extensions: list[tuple[x509.ExtensionType, bool]] | None = None,
) -> x509.CertificateRevocationList:
    builder = (
        x509.CertificateRevocationListBuilder()
        .issuer_name(issuer.certificate.subject)
        .last_update(issued)
        .next_update(until or NOW + DAY)
    )
    for made, since, details in entries:
        revoked = (
            x509.RevokedCertificateBuilder()
            .serial_number(made.certificate.serial_number)
            .revocation_date(since)
        )
        for value, critical in details:
            revoked = revoked.add_extension(value, critical=critical)
        builder = builder.add_revoked_certificate(revoked.build())
    for value, critical in extensions or []:
        builder = builder.add_extension(value, critical=critical)
    return builder.sign(key or issuer.key, hashes.SHA256())


def path_of(signer: Made, branch: Made, root: Made) -> list[x509.Certificate]:
    return [signer.certificate, branch.certificate, root.certificate]


@pytest.fixture
def lists(root: Made) -> list[x509.CertificateRevocationList]:
    return [crl(root)]


def test_lists_without_the_certificates(
    signer: Made, branch: Made, root: Made, lists: list[x509.CertificateRevocationList]
) -> None:
    require_not_revoked(path_of(signer, branch, root), [crl(branch), *lists], NOW)


def test_the_anchor_needs_no_list(root: Made) -> None:
    require_not_revoked([root.certificate], [], NOW)


@pytest.mark.parametrize(
    ("since", "details", "observed"),
    [
        (NOW - DAY, [], "revoked since 2026-05-13T16:00:00+00:00 (no reason given)"),
        (NOW, [], "revoked since 2026-05-14T16:00:00+00:00 (no reason given)"),
        (
            NOW - DAY,
            [(x509.CRLReason(x509.ReasonFlags.key_compromise), False)],
            "revoked since 2026-05-13T16:00:00+00:00 (keyCompromise)",
        ),
        (
            NOW + DAY,
            [(x509.InvalidityDate(NOW.replace(tzinfo=None) - DAY), False)],
            "revoked since 2026-05-13T16:00:00+00:00 (no reason given)",
        ),
        (
            NOW - DAY,
            [(x509.InvalidityDate(NOW.replace(tzinfo=None) + DAY), False)],
            "revoked since 2026-05-13T16:00:00+00:00 (no reason given)",
        ),
    ],
)
def test_a_revoked_signer(
    since: dt.datetime,
    details: Any,
    observed: str,
    signer: Made,
    branch: Made,
    root: Made,
    lists: list[x509.CertificateRevocationList],
) -> None:
    given = [crl(branch, (signer, since, details)), *lists]
    with pytest.raises(TrustError) as caught:
        require_not_revoked(path_of(signer, branch, root), given, NOW)
    assert caught.value.message == "the certificate of “Thistlemoor Roads Unit” was revoked"
    assert caught.value.observed == observed


def test_a_later_revocation_does_not_undo_an_earlier_seal(
    signer: Made, branch: Made, root: Made, lists: list[x509.CertificateRevocationList]
) -> None:
    later = crl(branch, (signer, NOW + DAY, []), issued=NOW + DAY, until=NOW + 2 * DAY)
    require_not_revoked(path_of(signer, branch, root), [later, *lists], NOW)


def test_one_of_two_lists_is_enough_to_revoke(
    signer: Made, branch: Made, root: Made, lists: list[x509.CertificateRevocationList]
) -> None:
    given = [crl(branch), crl(branch, (signer, NOW - DAY, [])), *lists]
    for order in (given, given[::-1]):
        with pytest.raises(TrustError, match="was revoked"):
            require_not_revoked(path_of(signer, branch, root), order, NOW)


def test_a_revoked_authority(signer: Made, branch: Made, root: Made) -> None:
    given = [crl(branch), crl(root, (branch, NOW - DAY, []))]
    with pytest.raises(TrustError, match="the certificate of “Invented County Branch” was revoked"):
        require_not_revoked(path_of(signer, branch, root), given, NOW)


CANNOT_TELL: dict[str, tuple[Any, str]] = {
    "none": (lambda _branch: [], "no list from it"),
    "another issuer's": (lambda _branch: [crl(authority("Invented Other"))], "no list from it"),
    "signed by another key": (
        lambda branch: [crl(branch, key=ec_key())],
        "a list with a signature that does not verify",
    ),
    "signed by a key of another kind": (
        lambda branch: [crl(branch, key=ec_key(ec.SECP384R1()))],
        "a list with a signature that does not verify",
    ),
    "signed by an RSA key": (
        lambda branch: [crl(branch, key=rsa_key(3072))],
        "a list with a signature that does not verify",
    ),
    "out of date": (
        lambda branch: [crl(branch, until=NOW - dt.timedelta(seconds=1))],
        "a list that was out of date",
    ),
    "unknown critical extension": (
        lambda branch: [crl(branch, extensions=[(UNKNOWN, True)])],
        "a list with a critical extension that is not understood",
    ),
    "unknown critical entry extension": (
        lambda branch: [crl(branch, (make(), NOW, [(UNKNOWN, True)]))],
        "a list with a critical entry extension that is not understood",
    ),
    "authorities only": (
        lambda branch: [
            crl(
                branch,
                extensions=[
                    (
                        x509.IssuingDistributionPoint(**(ALL | {"only_contains_ca_certs": True})),
                        True,
                    )
                ],
            )
        ],
        "a list that is about other certificates or some reasons only",
    ),
    "attribute certificates only": (
        lambda branch: [
            crl(
                branch,
                extensions=[
                    (
                        x509.IssuingDistributionPoint(
                            **(ALL | {"only_contains_attribute_certs": True})
                        ),
                        True,
                    )
                ],
            )
        ],
        "a list that is about other certificates or some reasons only",
    ),
    "some reasons only": (
        lambda branch: [
            crl(
                branch,
                extensions=[
                    (
                        x509.IssuingDistributionPoint(
                            **(
                                ALL
                                | {
                                    "only_some_reasons": frozenset(
                                        [x509.ReasonFlags.key_compromise]
                                    )
                                }
                            )
                        ),
                        True,
                    )
                ],
            )
        ],
        "a list that is about other certificates or some reasons only",
    ),
    "indirect": (
        lambda branch: [
            crl(
                branch,
                extensions=[
                    (x509.IssuingDistributionPoint(**(ALL | {"indirect_crl": True})), True)
                ],
            )
        ],
        "a list that is about other certificates or some reasons only",
    ),
    "relative name": (
        lambda branch: [
            crl(
                branch,
                extensions=[
                    (
                        x509.IssuingDistributionPoint(
                            **(
                                ALL
                                | {
                                    "relative_name": x509.RelativeDistinguishedName(
                                        [x509.NameAttribute(x509.NameOID.COMMON_NAME, "list 1")]
                                    )
                                }
                            )
                        ),
                        True,
                    )
                ],
            )
        ],
        "a list that is about other certificates or some reasons only",
    ),
    "another point": (
        lambda branch: [
            crl(
                branch,
                extensions=[
                    (x509.IssuingDistributionPoint(**(ALL | {"full_name": [POINT]})), True)
                ],
            )
        ],
        "a list that is about other certificates or some reasons only",
    ),
    "out of date and forged": (
        lambda branch: [crl(branch, until=NOW - dt.timedelta(1) / 2), crl(branch, key=ec_key())],
        "a list that was out of date; a list with a signature that does not verify",
    ),
}


@pytest.mark.parametrize("kind", CANNOT_TELL)
def test_a_list_that_cannot_tell(
    kind: str,
    signer: Made,
    branch: Made,
    root: Made,
    lists: list[x509.CertificateRevocationList],
) -> None:
    maker, observed = CANNOT_TELL[kind]
    with pytest.raises(TrustError) as caught:
        require_not_revoked(path_of(signer, branch, root), [*maker(branch), *lists], NOW)
    assert caught.value.message == (
        "no revocation list that was given says whether the certificate of "
        "“Thistlemoor Roads Unit” was revoked"
    )
    assert caught.value.observed == observed
    assert caught.value.hint == (
        "ask “Invented County Branch” for its revocation list (CRL) for that time"
    )


def test_an_authority_that_may_not_sign_lists(root: Made) -> None:
    branch = authority("Invented County Branch", issuer=root, usage=("key_cert_sign",))
    signer = make(issuer=branch)
    with pytest.raises(TrustError) as caught:
        require_not_revoked(path_of(signer, branch, root), [crl(branch)], NOW)
    assert caught.value.observed == "a list by an authority that may not sign lists"


def test_a_list_for_authorities_is_about_an_authority(
    signer: Made, branch: Made, root: Made
) -> None:
    for_authorities = x509.IssuingDistributionPoint(**(ALL | {"only_contains_ca_certs": True}))
    for_users = x509.IssuingDistributionPoint(**(ALL | {"only_contains_user_certs": True}))
    given = [
        crl(branch, extensions=[(for_users, True)]),
        crl(root, extensions=[(for_authorities, True)]),
    ]
    require_not_revoked(path_of(signer, branch, root), given, NOW)
    wrong = [crl(branch), crl(root, extensions=[(for_users, True)])]
    with pytest.raises(TrustError, match="of “Invented County Branch” was revoked"):
        require_not_revoked(path_of(signer, branch, root), wrong, NOW)


def test_a_list_for_the_point_that_the_certificate_names(branch: Made, root: Made) -> None:
    points = x509.CRLDistributionPoints(
        [
            x509.DistributionPoint(
                full_name=[POINT], relative_name=None, reasons=None, crl_issuer=None
            ),
            x509.DistributionPoint(
                full_name=None,
                relative_name=x509.RelativeDistinguishedName(
                    [x509.NameAttribute(x509.NameOID.COMMON_NAME, "1")]
                ),
                reasons=None,
                crl_issuer=None,
            ),
        ]
    )
    signer = make(issuer=branch, extra=[(points, False)])
    point = x509.IssuingDistributionPoint(**(ALL | {"full_name": [POINT]}))
    given = [crl(branch, extensions=[(point, True)]), crl(root)]
    require_not_revoked(path_of(signer, branch, root), given, NOW)


def test_extensions_that_are_not_critical_do_not_matter(
    signer: Made, branch: Made, root: Made, lists: list[x509.CertificateRevocationList]
) -> None:
    given = crl(
        branch,
        (make(), NOW, [(UNKNOWN, False), (x509.CRLReason(x509.ReasonFlags.superseded), True)]),
        extensions=[(x509.CRLNumber(7), False), (UNKNOWN, False)],
    )
    require_not_revoked(path_of(signer, branch, root), [given, *lists], NOW)


def test_an_authority_without_key_usage_or_constraints(root: Made) -> None:
    """Such a path is refused elsewhere; here it is only asked whether it was revoked."""
    branch = make("Invented County Branch", issuer=root, ca=None, usage=None)
    signer = make(issuer=branch)
    require_not_revoked(path_of(signer, branch, root), [crl(branch), crl(root)], NOW)


def _with_weak_digest(made: Made) -> x509.CertificateRevocationList:
    body = parts_of(parts_of(crl(made).public_bytes(Encoding.DER))[0])
    body[1] = SHA1_ECDSA
    return load_crls(resigned_body(made, body, weak=True), path="weak.crl")[0]


def test_a_list_with_a_weak_digest(signer: Made, branch: Made, root: Made) -> None:
    with pytest.raises(TrustError) as caught:
        require_not_revoked(path_of(signer, branch, root), [_with_weak_digest(branch)], NOW)
    assert caught.value.observed == "a list signed with a weak digest"


def test_a_list_without_next_update(signer: Made, branch: Made, root: Made) -> None:
    body = parts_of(parts_of(crl(branch).public_bytes(Encoding.DER))[0])
    del body[4]
    (endless,) = load_crls(resigned_body(branch, body), path="c")
    assert endless.next_update_utc is None
    with pytest.raises(TrustError) as caught:
        require_not_revoked(path_of(signer, branch, root), [endless], NOW)
    assert caught.value.observed == "a list that was out of date"


# Reading


def test_lists_are_read_from_der_and_pem(branch: Made, root: Made) -> None:
    first, second = crl(branch), crl(root)
    assert load_crls(first.public_bytes(Encoding.DER), path="c") == (first,)
    pem = first.public_bytes(Encoding.PEM) + b"words\n" + second.public_bytes(Encoding.PEM)
    assert load_crls(pem, path="c") == (first, second)


def test_a_list_made_by_openssl(root: Made, tmp_path: Path) -> None:
    from cryptography.hazmat.primitives.serialization import NoEncryption, PrivateFormat

    key = root.key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    for name, data in (("k", key), ("c", root.pem), ("db", b""), ("n", b"01\n")):
        (tmp_path / name).write_bytes(data)
    (tmp_path / "cnf").write_text(
        f"[ca]\ndefault_ca=d\n[d]\ndatabase={tmp_path}/db\ncrlnumber={tmp_path}/n\n"
        f"private_key={tmp_path}/k\ncertificate={tmp_path}/c\ndefault_md=sha256\n"
        "default_crl_days=3000\n"
    )
    subprocess.run(
        ["openssl", "ca", "-config", tmp_path / "cnf", "-gencrl", "-out", tmp_path / "crl"],
        check=True,
        capture_output=True,
    )
    (read,) = load_crls((tmp_path / "crl").read_bytes(), path="crl")
    end = make(issuer=root)
    require_not_revoked([end.certificate, root.certificate], [read], NOW)


@pytest.mark.parametrize("data", [b"", b"words", b"\x30\x00", b"\x30\x80\0\0"])
def test_what_is_no_list(data: bytes) -> None:
    with pytest.raises(TrustError, match="a revocation list cannot be read") as caught:
        load_crls(data, path="c.crl")
    assert caught.value.path == "c.crl"


def test_trailing_bytes_are_refused(branch: Made) -> None:
    with pytest.raises(TrustError, match="a revocation list cannot be read"):
        load_crls(crl(branch).public_bytes(Encoding.DER) + b"\0", path="c")


@pytest.mark.parametrize(
    "pem", [make().pem, b"-----BEGIN X509 CRL-----\n", b"-----BEGIN NOTHING-----"]
)
def test_other_blocks(pem: bytes) -> None:
    with pytest.raises(TrustError, match="holds something other than revocation lists"):
        load_crls(pem, path="c")


def test_a_damaged_block() -> None:
    pem = b"-----BEGIN X509 CRL-----\nAAAA\n-----END X509 CRL-----\n"
    with pytest.raises(TrustError, match="a revocation list cannot be read"):
        load_crls(pem, path="c")


def test_a_delta_list(branch: Made) -> None:
    delta = crl(branch, extensions=[(x509.DeltaCRLIndicator(1), True)])
    with pytest.raises(TrustError, match="a delta revocation list cannot be used") as caught:
        load_crls(delta.public_bytes(Encoding.DER), path="c")
    assert caught.value.hint == "ask “Invented County Branch” for its complete revocation list"


def test_the_same_extension_twice(branch: Made) -> None:
    good = crl(branch, extensions=[(x509.CRLNumber(7), False)])
    outer = parts_of(good.public_bytes(Encoding.DER))
    body = parts_of(outer[0])
    (extensions,) = parts_of(body[-1])
    body[-1] = put_together([put_together(parts_of(extensions) * 2)], b"\xa0")
    outer[0] = put_together(body)
    with pytest.raises(TrustError, match="a revocation list cannot be read") as caught:
        load_crls(put_together(outer), path="c")
    assert "Duplicate" in str(caught.value.observed)


def test_the_size_is_bounded() -> None:
    with pytest.raises(TrustError, match="cannot be read"):
        load_crls(bytes(MAX_PEM_BYTES), path="c")
    with pytest.raises(TrustError, match="the revocation list is too large"):
        load_crls(bytes(MAX_PEM_BYTES + 1), path="c")


SAMPLE = crl(authority(), (make(), NOW, [])).public_bytes(Encoding.DER)


@given(st.data())
def test_spoiled_bytes_end_in_our_own_error(data: st.DataObject) -> None:
    changed = bytearray(SAMPLE)
    for _ in range(data.draw(st.integers(1, 4))):
        changed[data.draw(st.integers(0, len(changed) - 1))] = data.draw(st.integers(0, 255))
    with contextlib.suppress(TrustError):  # anything else escapes and fails
        load_crls(bytes(changed), path="c")
