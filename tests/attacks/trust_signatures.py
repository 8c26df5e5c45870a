"""Trust attacks on the signature file (RFC 5652): step 5 must refuse them, or step 3 and 5 what
was signed before and is replayed over new files."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric.utils import (
    decode_dss_signature,
    encode_dss_signature,
)
from cryptography.hazmat.primitives.serialization import Encoding
from cryptography.hazmat.primitives.serialization.pkcs7 import PKCS7Options, PKCS7SignatureBuilder

from evidpack.container import layout
from evidpack.trust import der
from tests.attacks.attack import Attack
from tests.attacks.good import Good, spread
from tests.attacks.signing import Forger
from tests.trust.certificate_maker import NOW, Made, authority, make
from tests.trust.forging import (
    CONTENT_TYPE,
    MESSAGE_DIGEST,
    SIGNING_TIME,
    first_signer,
    octets,
    oid,
    plain_attributes,
    signed_data,
    utc_time,
)
from tests.trust.test_cms import CHANGES, _append_to_signer

# Order of the group of P-256 (SEC 2, section 2.4.2).
_P256_ORDER = 0xFFFFFFFF00000000FFFFFFFFFFFFFFFFBCE6FAADA7179E84F3B9CAC2FC632551
_OPTIONS = [PKCS7Options.Binary, PKCS7Options.DetachedSignature]


def attacks(good: Good) -> Iterator[Attack]:
    """Every class below."""
    forger = Forger(good=good)
    root = authority()
    signer = make(issuer=root)
    statement = forger.statement_by(signer)

    def attack(kind: str, name: str, signature: bytes, words: str = "") -> Attack:
        return forger.attack(
            kind, name, 5, statement=statement, signature=signature,
            anchors=[root.certificate], words=words,
        )  # fmt: skip

    yield from _structure(attack, signer, statement)
    yield from _attributes(attack, signer, statement)
    yield from _built(attack, signer, statement, root)
    yield from _encoded(attack, forger.signature_by(signer, [], statement))
    yield from _values(attack, signer, statement)
    yield from _replayed(forger)
    yield from _flipped(forger)


AttackMaker = Callable[..., Attack]


def _structure(attack: AttackMaker, signer: Made, statement: bytes) -> Iterator[Attack]:
    kind = "signed data of another form: versions, types, algorithms, names of the signer"
    for name, (change, _) in CHANGES.items():
        data = signed_data(signer, plain_attributes(statement), change=change)
        yield attack(kind, name, data)
    good = signed_data(signer, plain_attributes(statement))
    for name, extra in {
        "empty unsigned attributes": der.element(b"\xa1", b""),
        "something behind the signer": b"\x05\x00",
    }.items():
        yield attack(kind, name, _append_to_signer(good, extra))


def _attributes(attack: AttackMaker, signer: Made, statement: bytes) -> Iterator[Attack]:
    kind = "signed attributes missing, repeated or about something else"
    plain = plain_attributes(statement)
    by_kind = dict(plain)
    other = plain_attributes(b"another statement")
    for name, attributes in {
        "no content type": [one for one in plain if one[0] != CONTENT_TYPE],
        "no digest": [one for one in plain if one[0] != MESSAGE_DIGEST],
        "no signing time": [one for one in plain if one[0] != SIGNING_TIME],
        "none but the digest": [one for one in plain if one[0] == MESSAGE_DIGEST],
        "another content type": [
            (CONTENT_TYPE, [der.encode_identifier(oid("1.2.3"))]),
            *[one for one in plain if one[0] != CONTENT_TYPE],
        ],
        "the digest of another statement": other,
        "two digests": [
            *[one for one in plain if one[0] != MESSAGE_DIGEST],
            (MESSAGE_DIGEST, [*by_kind[MESSAGE_DIGEST], *dict(other)[MESSAGE_DIGEST]]),
        ],
        "the digest attribute twice": [*plain, (MESSAGE_DIGEST, dict(other)[MESSAGE_DIGEST])],
        "no value of the digest": [
            *[one for one in plain if one[0] != MESSAGE_DIGEST], (MESSAGE_DIGEST, [])
        ],
        "a digest of 31 bytes": [
            *[one for one in plain if one[0] != MESSAGE_DIGEST], (MESSAGE_DIGEST, [octets(bytes(31))])
        ],
        "two signing times": [
            *[one for one in plain if one[0] != SIGNING_TIME],
            (SIGNING_TIME, [utc_time(NOW), utc_time(NOW.replace(year=2025))]),
        ],
        "a signing time that is none": [
            *[one for one in plain if one[0] != SIGNING_TIME], (SIGNING_TIME, [octets(b"now")])
        ],
    }.items():  # fmt: skip
        yield attack(kind, name, signed_data(signer, attributes))


def _built(attack: AttackMaker, signer: Made, statement: bytes, root: Made) -> Iterator[Attack]:
    kind = "signed data of another form: versions, types, algorithms, names of the signer"

    def by_library(*signers: Made, options: list[PKCS7Options]) -> bytes:
        builder: Any = PKCS7SignatureBuilder().set_data(statement)
        for made in signers:
            builder = builder.add_signer(made.certificate, made.key, hashes.SHA256())
        return bytes(builder.sign(Encoding.DER, options))

    other = make(issuer=root)
    yield attack(kind, "two signers", by_library(signer, other, options=_OPTIONS))
    yield attack(kind, "content inside", by_library(signer, options=[PKCS7Options.Binary]))
    for name, option in {
        "no signed attributes": PKCS7Options.NoAttributes,
        "certificates left out": PKCS7Options.NoCerts,
    }.items():
        yield attack(kind, name, by_library(signer, options=[*_OPTIONS, option]))
    kind = "certificates carried in another way"
    for name, carried in {
        "the signer's twice": [signer.der, signer.der],
        "another's alone": [other.der],
        "not in order": sorted([signer.der, root.der], reverse=True),
        "one that is no certificate": [signer.der, b"\x30\x03\x02\x01\x05"],
        "an attribute certificate": sorted([signer.der, der.element(b"\xa2", b"\x05\x00")]),
        "seventeen": sorted({signer.der, *(make(issuer=root).der for _ in range(16))}),
    }.items():
        data = signed_data(signer, plain_attributes(statement), carried=carried, sort=False)
        yield attack(kind, name, data)


def _encoded(attack: AttackMaker, good: bytes) -> Iterator[Attack]:
    kind = "not the one DER encoding, cut short, or with bytes behind"
    for name, data in {
        "nothing": b"",
        "a byte behind": good + b"\0",
        "a NULL behind": good + b"\x05\x00",
        "itself behind": good + good,
        "a byte missing": good[:-1],
        "half": good[: len(good) // 2],
        "the first byte": good[:1],
        "an indefinite length": b"\x30\x80" + good[4:] + b"\0\0",
        "a length longer than needed": b"\x30\x83\x00" + good[2:],
        "a length of 2^32": b"\x30\x84\xff\xff\xff\xff" + good[4:],
        "another outer tag": b"\x31" + good[1:],
        "a text": b"-----BEGIN CMS-----\n",
        "zeros": bytes(len(good)),
        "a thousand levels": b"\x30\x82\x0f\x00" * 1000,
        "larger than the limit": good + bytes(256 * 1024),
    }.items():
        yield attack(kind, name, data)


def _values(attack: AttackMaker, signer: Made, statement: bytes) -> Iterator[Attack]:
    kind = "a signature value that is none, or another's"

    def with_value(value: bytes) -> bytes:
        def change(info: Any) -> None:
            first_signer(info).signature = value

        return signed_data(signer, plain_attributes(statement), change=change)

    stranger = make()
    signed = signed_data(stranger, plain_attributes(statement))
    value = first_signer(der.decode(der.ContentInfo, signed, what="", path=None)).signature
    for name, wrong in {
        "empty": b"",
        "zeros": bytes(70),
        "r and s of 0": encode_dss_signature(0, 0),
        "r of 0": encode_dss_signature(0, 1),
        "s of 0": encode_dss_signature(1, 0),
        "r and s of 1": encode_dss_signature(1, 1),
        "r and s of the order": encode_dss_signature(_P256_ORDER, _P256_ORDER),
        "larger than the order": encode_dss_signature(2**300, 2**300),
        "negative": b"\x30\x06\x02\x01\xff\x02\x01\xff",
        "a stranger's": value,
        "with a byte behind": value + b"\0",
    }.items():
        yield attack(kind, name, with_value(wrong))


def _replayed(forger: Forger) -> Iterator[Attack]:
    """What the key once signed, over something else now."""
    kind = "an old statement or signature replayed over new files"
    good = forger.good
    authority_ = good.day.authority
    signer = Made(certificate=authority_.signer.certificate, key=authority_.signer.key)
    for name, content in {
        "the release log's last line": b'{"kind":"release"}',
        "an empty file": b"",
        "the ledger": good.members[layout.LEDGER],
        "the statement with a line feed": good.members[layout.STATEMENT] + b"\n",
        "a pack's statement": good.pack_members[layout.DISCLOSURE_STATEMENT],
    }.items():
        signature = forger.signature_by(signer, [], content)
        yield forger.attack(
            kind, f"a signature over {name}", 5, signature=signature, words="other bytes"
        )
    changed = {"claimed_time": good.day.sealed.statement.claimed_time.replace(year=2025)}
    old = forger.statement_by(signer, **changed)
    yield forger.attack(
        kind, "an older statement under the new signature", 5, statement=old, words="other bytes"
    )
    yield forger.attack(
        kind, "a signature and token of an older statement", 5,
        signature=forger.signature_by(signer, [], old), words="other bytes",
    )  # fmt: skip


def _flipped(forger: Forger) -> Iterator[Attack]:
    kind = "single bits flipped in statement, signature or token"
    members = forger.good.members
    for name, step, part in (
        (layout.STATEMENT, 5, "statement"),
        (layout.SIGNATURE, 5, "signature"),
        (layout.TOKEN, 7, "token"),
    ):
        for number, at in enumerate(spread(len(members[name]), 16)):
            data = bytearray(members[name])
            data[at] ^= 1 << number % 8
            attack = forger.attack(
                kind, f"{part}, flip {number + 1} of 16", step, **{part: bytes(data)}, alone=False
            )
            yield attack
    signature = members[layout.SIGNATURE]
    value = first_signer(der.decode(der.ContentInfo, signature, what="", path=None)).signature
    r, s = decode_dss_signature(value)
    info = der.decode(der.ContentInfo, signature, what="", path=None)
    first_signer(info).signature = encode_dss_signature(r, _P256_ORDER - s)
    # The other half of an ECDSA signature is valid too; the time stamp is over the one that was made.
    yield forger.attack(
        "a signature value that is none, or another's", "the other root of the same signature", 7,
        signature=der.encode(info), token=members[layout.TOKEN], words="other bytes",
    )  # fmt: skip
