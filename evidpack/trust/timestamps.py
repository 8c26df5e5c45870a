"""RFC 3161 time stamps: the request, the token, and what makes a token acceptable.

A token is read by our own strict parser and, where the anchor is a root, checked a second time
with rfc3161-client; both must accept it.  Some authorities do not put the carried certificates in DER order: for the
second reader they are sorted in a copy, the original bytes are what is kept.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from cryptography import x509

from evidpack.errors import TrustError
from evidpack.limits import MAX_TOKEN_BYTES
from evidpack.trust import der, der_timestamps
from evidpack.trust.algorithms import DIGEST_IDENTIFIERS, digest_name
from evidpack.trust.paths import require_nothing_off_path, require_path
from evidpack.trust.second_reader import require_second_reading
from evidpack.trust.signed_data import SignedMessage, read_signed_data, require_message
from evidpack.trust.signing_certificates import require_named_certificate
from evidpack.trust.status import require_granted
from evidpack.trust.usages import Usage

WHAT: Final = "the time-stamp token"
TOKEN_CONTENT: Final = der.ObjectIdentifier("1.2.840.113549.1.9.16.1.4")  # id-ct-TSTInfo
TOKEN_VERSION: Final = 3  # RFC 5652 §5.1: the content is not id-data
MAX_NONCE_BITS: Final = 128


@dataclass(frozen=True, slots=True, kw_only=True)
class Token:
    """A time-stamp token that was read but not yet checked.

    ``imprint`` is the digest of the stamped bytes, ``hash_name`` as hashlib knows it;
    ``accuracy`` is the authority's own figure, None where it gives none; ``raw`` is the whole
    response, as received; ``information`` the DER TSTInfo that the authority signed.
    """

    gen_time: dt.datetime
    imprint: bytes
    hash_name: str
    serial: int
    policy: str
    accuracy: dt.timedelta | None
    nonce: int | None
    raw: bytes
    information: bytes
    signed: SignedMessage

    @property
    def tsa_certificate(self) -> x509.Certificate:
        """The certificate of the time-stamp authority."""
        return self.signed.certificate

    @property
    def certificates(self) -> tuple[x509.Certificate, ...]:
        """All certificates inside, the authority's among them."""
        return self.signed.certificates


def request(message: bytes, nonce: int) -> bytes:
    """A DER TimeStampReq (RFC 3161 §2.4.1): SHA-256 of the message, certificates wanted."""
    if nonce < 0 or nonce.bit_length() > MAX_NONCE_BITS:
        raise ValueError(f"a nonce is not negative and of at most {MAX_NONCE_BITS} bits")
    imprint = der_timestamps.MessageImprint(
        hash_algorithm=der.AlgorithmIdentifier(
            algorithm=DIGEST_IDENTIFIERS["sha256"], parameters=None
        ),
        hashed_message=hashlib.sha256(message).digest(),
    )
    return der.encode(
        der_timestamps.TimeStampRequest(
            version=1,
            imprint=imprint,
            policy=None,
            nonce=nonce,
            certificates_wanted=True,
            extensions=None,
        )
    )


def parse_token(tsr: bytes, *, path: str) -> Token:
    """Read a time-stamp response with its token (RFC 3161 §2.4.2) in the one accepted form.

    Raises:
        TrustError: too large, not DER, refused by the authority, a status text or anything else
            that no signature covers, or not a time stamp.
    """
    if len(tsr) > MAX_TOKEN_BYTES:
        raise TrustError(
            "the time-stamp file is too large",
            path=path,
            expected=f"at most {MAX_TOKEN_BYTES} bytes",
            observed=f"{len(tsr)} bytes",
        )
    response = der.decode(der_timestamps.TimeStampResponse, tsr, what=WHAT, path=path)
    info = require_granted(response, texts_allowed=False, path=path)
    signed = read_signed_data(
        info, what=WHAT, path=path, content_type=TOKEN_CONTENT, version=TOKEN_VERSION
    )
    if signed.content is None:
        raise _wrong(path, "the time-stamp information inside", "none")
    stamp = der.decode(der_timestamps.TimeStampInfo, signed.content, what=WHAT, path=path)
    require_named_certificate(signed)
    return _token(stamp, signed, information=signed.content, raw=tsr, path=path)


def _token(
    stamp: der_timestamps.TimeStampInfo,
    signed: SignedMessage,
    *,
    information: bytes,
    raw: bytes,
    path: str,
) -> Token:
    if stamp.version != 1:
        raise _wrong(path, "time-stamp information of version 1", f"{stamp.version}")
    for found in stamp.extensions or ():
        if found.critical:
            raise _wrong(path, "no critical extension", found.kind.dotted_string)
    hash_name = digest_name(stamp.imprint.hash_algorithm, what=WHAT, path=path)
    size = hashlib.new(hash_name).digest_size
    if len(stamp.imprint.hashed_message) != size:
        observed = f"{len(stamp.imprint.hashed_message)} bytes"
        raise _wrong(path, f"an imprint of {size} bytes", observed)
    return Token(
        gen_time=stamp.gen_time.as_datetime(),
        imprint=stamp.imprint.hashed_message,
        hash_name=hash_name,
        serial=stamp.serial_number,
        policy=stamp.policy.dotted_string,
        accuracy=_accuracy(stamp.accuracy, path=path),
        nonce=stamp.nonce,
        raw=raw,
        information=information,
        signed=signed,
    )


def require_imprint(token: Token, message: bytes) -> None:
    """The token must be about exactly these bytes. Says nothing about who made it.

    Raises:
        TrustError: it is about others.
    """
    digest = hashlib.new(token.hash_name, message).digest()
    if token.imprint != digest:
        raise TrustError(
            "the time-stamp token is about other bytes",
            path=token.signed.path,
            expected=f"{token.hash_name} {digest.hex()}",
            observed=token.imprint.hex(),
            hint="ask the sender for the token that was made for this signature",
        )


def require_token(
    token: Token, message: bytes, anchors: Sequence[x509.Certificate]
) -> tuple[x509.Certificate, ...]:
    """The whole check; returns the authority's path, anchor last, as it stood at genTime.

    Raises:
        TrustError: the token is about other bytes, its signature does not verify, its authority
            leads to no anchor or is not for time stamping, or it carries what it should not.
    """
    require_imprint(token, message)
    require_message(token.signed, token.information)
    path = require_path(
        token.tsa_certificate,
        token.signed.intermediates,
        anchors,
        at=token.gen_time,
        usage=Usage.TIME_STAMPING,
    )
    require_nothing_off_path(token.certificates, path, what=WHAT, place=token.signed.path)
    if path[-1].subject == path[-1].issuer:
        # The second reader takes self-signed roots only; RFC 5280 §6.1.1 allows other anchors.
        require_second_reading(token.signed, message, path)
    return path


def require_claim_before(token: Token, claimed: dt.datetime) -> None:
    """The sealing time that was claimed must not be after the time in the token.

    Raises:
        TrustError: it is, so the sealer's clock was ahead or the claim is false.
    """
    if claimed > token.gen_time:
        raise TrustError(
            "the claimed sealing time is after the time stamp over it",
            path=token.signed.path,
            expected=f"a time up to {token.gen_time.isoformat()}",
            observed=claimed.astimezone(dt.UTC).isoformat(),
            hint="the clock of the sealing computer was ahead; set it right and seal again, or "
            "ask the sealer to explain",
        )


def _accuracy(accuracy: der_timestamps.Accuracy | None, *, path: str) -> dt.timedelta | None:
    if accuracy is None:
        return None
    seconds, millis, micros = accuracy.seconds or 0, accuracy.millis or 0, accuracy.micros or 0
    day = 86_400
    if not (0 <= seconds <= day and 0 <= millis < 1000 and 0 <= micros < 1000):
        raise _wrong(path, "an accuracy within a day", f"{seconds} s {millis} ms {micros} µs")
    return dt.timedelta(seconds=seconds, milliseconds=millis, microseconds=micros)


def _wrong(path: str, expected: str, observed: str) -> TrustError:
    return TrustError(
        "the time-stamp token is not in the one form that is accepted",
        path=path,
        expected=expected,
        observed=observed,
        hint="ask for another token; this one was altered or made by something else",
    )
