"""Trust attacks on the time-stamp token (RFC 3161): step 7 must refuse them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any

from cryptography.x509.oid import ExtendedKeyUsageOID as Purpose

from evidpack.container import layout
from evidpack.trust import der, der_timestamps
from tests.attacks.attack import Attack
from tests.attacks.good import Good
from tests.attacks.signing import Forger
from tests.sealed_days import SEALED_AT, STAMPED_AT, stamped
from tests.trust.certificate_maker import DAY, SIGNING, Made, authority, make, rsa_key, stamper
from tests.trust.forging import first_signer, response, stamp_info, token
from tests.trust.test_cms import CHANGES
from tests.trust.test_timestamps import INFOS, NAMES

_SECOND = dt.timedelta(seconds=1)


def attacks(good: Good) -> Iterator[Attack]:
    """Every class below, over the good bundle's own signature."""
    forger = Forger(good=good)
    signature = good.members[layout.SIGNATURE]
    root = authority("Invented Time Root")
    office = stamper(issuer=root)

    def attack(kind: str, name: str, tsr: bytes, words: str = "", anchor: Made = root) -> Attack:
        return forger.attack(
            kind, name, 7, token=tsr, tsa_anchors=[anchor.certificate], words=words
        )

    info = _info(signature)
    yield from _offices(attack, root, office, signature)
    yield from _information(attack, root, office, signature)
    yield from _encoded(attack, token(office, signature, info=info))
    yield from _others(forger, signature)
    yield from _early(forger)
    kind = "a token that does not name its certificate, or carries others"
    for name, (attributes, words) in NAMES.items():
        made = token(office, signature, info=info, attributes=attributes(office.der))
        yield attack(kind, f"naming: {name}", made, words)
    for name, carried in {
        "none": [], "twice": [office.der] * 2, "a bystander": [office.der, make().der],
    }.items():  # fmt: skip
        yield attack(
            kind, f"carrying: {name}", token(office, signature, info=info, carried=carried)
        )
    kind = "token signed data of another form"
    for name, (change, _) in CHANGES.items():
        if name != "data version 3":
            yield attack(kind, name, token(office, signature, info=info, change=change))


def _info(signature: bytes, **changed: Any) -> der_timestamps.TimeStampInfo:
    return stamp_info(signature, **{"gen_time": der.GeneralizedTime(STAMPED_AT), **changed})


def _offices(attack: Any, root: Made, office: Made, signature: bytes) -> Iterator[Attack]:
    info = _info(signature)
    kind = "a time-stamp authority with a second, another or no purpose, or wrong key usage"
    stamping = Purpose.TIME_STAMPING
    for name, made in {
        "a second purpose: e-mail": stamper(issuer=root, purposes=[stamping, Purpose.EMAIL_PROTECTION]),
        "a second purpose: servers": stamper(issuer=root, purposes=[stamping, Purpose.SERVER_AUTH]),
        "a second purpose: anything": stamper(issuer=root, purposes=[stamping, Purpose.ANY_EXTENDED_KEY_USAGE]),
        "a second purpose, first": stamper(issuer=root, purposes=[Purpose.OCSP_SIGNING, stamping]),
        "for signing seals": stamper(issuer=root, purposes=SIGNING),
        "for code": stamper(issuer=root, purposes=[Purpose.CODE_SIGNING]),
        "for anything": stamper(issuer=root, purposes=[Purpose.ANY_EXTENDED_KEY_USAGE]),
        "for nothing": stamper(issuer=root, purposes=None),
        "not critical": stamper(issuer=root, critical=False),
        "for encipherment": stamper(issuer=root, usage=("key_encipherment",)),
        "for signing and encipherment": stamper(issuer=root, usage=("digital_signature", "key_encipherment")),
        "for certificates": stamper(issuer=root, usage=("key_cert_sign",)),
        "a signing certificate": make(issuer=root),
        "an authority's own": make(issuer=root, ca=True, usage=("digital_signature",), purposes=[stamping], purposes_critical=True),
    }.items():  # fmt: skip
        yield attack(kind, name, token(made, signature, info=info), "the certificate of")
    kind = "a time-stamp authority that was not valid, is weak, or leads to no anchor"
    branch = authority("Invented Time Branch", issuer=root)
    below = stamper(issuer=branch)
    old = authority("Old Time Root", end=STAMPED_AT - _SECOND)
    for name, tsr, anchor in (
        ("expired a second before", token(stamper(issuer=root, end=STAMPED_AT - _SECOND), signature, info=info), root),
        ("valid from a second after", token(stamper(issuer=root, start=STAMPED_AT + _SECOND), signature, info=info), root),
        ("an expired root", token(stamper(issuer=old), signature, info=info), old),
        ("RSA 2048", token(stamper(issuer=root, key=rsa_key(2048)), signature, info=info), root),
        ("another root of the same name", token(office, signature, info=info), authority("Invented Time Root")),
        ("the signer's root as anchor", token(office, signature, info=info), authority()),
        ("a missing intermediate", token(below, signature, info=info), root),
        ("self-signed", token(make(purposes=[stamping], purposes_critical=True, usage=("digital_signature",)), signature, info=info), root),
        ("itself as anchor", token(office, signature, info=info), office),
        ("an intermediate for signing alone", _under(authority("Time Branch", issuer=root, purposes=SIGNING), signature), root),
    ):  # fmt: skip
        yield attack(kind, name, tsr, "", anchor)


def _under(branch: Made, signature: bytes) -> bytes:
    made = stamper(issuer=branch)
    return token(made, signature, info=_info(signature), carried=[made.der, branch.der])


def _information(attack: Any, root: Made, office: Made, signature: bytes) -> Iterator[Attack]:
    kind = "time-stamp information that is wrong, weak or about other data"
    for name, (changed, _) in INFOS.items():
        yield attack(kind, name, token(office, signature, info=_info(signature, **changed)))
    for name, other in {
        "another signature": b"another signature", "nothing": b"", "the same with a byte more": signature + b"\0",
    }.items():  # fmt: skip
        yield attack(kind, f"about {name}", token(office, other, info=_info(other)), "other bytes")

    def exchange(info: Any) -> None:
        info.content.content.content = der.encode(
            _info(signature, gen_time=der.GeneralizedTime(STAMPED_AT + DAY))
        )

    yield attack(
        kind,
        "exchanged behind the signature",
        token(office, signature, info=_info(signature), change=exchange),
        "other bytes",
    )

    def emptied(info: Any) -> None:
        info.content.content.content = None

    yield attack(kind, "left out", token(office, signature, info=_info(signature), change=emptied))

    def worthless(info: Any) -> None:
        first_signer(info).signature = bytes(70)

    yield attack(
        kind, "signed with zeros", token(office, signature, info=_info(signature), change=worthless)
    )
    for name, when in {
        "a second before the claimed time": SEALED_AT - _SECOND,
        "a year before the claimed time": SEALED_AT - 365 * DAY,
        "in 1970": dt.datetime(1970, 1, 1, tzinfo=dt.UTC),
    }.items():
        early = stamper(issuer=root, start=dt.datetime(1960, 1, 1, tzinfo=dt.UTC))
        yield attack(
            "a token from before the claimed time, or from before the signer existed",
            f"a token of {name}",
            token(early, signature, info=_info(signature, gen_time=der.GeneralizedTime(when))),
            "after the time stamp",
        )


def _encoded(attack: Any, good: bytes) -> Iterator[Attack]:
    kind = "a response that says more, less or otherwise than granted"
    inner = der.encode(der.decode(der_timestamps.TimeStampResponse, good, what="", path=None).token)  # type: ignore[arg-type]
    for name, tsr in {
        "with words": response(inner, texts=["all well"]),
        "with empty words": response(inner, texts=[]),
        "with failure bits": response(inner, failure=b"\x80"),
        "granted with modifications": response(inner, status=1),
        "rejected, with a token": response(inner, status=2),
        "waiting": response(None, status=3),
        "revocation warning, with a token": response(inner, status=4),
        "an unknown status": response(inner, status=99),
        "a negative status": response(inner, status=-1),
        "granted without a token": response(None),
        "the token bare": inner,
        "a byte behind": good + b"\0",
        "a NULL behind": good + b"\x05\x00",
        "cut short": good[:-1],
        "empty": b"",
        "a text": b"time",
        "an indefinite length": b"\x30\x80" + good[4:] + b"\0\0",
        "a length longer than needed": b"\x30\x83\x00" + good[2:],
        "larger than the limit": good + bytes(256 * 1024),
        "two responses": good + good,
    }.items():
        yield attack(kind, name, tsr)


def _others(forger: Forger, signature: bytes) -> Iterator[Attack]:
    kind = "a token over other data, from another day, or none where one must be"
    good = forger.good
    own = good.day.trust.tsa_anchors
    for name, other in {
        "the seal statement": good.members[layout.STATEMENT],
        "the ledger": good.members[layout.LEDGER],
        "the pack's signature": good.pack_members[layout.DISCLOSURE_SIGNATURE],
        "the signature without its last byte": signature[:-1],
    }.items():
        yield forger.attack(
            kind,
            f"over {name}",
            7,
            token=stamped(other, good.day.authority),
            tsa_anchors=own,
            words="other bytes",
        )
    yield forger.attack(
        kind,
        "the pack's token",
        7,
        token=good.pack_members[layout.DISCLOSURE_TOKEN],
        words="other bytes",
    )
    yield forger.attack(kind, "the signature in place of the token", 7, token=signature)
    yield forger.attack(
        kind,
        "the anchors exchanged",
        6,
        anchors=own,
        words="not known",
        alone=False,
        tsa_anchors=good.day.trust.anchors,
    )
    yield forger.attack(
        kind,
        "an earlier stamp, with a claimed time after it",
        7,
        token=stamped(signature, good.day.authority, SEALED_AT - _SECOND),
        words="after the time stamp",
    )


def _early(forger: Forger) -> Iterator[Attack]:
    """A genuine token of a time at which the signing certificate did not exist yet."""
    kind = "a token from before the claimed time, or from before the signer existed"
    root = authority()
    for name, start in {
        "by a second": STAMPED_AT + _SECOND,
        "by a month": STAMPED_AT + 30 * DAY,
    }.items():
        signer = make(issuer=root, start=start)
        yield forger.signed_by(
            kind, f"before the signer existed, {name}", 6, signer, [], root, words="not yet valid"
        )
