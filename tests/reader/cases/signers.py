"""Signers of every kind, good and bad, each with a bundle that is otherwise well signed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import replace

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID as Purpose

from evidpack.container import layout
from evidpack.proof.digests import sha256
from evidpack.proof.statement import parse_statement
from evidpack.verifying.signing_steps import Trust
from tests.bundles import rebuilt
from tests.reader.cases.case import Case, members_of, top_of
from tests.sealed_days import SealedDay, stamped
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
)  # fmt: skip
from tests.trust.forging import plain_attributes, signed_data

UNKNOWN = x509.UnrecognizedExtension(x509.ObjectIdentifier("1.2.3.4.5"), b"\x05\x00")
ENDS: dict[str, dict[str, object]] = {
    "a good one": {},
    "no basic constraints": {"ca": None},
    "a further purpose": {"purposes": (*SIGNING, Purpose.CLIENT_AUTH)},
    "an unknown extension, not critical": {"extra": [(UNKNOWN, False)]},
    "no key usage": {"usage": None},
    "key encipherment": {"usage": ("key_encipherment",)},
    "digital signature alone": {"usage": ("digital_signature",)},
    "no purpose": {"purposes": None},
    "a server": {"purposes": [Purpose.SERVER_AUTH]},
    "any purpose": {"purposes": [Purpose.ANY_EXTENDED_KEY_USAGE]},
    "document signing alone": {"purposes": [DOCUMENT_SIGNING]},
    "an authority's own": {
        "ca": True,
        "usage": ("key_cert_sign", "digital_signature", "content_commitment"),
    },
    "an unknown critical extension": {"extra": [(UNKNOWN, True)]},
    "a critical alternative name": {
        "extra": [(x509.SubjectAlternativeName([x509.DNSName("a.invalid")]), True)]
    },
    "expired": {"end": NOW - DAY},
    "not yet valid": {"start": NOW + DAY},
    "P-384": {"key": ec_key(ec.SECP384R1())},
    "P-521": {"key": ec_key(ec.SECP521R1())},
    "RSA 2048": {"key": rsa_key(2048)},
}


def cases(day: SealedDay) -> Iterator[Case]:
    root = authority()
    branch = authority("Invented County Branch", issuer=root, path_length=0)
    for name, settings in ENDS.items():
        end = make(issuer=branch, **settings)  # type: ignore[arg-type]
        yield signed_by(f"signer: {name}", day, end, [branch], root)
    end = make(issuer=branch, key=rsa_key(3072))
    yield signed_by("signer: RSA 3072", day, end, [branch], root)
    yield from _paths(day, root, branch)


def _paths(day: SealedDay, root: Made, branch: Made) -> Iterator[Case]:
    end = make(issuer=branch)
    yield signed_by("path: missing intermediate", day, end, [], root)
    yield signed_by("path: the intermediate as anchor", day, end, [], branch)
    yield signed_by("path: the intermediate as anchor and inside", day, end, [branch], branch)
    yield signed_by("path: a bystander inside", day, end, [branch, authority("Bystander")], root)
    yield signed_by("path: another root of the same name", day, end, [branch], authority())
    yield signed_by("path: self-signed", day, make(), [], root)
    below = authority("Below", issuer=branch)
    yield signed_by("path: too long for the branch", day, make(issuer=below), [branch, below], root)
    for name, wrong in {
        "an authority that is none": make("Not an authority", issuer=root),
        "an authority that may not sign": authority("X", issuer=root, usage=("crl_sign",)),
        "an authority without key usage": authority("X", issuer=root, usage=None),
        "an authority for servers": authority("X", issuer=root, purposes=[Purpose.SERVER_AUTH]),
        "an authority for signing": authority("X", issuer=root, purposes=SIGNING),
        "an expired authority": authority("X", issuer=root, end=NOW - DAY),
        "an authority of RSA 2048": authority("X", issuer=root, key=rsa_key(2048)),
        "an authority of RSA 3072": authority("X", issuer=root, key=rsa_key(3072)),
        "an authority of P-384": authority("X", issuer=root, key=ec_key(ec.SECP384R1())),
        "an authority of P-521": authority("X", issuer=root, key=ec_key(ec.SECP521R1())),
        "an authority signed with SHA-512": authority("X", issuer=root, digest=hashes.SHA512()),
        "an authority with an unknown critical extension": authority(
            "X", issuer=root, extra=[(UNKNOWN, True)]
        ),
    }.items():
        yield signed_by(f"path: {name}", day, make(issuer=wrong), [wrong], root)
    old = authority("Old Root", start=NOW - 3000 * DAY, end=NOW - DAY)
    yield signed_by("path: an expired root", day, make(issuer=old), [], old)
    weak = authority("Weak Root", key=rsa_key(2048))
    yield signed_by("path: a weak root", day, make(issuer=weak), [], weak)
    chain = [root]
    for number in range(8):
        chain.append(authority(f"Level {number}", issuer=chain[-1]))
        end = make(issuer=chain[-1])
        yield signed_by(f"path: {number + 1} authorities between", day, end, chain[1:], root)


def signed_by(name: str, day: SealedDay, end: Made, carried: Sequence[Made], root: Made) -> Case:
    """The day's bundle, its statement naming this signer and signed by it."""
    members = members_of(day)
    statement = parse_statement(members[layout.STATEMENT], path=layout.STATEMENT)
    statement = replace(
        statement,
        signing_certificate=sha256(end.der),
        claimed_time=NOW - dt.timedelta(hours=1),
    )
    content = statement.to_bytes()
    signature = signed_data(
        end, plain_attributes(content), carried=[end.der, *(one.der for one in carried)]
    )
    members |= {
        layout.STATEMENT: content,
        layout.SIGNATURE: signature,
        layout.TOKEN: stamped(signature, day.authority),
    }
    trust = Trust(anchors=(root.certificate,), tsa_anchors=day.trust.tsa_anchors)
    return Case(name=name, data=rebuilt(top_of(day), members), trust=trust)
