"""Trust attacks with a revocation list given: step 6 must refuse what was revoked, and what no
list that counts can tell."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec

from tests.attacks.attack import Attack
from tests.attacks.good import Good
from tests.attacks.signing import Forger
from tests.attacks.trust_signers import SECOND, UNKNOWN
from tests.sealed_days import STAMPED_AT
from tests.trust.certificate_maker import DAY, Made, authority, ec_key, make, rsa_key
from tests.trust.test_revocation import ALL, POINT, crl

_Details = list[tuple[x509.ExtensionType, bool]]


def attacks(good: Good) -> Iterator[Attack]:
    """A signer and its authority, revoked in every way; and lists that do not count."""
    forger = Forger(good=good)
    root = authority()
    branch = authority("Invented County Branch", issuer=root, path_length=0)
    signer = make(issuer=branch)
    yield from _revoked(forger, root, branch, signer)
    yield from _lists_that_cannot_tell(forger, root, branch, signer)


def _invalid_since(moment: Any) -> _Details:
    return [(x509.InvalidityDate(moment.replace(tzinfo=None)), False)]


def _revoked(forger: Forger, root: Made, branch: Made, signer: Made) -> Iterator[Attack]:
    kind = "revoked at the time of sealing (--crl)"

    def attack(name: str, lists: Sequence[x509.CertificateRevocationList]) -> Attack:
        return forger.signed_by(
            kind, name, 6, signer, [branch], root, lists=lists, words="was revoked"
        )

    fresh = crl(root)
    for name, since, details in (
        ("a day before", STAMPED_AT - DAY, []),
        ("in the same second", STAMPED_AT, []),
        ("a second before", STAMPED_AT - SECOND, []),
        ("later, but invalid since before", STAMPED_AT + DAY, _invalid_since(STAMPED_AT - DAY)),
        (
            "before, though said invalid since later",
            STAMPED_AT - DAY,
            _invalid_since(STAMPED_AT + DAY),
        ),
    ):
        yield attack(name, [crl(branch, (signer, since, details)), fresh])
        yield attack(
            f"{name}, with an empty list beside it",
            [crl(branch), crl(branch, (signer, since, details)), fresh],
        )
        yield attack(
            f"{name}, the intermediate", [crl(branch), crl(root, (branch, since, details))]
        )
    for reason in x509.ReasonFlags:
        if reason in {x509.ReasonFlags.unspecified, x509.ReasonFlags.remove_from_crl}:
            continue
        details = [(x509.CRLReason(reason), False)]
        yield attack(
            f"for {reason.value}", [crl(branch, (signer, STAMPED_AT - DAY, details)), fresh]
        )


def _point(**changes: object) -> _Details:
    return [(x509.IssuingDistributionPoint(**(ALL | changes)), True)]


def _lists_that_cannot_tell(
    forger: Forger, root: Made, branch: Made, signer: Made
) -> Iterator[Attack]:
    kind = "a revocation list that does not count"
    fresh = crl(root)
    relative = x509.RelativeDistinguishedName(
        [x509.NameAttribute(x509.NameOID.COMMON_NAME, "list 1")]
    )
    some = frozenset([x509.ReasonFlags.key_compromise])
    for name, lists in {
        "none from the signer's issuer": [fresh],
        "none from the intermediate's issuer": [crl(branch)],
        "another authority's alone": [crl(authority("Invented Other")), fresh],
        "in the issuer's name, by another key": [crl(branch, key=ec_key()), fresh],
        "in the issuer's name, by a key of another curve": [crl(branch, key=ec_key(ec.SECP384R1())), fresh],
        "in the issuer's name, by an RSA key": [crl(branch, key=rsa_key(3072)), fresh],
        "signed by the signer": [crl(branch, key=signer.key), fresh],
        "out of date by a second": [crl(branch, until=STAMPED_AT - SECOND), fresh],
        "out of date for long": [crl(branch, issued=STAMPED_AT - 90 * DAY, until=STAMPED_AT - 60 * DAY), fresh],
        "the root's out of date": [crl(branch), crl(root, until=STAMPED_AT - SECOND)],
        "an unknown critical extension": [crl(branch, extensions=[(UNKNOWN, True)]), fresh],
        "an unknown critical entry extension": [crl(branch, (make(), STAMPED_AT, [(UNKNOWN, True)])), fresh],
        "for authorities alone": [crl(branch, extensions=_point(only_contains_ca_certs=True)), fresh],
        "for attribute certificates": [crl(branch, extensions=_point(only_contains_attribute_certs=True)), fresh],
        "for some reasons": [crl(branch, extensions=_point(only_some_reasons=some)), fresh],
        "indirect": [crl(branch, extensions=_point(indirect_crl=True)), fresh],
        "for a relative name": [crl(branch, extensions=_point(relative_name=relative)), fresh],
        "for another point": [crl(branch, extensions=_point(full_name=[POINT])), fresh],
        "the root's for end certificates": [crl(branch), crl(root, extensions=_point(only_contains_user_certs=True))],
    }.items():  # fmt: skip
        yield forger.signed_by(
            kind, name, 6, signer, [branch], root, lists=lists, words="no revocation list"
        )
    mute = authority("Invented County Branch", issuer=root, usage=("key_cert_sign",))
    end = make(issuer=mute)
    yield forger.signed_by(
        kind,
        "by an authority that may not sign lists",
        6,
        end,
        [mute],
        root,
        lists=[crl(mute), fresh],
        words="no revocation list",
    )
