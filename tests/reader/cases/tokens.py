"""Signatures and time-stamp tokens altered bit by bit, or made in another form."""

from __future__ import annotations

from collections.abc import Iterator

from cryptography.x509.oid import ExtendedKeyUsageOID as Purpose

from evidpack.container import layout
from evidpack.trust import der, der_timestamps
from evidpack.verifying.signing_steps import Trust
from tests.bundles import rebuilt
from tests.reader.cases.case import Case, case, members_of, top_of
from tests.sealed_days import SEALED_AT, STAMPED_AT, SealedDay, stamped
from tests.trust.certificate_maker import authority, stamper
from tests.trust.forging import (
    NAMED_V1,
    NAMED_V2,
    algorithm,
    named_v1,
    named_v2,
    response,
    stamp_info,
    token,
)  # fmt: skip

# A step that shares no factor with 8, so that every bit of a byte has its turn.
FLIP_EVERY_BITS = 131


def cases(day: SealedDay) -> Iterator[Case]:
    members = members_of(day)
    for name in (layout.STATEMENT, layout.SIGNATURE, layout.TOKEN):
        for bit in range(0, 8 * len(members[name]), FLIP_EVERY_BITS):
            data = bytearray(members[name])
            data[bit // 8] ^= 1 << bit % 8
            yield case(f"bit {bit} of {name}", day, members | {name: bytes(data)})
    yield from _tokens(day)


def _tokens(day: SealedDay) -> Iterator[Case]:
    signature = members_of(day)[layout.SIGNATURE]
    root = authority("Invented Time Root")
    office = stamper(issuer=root)
    branch = authority("Invented Time Branch", issuer=root)
    under_branch = stamper(issuer=branch)
    info = _info(signature)

    def made(name: str, tsr: bytes) -> Case:
        members = members_of(day) | {layout.TOKEN: tsr}
        trust = Trust(anchors=day.trust.anchors, tsa_anchors=(root.certificate,))
        return Case(name=f"token: {name}", data=rebuilt(top_of(day), members), trust=trust)

    good = token(office, signature, info=info)
    yield made("a good one", good)
    yield made(
        "named by SHA-1",
        token(office, signature, info=info, attributes=[(NAMED_V1, [named_v1(office.der)])]),
    )
    yield made(
        "named by both",
        token(
            office,
            signature,
            info=info,
            attributes=[(NAMED_V1, [named_v1(office.der)]), (NAMED_V2, [named_v2(office.der)])],
        ),
    )
    yield made("naming no certificate", token(office, signature, info=info, attributes=[]))
    yield made(
        "naming another",
        token(office, signature, info=info, attributes=[(NAMED_V2, [named_v2(root.der)])]),
    )
    unsorted = sorted([under_branch.der, branch.der], reverse=True)
    yield made(
        "certificates not sorted",
        token(under_branch, signature, info=info, carried=unsorted, sort=False),
    )
    yield made(
        "a certificate beside the path",
        token(office, signature, info=info, carried=[office.der, branch.der]),
    )
    yield made(
        "a certificate twice", token(office, signature, info=info, carried=[office.der, office.der])
    )
    yield made("no certificate", token(office, signature, info=info, carried=[]))
    for name, one in {
        "for signing code": stamper(issuer=root, purposes=[Purpose.CODE_SIGNING]),
        "with a second purpose": stamper(
            issuer=root, purposes=[Purpose.TIME_STAMPING, Purpose.EMAIL_PROTECTION]
        ),
        "not critical": stamper(issuer=root, critical=False),
        "for encipherment": stamper(issuer=root, usage=("key_encipherment",)),
        "without key usage": stamper(issuer=root, usage=None),
        "expired": stamper(issuer=root, end=SEALED_AT),
        "of another root": stamper(issuer=authority("Invented Time Root")),
    }.items():
        yield made(f"an authority {name}", token(one, signature, info=info))
    for name, changed in {
        "version 2": {"version": 2},
        "a nonce": {"nonce": 2**70},
        "ordered": {"ordering": True},
        "an accuracy": {"accuracy": der_timestamps.Accuracy(seconds=1, millis=2, micros=3)},
        "an accuracy beyond bounds": {
            "accuracy": der_timestamps.Accuracy(seconds=1, millis=1000, micros=None)
        },
        "an imprint of SHA-1's length": {
            "imprint": der_timestamps.MessageImprint(
                hash_algorithm=algorithm("2.16.840.1.101.3.4.2.1"), hashed_message=bytes(20)
            )
        },
        "an imprint of SHA-1": {
            "imprint": der_timestamps.MessageImprint(
                hash_algorithm=algorithm("1.3.14.3.2.26"), hashed_message=bytes(20)
            )
        },
        "before the claim": {"gen_time": der.GeneralizedTime(SEALED_AT.replace(year=2025))},
    }.items():
        yield made(name, token(office, signature, info=_info(signature, **changed)))
    inner = der.encode(der.decode(der_timestamps.TimeStampResponse, good, what="", path=None).token)  # type: ignore[arg-type]
    for name, tsr in {
        "with words": response(inner, texts=["all well"]),
        "with failure bits": response(inner, failure=b"\x80"),
        "granted with modifications": response(inner, status=1),
        "rejected": response(None, status=2),
        "bare": inner,
        "with a byte behind": good + b"\0",
        "cut short": good[:-1],
        "empty": b"",
        "no DER": b"time",
        "an indefinite length": b"\x30\x80" + good[4:] + b"\0\0",
        "over another signature": stamped(b"another", day.authority),
    }.items():
        yield made(name, tsr)


def _info(signature: bytes, **changed: object) -> der_timestamps.TimeStampInfo:
    settings: dict[str, object] = {"gen_time": der.GeneralizedTime(STAMPED_AT)}
    return stamp_info(signature, **(settings | changed))
