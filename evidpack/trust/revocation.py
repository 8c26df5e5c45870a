"""Certificate revocation lists (RFC 5280 §5), where the verifier gave some.

Nothing is fetched: the lists come from the user.  The question is always whether a certificate
was revoked at the time of sealing, so a later list may be used, and a later revocation with a
later date does not undo an earlier seal.
"""

from __future__ import annotations

import datetime as dt
import itertools
import re
import warnings
from collections.abc import Sequence
from typing import Final, cast

from cryptography import x509
from cryptography.exceptions import UnsupportedAlgorithm
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric.types import CertificateIssuerPublicKeyTypes

from evidpack.errors import TrustError
from evidpack.limits import MAX_PEM_BYTES
from evidpack.trust.fingerprints import name_of, quoted_name
from evidpack.trust.usages import extension, key_usage_names

_BLOCK: Final = re.compile(rb"-----BEGIN X509 CRL-----[^-]+-----END X509 CRL-----")
_PEM_MARK: Final = b"-----BEGIN "
_HARMLESS_ENTRY: Final = (x509.CRLReason, x509.InvalidityDate)


def load_crls(data: bytes, *, path: str) -> tuple[x509.CertificateRevocationList, ...]:
    """The revocation list of a DER file, or all of a PEM file.

    Raises:
        TrustError: too large, none inside, or one that cannot be read.
    """
    if len(data) > MAX_PEM_BYTES:
        raise TrustError(
            "the revocation list is too large",
            path=path,
            expected=f"at most {MAX_PEM_BYTES} bytes",
            observed=f"{len(data)} bytes",
        )
    if _PEM_MARK not in data:
        return (_read(data, path=path),)
    blocks = _BLOCK.findall(data)
    if not blocks or len(blocks) != data.count(_PEM_MARK):
        raise TrustError(
            "the file holds something other than revocation lists",
            path=path,
            expected="X509 CRL blocks only",
            observed=f"{len(blocks)} of {data.count(_PEM_MARK)} blocks",
            hint="ask the authority for its revocation list (CRL)",
        )
    return tuple(_read(block, path=path) for block in blocks)


def _read(data: bytes, *, path: str) -> x509.CertificateRevocationList:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            load = x509.load_pem_x509_crl if data[:1] == b"-" else x509.load_der_x509_crl
            crl = load(data)
            _ = (crl.extensions, crl.issuer, crl.last_update_utc, crl.next_update_utc)
            _ = (crl.signature_hash_algorithm, crl.signature_algorithm_parameters)
            for entry in crl:
                _ = (entry.extensions, entry.revocation_date_utc)
    except (ValueError, TypeError, UnsupportedAlgorithm, Warning) as error:
        raise _unreadable(error, path) from error
    except (x509.DuplicateExtension, x509.InvalidVersion, x509.UnsupportedGeneralNameType) as error:
        raise _unreadable(error, path) from error
    if any(isinstance(found.value, x509.DeltaCRLIndicator) for found in crl.extensions):
        raise TrustError(
            "a delta revocation list cannot be used",
            path=path,
            expected="a complete list",
            observed=f"changes to a list of {quoted_name(crl.issuer)} (RFC 5280 §5.2.4)",
            hint=f"ask {quoted_name(crl.issuer)} for its complete revocation list",
        )
    return crl


def require_not_revoked(
    path: Sequence[x509.Certificate],
    crls: Sequence[x509.CertificateRevocationList],
    at: dt.datetime,
) -> None:
    """No certificate of the path, the anchor apart, was revoked at the aware time ``at``.

    ``path`` is as `paths.require_path` returns it.  Every certificate needs a list from its own
    issuer that was still current at that time, and complete.

    Raises:
        TrustError: one was revoked, or no list that was given can tell.
    """
    for certificate, issuer in itertools.pairwise(path):
        _require_one_not_revoked(certificate, issuer, crls, at)


def _require_one_not_revoked(
    certificate: x509.Certificate,
    issuer: x509.Certificate,
    crls: Sequence[x509.CertificateRevocationList],
    at: dt.datetime,
) -> None:
    problems: list[str] = []
    told = False
    for crl in crls:
        if crl.issuer != issuer.subject:
            continue
        problem = _problem(crl, certificate, issuer, at)
        if problem is None:
            _require_not_listed(crl, certificate, at)
            told = True
        else:
            problems.append(problem)
    if not told:
        name = name_of(issuer)
        raise TrustError(
            f"no revocation list that was given says whether the certificate of "
            f"{name_of(certificate)} was revoked",
            expected=f"a complete list from {name}, current at {at.isoformat()}",
            observed="; ".join(dict.fromkeys(problems)) or "no list from it",
            hint=f"ask {name} for its revocation list (CRL) for that time",
        )


def _require_not_listed(
    crl: x509.CertificateRevocationList, certificate: x509.Certificate, at: dt.datetime
) -> None:
    entry = crl.get_revoked_certificate_by_serial_number(certificate.serial_number)
    if entry is None:
        return
    since, reason = entry.revocation_date_utc, "no reason given"
    for found in entry.extensions:
        if isinstance(found.value, x509.InvalidityDate):
            since = min(since, found.value.invalidity_date_utc)
        if isinstance(found.value, x509.CRLReason):
            reason = found.value.reason.value
    if since <= at:
        raise TrustError(
            f"the certificate of {name_of(certificate)} was revoked",
            expected=f"not revoked at {at.isoformat()}",
            observed=f"revoked since {since.isoformat()} ({reason})",
            hint=f"treat the signature as worthless and ask {quoted_name(crl.issuer)} why",
        )


def _problem(
    crl: x509.CertificateRevocationList,
    certificate: x509.Certificate,
    issuer: x509.Certificate,
    at: dt.datetime,
) -> str | None:
    """Why this list cannot tell, in a few words; None if it can."""
    usages = key_usage_names(issuer)
    if usages is not None and "cRLSign" not in usages:
        return "a list by an authority that may not sign lists"
    if not isinstance(crl.signature_hash_algorithm, hashes.SHA256 | hashes.SHA384 | hashes.SHA512):
        return "a list signed with a weak digest"
    if not _signed(crl, issuer):
        return "a list with a signature that does not verify"
    if crl.next_update_utc is None or crl.next_update_utc < at:
        return "a list that was out of date"
    return _scope_problem(crl, certificate)


def _signed(crl: x509.CertificateRevocationList, issuer: x509.Certificate) -> bool:
    # The issuer is on a path that was accepted, so its key is of a kind that can sign; what the
    # library does not support was refused when the list was read.
    key = cast("CertificateIssuerPublicKeyTypes", issuer.public_key())
    return crl.is_signature_valid(key)


def _scope_problem(
    crl: x509.CertificateRevocationList, certificate: x509.Certificate
) -> str | None:
    for found in crl.extensions:
        if isinstance(found.value, x509.IssuingDistributionPoint):
            if not _in_scope(found.value, certificate):
                return "a list that is about other certificates or some reasons only"
        elif found.critical:
            return "a list with a critical extension that is not understood"
    for entry in crl:
        for found in entry.extensions:
            if found.critical and not isinstance(found.value, _HARMLESS_ENTRY):
                return "a list with a critical entry extension that is not understood"
    return None


def _in_scope(point: x509.IssuingDistributionPoint, certificate: x509.Certificate) -> bool:
    if point.indirect_crl or point.only_contains_attribute_certs or point.only_some_reasons:
        return False
    constraints = _authority(certificate)
    if (point.only_contains_user_certs and constraints) or (
        point.only_contains_ca_certs and not constraints
    ):
        return False
    if point.relative_name is not None:
        return False
    return point.full_name is None or bool(set(point.full_name) & _points(certificate))


def _authority(certificate: x509.Certificate) -> bool:
    found = extension(certificate, x509.BasicConstraints)
    return found is not None and found.value.ca


def _points(certificate: x509.Certificate) -> set[x509.GeneralName]:
    """The places where the certificate says that its own revocation list is."""
    found = extension(certificate, x509.CRLDistributionPoints)
    if found is None:
        return set()
    return {name for point in found.value for name in point.full_name or ()}


def _unreadable(error: BaseException, path: str) -> TrustError:
    return TrustError(
        "a revocation list cannot be read",
        path=path,
        expected="a CRL by RFC 5280, DER or PEM",
        observed=str(error),
        hint="ask the authority for its revocation list again",
    )
