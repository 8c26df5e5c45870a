"""Why there is no path: which certificate breaks which rule, and whom to ask for what.

The verifier in the library says only that it found no path.  This walks from the certificate to
the anchors by name and gives the first rule broken.  It never accepts anything: it is asked once
a path has been refused.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from cryptography import x509
from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives import hashes

from evidpack.errors import TrustError
from evidpack.trust.algorithms import ACCEPTED_DIGESTS, require_key_strength
from evidpack.trust.fingerprints import name_of, quoted_name
from evidpack.trust.usages import extension, key_usage_names


def require_member(certificate: x509.Certificate, *, at: dt.datetime) -> None:
    """What every certificate on a path must be: valid at the time, strong enough.

    Raises:
        TrustError: not yet or no longer valid, a weak key, or a weak digest.
    """
    _require_validity(certificate, at)
    require_key_strength(certificate.public_key(), whose=name_of(certificate))
    _require_digest(certificate)


def explain(
    certificate: x509.Certificate,
    intermediates: Sequence[x509.Certificate],
    anchors: Sequence[x509.Certificate],
    *,
    at: dt.datetime,
    cause: str,
) -> TrustError:
    """The error that says why the path was refused."""
    try:
        # Strength last: a short key may stand beside the rule that broke the path.
        for member in _walk(certificate, intermediates, anchors, at):
            require_member(member, at=at)
    except TrustError as fault:
        return fault
    return TrustError(
        f"no acceptable path leads from the certificate of {name_of(certificate)} to an anchor",
        expected="a path by RFC 5280",
        observed=cause,
        hint="ask the authority that issued the certificate for all certificates of its path",
    )


def _walk(
    certificate: x509.Certificate,
    intermediates: Sequence[x509.Certificate],
    anchors: Sequence[x509.Certificate],
    at: dt.datetime,
) -> list[x509.Certificate]:
    current, below = certificate, 0
    seen: list[x509.Certificate] = []
    while current not in seen:
        _require_validity(current, at)
        _require_digest(current)
        _require_understood(current)
        seen.append(current)
        if current in anchors:
            break
        issuer = _issuer(current, [*anchors, *intermediates])
        _require_authority(issuer, below)
        if issuer.subject != issuer.issuer:
            below += 1
        current = issuer
    return seen


def _issuer(
    certificate: x509.Certificate, candidates: Sequence[x509.Certificate]
) -> x509.Certificate:
    named = [found for found in candidates if found.subject == certificate.issuer]
    for found in named:
        if _issued(found, certificate):
            return found
    issuer = quoted_name(certificate.issuer)
    if named:
        raise TrustError(
            f"the certificate of {name_of(certificate)} was not signed with the key of {issuer}",
            expected=f"a signature by the authority {issuer} that was given",
            observed="the right name but another key",
            hint=f"treat the signer as unknown; ask {issuer} whether it issued this certificate "
            "and for the root certificate that belongs to it",
        )
    if certificate.subject == certificate.issuer:
        raise TrustError(
            f"the certificate of {name_of(certificate)} is self-signed and is not an anchor",
            expected="a certificate issued by an authority whose certificate was given",
            observed="a certificate that vouches for itself",
            hint="ask the sender for a certificate from the authority that you know",
        )
    raise TrustError(
        f"the issuer of the certificate of {name_of(certificate)} is not known: {issuer}",
        expected=f"the certificate of {issuer}, as an anchor or carried with the signature",
        observed="neither",
        hint=f"ask {issuer} for its root certificate, by a way other than the one this file came "
        "by, and compare the fingerprint; or ask the sender to add the missing certificate",
    )


def _issued(issuer: x509.Certificate, certificate: x509.Certificate) -> bool:
    try:
        certificate.verify_directly_issued_by(issuer)
    except (ValueError, TypeError, InvalidSignature, UnsupportedAlgorithm):
        return False
    return True


def _require_validity(certificate: x509.Certificate, at: dt.datetime) -> None:
    first, last = certificate.not_valid_before_utc, certificate.not_valid_after_utc
    if first <= at <= last:
        return
    late = at > last
    raise TrustError(
        f"the certificate of {name_of(certificate)} was "
        f"{'no longer' if late else 'not yet'} valid at the time",
        expected=f"a time from {first.isoformat()} to {last.isoformat()}",
        observed=at.astimezone(dt.UTC).isoformat(),
        hint="ask the signer which certificate was in force at that time"
        if late
        else "the seal cannot be older than its certificate; ask the signer and the authority",
    )


def _require_digest(certificate: x509.Certificate) -> None:
    if not isinstance(
        certificate.signature_hash_algorithm, hashes.SHA256 | hashes.SHA384 | hashes.SHA512
    ):
        raise TrustError(
            f"the certificate of {name_of(certificate)} is signed with a weak digest",
            expected=ACCEPTED_DIGESTS,
            observed=_hash_name(certificate),
            hint="ask the authority that issued it for a new one",
        )


def _require_understood(certificate: x509.Certificate) -> None:
    for found in certificate.extensions:
        if found.critical and isinstance(found.value, x509.UnrecognizedExtension):
            raise TrustError(
                f"the certificate of {name_of(certificate)} has a critical extension that is not "
                "understood",
                expected="critical extensions of RFC 5280 alone",
                observed=found.oid.dotted_string,
                hint="ask the authority that issued it for one without",
            )


def _require_authority(certificate: x509.Certificate, below: int) -> None:
    """``below`` is the number of intermediates, not self-issued, between it and the end."""
    found = extension(certificate, x509.BasicConstraints)
    constraints = None if found is None else found.value
    usages = key_usage_names(certificate)
    problem = None
    if constraints is None or not constraints.ca:
        problem = ("is not an authority's, but issued another", "CA true", "CA false or absent")
    elif usages is None or "keyCertSign" not in usages:
        observed = "no keyUsage" if usages is None else ", ".join(usages) or "none"
        problem = ("may not sign certificates", "keyUsage keyCertSign", observed)
    elif constraints.path_length is not None and constraints.path_length < below:
        problem = (
            "allows fewer authorities below it than there are",
            f"path length at most {constraints.path_length}",
            f"{below}",
        )
    if problem is not None:
        rule, expected, observed = problem
        raise TrustError(
            f"the certificate of {name_of(certificate)} {rule}",
            expected=expected,
            observed=observed,
            hint=f"ask {quoted_name(certificate.issuer)} for a proper authority certificate",
        )


def _hash_name(certificate: x509.Certificate) -> str:
    algorithm = certificate.signature_hash_algorithm
    return "none" if algorithm is None else algorithm.name.upper()
