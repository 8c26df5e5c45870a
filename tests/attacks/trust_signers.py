"""Trust attacks on the signing certificate and its path (RFC 5280): step 6 must refuse them,
or step 5 where the key itself is of no accepted kind."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any, Final

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID as Purpose

from tests.attacks.attack import Attack
from tests.attacks.good import Good
from tests.attacks.signing import Forger
from tests.sealed_days import STAMPED_AT
from tests.trust.certificate_maker import (
    DAY,
    DOCUMENT_SIGNING,
    Made,
    authority,
    ec_key,
    make,
    rsa_key,
    stamper,
)
from tests.trust.forging import parts_of, resigned_body

SECOND: Final = dt.timedelta(seconds=1)
UNKNOWN: Final = x509.UnrecognizedExtension(x509.ObjectIdentifier("1.2.3.4.5"), b"\x05\x00")
_NAMES: Final = x509.SubjectAlternativeName([x509.DNSName("a.invalid")])
_USAGES: Final = (
    (), ("digital_signature",), ("content_commitment",), ("key_encipherment",),
    ("data_encipherment",), ("key_cert_sign",), ("crl_sign",), ("key_agreement",),
    ("digital_signature", "key_encipherment"), ("content_commitment", "key_cert_sign"),
)  # fmt: skip
_PURPOSES: Final = {
    "for servers": [Purpose.SERVER_AUTH], "for clients": [Purpose.CLIENT_AUTH],
    "for code": [Purpose.CODE_SIGNING], "for time stamps": [Purpose.TIME_STAMPING],
    "for OCSP": [Purpose.OCSP_SIGNING], "for anything": [Purpose.ANY_EXTENDED_KEY_USAGE],
    "for documents alone": [DOCUMENT_SIGNING], "for e-mail alone": [Purpose.EMAIL_PROTECTION],
    "for a purpose without a name": [x509.ObjectIdentifier("1.2.3.4")],
    "for log-on and e-mail": [Purpose.SMARTCARD_LOGON, Purpose.EMAIL_PROTECTION],
}  # fmt: skip
_CRITICAL: Final = {
    "an unknown extension": UNKNOWN,
    "names": _NAMES,
    "policies": x509.CertificatePolicies(
        [x509.PolicyInformation(x509.ObjectIdentifier("2.5.29.32.0"), None)]
    ),
    "points of lists": x509.CRLDistributionPoints(
        [x509.DistributionPoint([x509.DNSName("a.invalid")], None, None, None)]
    ),
    "freshest list": x509.FreshestCRL(
        [x509.DistributionPoint([x509.DNSName("a.invalid")], None, None, None)]
    ),
    "issuer names": x509.IssuerAlternativeName([x509.DNSName("a.invalid")]),
}


def attacks(good: Good) -> Iterator[Attack]:
    """Every class below."""
    forger = Forger(good=good)
    root = authority()
    branch = authority("Invented County Branch", issuer=root, path_length=0)
    yield from _ends(forger, root, branch)
    yield from _validity(forger)
    yield from _strength(forger, root, branch)
    yield from _authorities(forger, root)
    yield from _lengths(forger, root)
    yield from _strangers(forger, root, branch)


def _ends(forger: Forger, root: Made, branch: Made) -> Iterator[Attack]:
    """The end certificate is for another use."""

    def end(kind: str, name: str, words: str, **settings: Any) -> Attack:
        made = make(issuer=branch, **settings)
        return forger.signed_by(kind, name, 6, made, [branch], root, words=words)

    kind = "wrong or missing key usage"
    yield end(kind, "none", "has no key usage", usage=None)
    for usage in _USAGES:
        yield end(kind, ", ".join(usage) or "empty", "wrong key usage", usage=usage)
    kind = "wrong or missing extended key usage: a certificate for another purpose"
    yield end(kind, "none", "names no purpose", purposes=None)
    for name, purposes in _PURPOSES.items():
        yield end(kind, name, "is for another purpose", purposes=purposes)
        yield end(
            kind, f"{name}, critical", "another purpose", purposes=purposes, purposes_critical=True
        )
    kind = "an authority's certificate used to sign"
    usage = ("key_cert_sign", "digital_signature", "content_commitment")
    yield end(kind, "an authority for both", "is an authority's own", ca=True, usage=usage)
    yield end(
        kind,
        "an authority of length 0",
        "is an authority's own",
        ca=True,
        path_length=0,
        usage=usage,
    )
    yield end(kind, "CA true without its key usage", "is an authority's own", ca=True)
    kind = "a critical extension that is not understood"
    for name, value in _CRITICAL.items():
        yield end(
            kind, f"{name} in the signing certificate", "critical extension", extra=[(value, True)]
        )


def _validity(forger: Forger) -> Iterator[Attack]:
    """Expired or not yet valid at the time of the stamp, each certificate of the path in turn."""
    kind = "expired, or not yet valid, at the time of sealing"
    periods = {
        "expired a second before": {"end": STAMPED_AT.replace(microsecond=0) - SECOND},
        "expired a day before": {"end": STAMPED_AT - DAY},
        "valid from a second after": {"start": STAMPED_AT + SECOND},
        "valid from a year after": {"start": STAMPED_AT + 365 * DAY, "end": STAMPED_AT + 999 * DAY},
    }
    for name, period in periods.items():
        words = "no longer valid" if "end" in period and "start" not in period else "not yet valid"
        old: dict[str, Any] = {"start": STAMPED_AT - 900 * DAY, **period}
        root = authority()
        branch = authority("Invented County Branch", issuer=root)
        end = make(issuer=branch, **old)
        yield forger.signed_by(
            kind, f"signing certificate {name}", 6, end, [branch], root, words=words
        )
        branch = authority("Invented County Branch", issuer=root, **old)
        yield forger.signed_by(
            kind, f"intermediate {name}", 6, make(issuer=branch), [branch], root, words=words
        )
        root = authority(**old)
        yield forger.signed_by(kind, f"anchor {name}", 6, make(issuer=root), [], root, words=words)


def _strength(forger: Forger, root: Made, branch: Made) -> Iterator[Attack]:
    kind = "a key that is too short or of another kind"
    keys = {
        "RSA 1024": rsa_key(1024), "RSA 2048": rsa_key(2048), "P-521": ec_key(ec.SECP521R1()),
        "P-224": ec_key(ec.SECP224R1()), "secp256k1": ec_key(ec.SECP256K1()),
        "Brainpool 256": ec_key(ec.BrainpoolP256R1()),
    }  # fmt: skip
    for name, key in keys.items():
        end = make(issuer=branch, key=key)
        yield forger.signed_by(
            kind, f"{name} of the signer", 5, end, [branch], root, words="key of"
        )
        weak = authority("Weak Branch", issuer=root, key=key)
        yield forger.signed_by(
            kind,
            f"{name} of an intermediate",
            6,
            make(issuer=weak),
            [weak],
            root,
            words="Weak Branch",
        )
        if name.startswith("RSA") or name == "P-521":
            anchor = authority("Weak Root", key=key)
            yield forger.signed_by(
                kind, f"{name} of the anchor", 6, make(issuer=anchor), [], anchor
            )
    kind = "a certificate signed with a weak digest"
    weak_end = _with_sha1(make(issuer=branch), branch)
    yield forger.signed_by(
        kind, "the signing certificate by SHA-1", 6, weak_end, [branch], root, words="weak digest"
    )
    weak_branch = _with_sha1(authority("Invented County Branch", issuer=root), root)
    yield forger.signed_by(
        kind,
        "an intermediate by SHA-1",
        6,
        make(issuer=weak_branch),
        [weak_branch],
        root,
        words="weak digest",
    )
    yield forger.signed_by(
        kind,
        "the signing certificate by SHA-224",
        6,
        make(issuer=branch, digest=hashes.SHA224()),
        [branch],
        root,
        words="weak digest",
    )
    weak_branch = authority("Invented County Branch", issuer=root, digest=hashes.SHA224())
    yield forger.signed_by(
        kind,
        "an intermediate by SHA-224",
        6,
        make(issuer=weak_branch),
        [weak_branch],
        root,
        words="weak digest",
    )


def _with_sha1(made: Made, issuer: Made) -> Made:
    """The same certificate, signed by its issuer with ECDSA and SHA-1."""
    body = parts_of(parts_of(made.der)[0])
    body[2] = bytes.fromhex("300906072a8648ce3d0401")
    encoded = resigned_body(issuer, body, weak=True)
    return Made(certificate=x509.load_der_x509_certificate(encoded), key=made.key)


def _authorities(forger: Forger, root: Made) -> Iterator[Attack]:
    kind = "an intermediate that may not certify: CA false, key usage, purposes"
    for name, wrong in {
        "CA false": make("Branch", issuer=root, usage=("key_cert_sign",), purposes=None),
        "a signer as authority": make("Branch", issuer=root),
        "no basic constraints": make(
            "Branch", issuer=root, ca=None, usage=("key_cert_sign",), purposes=None
        ),
        "lists alone": authority("Branch", issuer=root, usage=("crl_sign",)),
        "no key usage": authority("Branch", issuer=root, usage=None),
        "signatures alone": authority("Branch", issuer=root, usage=("digital_signature",)),
        "for servers": authority("Branch", issuer=root, purposes=[Purpose.SERVER_AUTH]),
        "for time stamps": authority("Branch", issuer=root, purposes=[Purpose.TIME_STAMPING]),
        "for e-mail alone": authority("Branch", issuer=root, purposes=[Purpose.EMAIL_PROTECTION]),
        "for documents alone": authority("Branch", issuer=root, purposes=[DOCUMENT_SIGNING]),
    }.items():
        yield forger.signed_by(kind, name, 6, make(issuer=wrong), [wrong], root, words="Branch")
    for name, wrong in {
        "CA false": make("Anchor", usage=("key_cert_sign",), purposes=None),
        "lists alone": authority("Anchor", usage=("crl_sign",)),
        "for servers": authority("Anchor", purposes=[Purpose.SERVER_AUTH]),
    }.items():
        yield forger.signed_by(kind, f"the anchor itself: {name}", 6, make(issuer=wrong), [], wrong)
    kind = "a critical extension that is not understood"
    for name, value in _CRITICAL.items():
        if name in {"names", "policies", "issuer names"}:
            continue  # understood by the library, and harmless there
        wrong = authority("Branch", issuer=root, extra=[(value, True)])
        yield forger.signed_by(
            kind, f"{name} in an intermediate", 6, make(issuer=wrong), [wrong], root
        )


def _lengths(forger: Forger, root: Made) -> Iterator[Attack]:
    kind = "more authorities than a path length allows"
    for allowed in range(3):
        for below in range(allowed + 1, allowed + 3):
            top = authority("Limited", issuer=root, path_length=allowed)
            chain = [top]
            for number in range(below):
                chain.append(authority(f"Level {number}", issuer=chain[-1]))
            end = make(issuer=chain[-1])
            yield forger.signed_by(
                kind, f"{below} below an intermediate that allows {allowed}", 6, end, chain, root
            )
            anchor = authority("Limited Root", path_length=allowed)
            chain = [anchor]
            for number in range(below):
                chain.append(authority(f"Level {number}", issuer=chain[-1]))
            end = make(issuer=chain[-1])
            yield forger.signed_by(
                kind, f"{below} below an anchor that allows {allowed}", 6, end, chain[1:], anchor
            )
    chain = [root]
    for number in range(9):
        chain.append(authority(f"Level {number}", issuer=chain[-1]))
        if number >= 6:
            yield forger.signed_by(
                kind,
                f"{number + 1} authorities, more than any path may have",
                6,
                make(issuer=chain[-1]),
                chain[1:],
                root,
            )


def _strangers(forger: Forger, root: Made, branch: Made) -> Iterator[Attack]:
    kind = "a stranger: self-signed, another root, the right name with another key"
    end = make(issuer=branch)
    same_root = authority()
    same_branch = authority("Invented County Branch", issuer=same_root, path_length=0)
    self_signed = make()
    for name, signer, carried, anchor in (
        ("self-signed", self_signed, [], root),
        ("self-signed, given as its own anchor", self_signed, [], self_signed),
        ("another root of the same name", end, [branch], same_root),
        ("another intermediate of the same name", make(issuer=same_branch), [branch], root),
        ("another intermediate and root of the same names", make(issuer=same_branch), [same_branch], root),
        ("the stranger's root carried along", make(issuer=same_branch), [same_branch, same_root], root),
        ("an unknown root", end, [branch], authority("Nobody's Root")),
        ("a missing intermediate", end, [], root),
        ("an intermediate of the wrong line", end, [authority("Bystander", issuer=root)], root),
        ("a bystander beside the path", end, [branch, authority("Bystander")], root),
        ("an expired twin of the intermediate beside it", end, [branch, authority("Invented County Branch", issuer=root, end=STAMPED_AT - DAY)], root),
        ("the anchor carried, but another one trusted", end, [branch, root], same_root),
        ("issued by another signer", make(issuer=end), [end, branch], root),
        ("issued in the root's name by a stranger", make(issuer=authority("S"), issuer_name=root.certificate.subject), [], root),
        ("issued in the branch's name by a stranger", make(issuer=authority("S"), issuer_name=branch.certificate.subject), [branch], root),
        ("the time-stamp authority as signer", stamper(issuer=root), [], root),
        ("the signer's name on the root's key", make(key=root.key, issuer=same_root), [], root),
    ):  # fmt: skip
        yield forger.signed_by(kind, name, 6, signer, carried, anchor)
    first_key, second_key = ec_key(), ec_key()
    one = authority("One", issuer=authority("Two", key=second_key), key=first_key)
    two = authority("Two", issuer=authority("One", key=first_key), key=second_key)
    yield forger.signed_by(
        kind, "two authorities that vouch for each other", 6, make(issuer=one), [one, two], root
    )
