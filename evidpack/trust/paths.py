"""The path from a certificate to an anchor that the verifier gave (RFC 5280 §6).

cryptography's verifier decides; sizes, purposes and the instant are checked again here, and a
refusal is explained by path_faults.  There is no built-in list of anchors.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Final

from cryptography import x509
from cryptography.x509 import verification

from evidpack.errors import TrustError
from evidpack.trust.fingerprints import name_of
from evidpack.trust.path_faults import explain, require_member
from evidpack.trust.usages import Usage, require_authority_purposes, require_usage

__all__ = ["Usage", "find_path", "require_nothing_off_path", "require_path"]

MAX_INTERMEDIATES: Final = 6


def require_path(
    certificate: x509.Certificate,
    intermediates: Sequence[x509.Certificate],
    anchors: Sequence[x509.Certificate],
    *,
    at: dt.datetime,
    usage: Usage,
) -> tuple[x509.Certificate, ...]:
    """The path, certificate first and anchor last, as it stood at the aware time ``at``.

    Raises:
        TrustError: names the certificate and the rule that it breaks, and says what to ask for.
    """
    require_usage(certificate, usage)
    if not anchors:
        raise TrustError(
            f"no anchor was given, so nothing says who {name_of(certificate)} is",
            expected="the root certificate of the authority that vouches for the signer",
            observed="none",
            hint=f"ask the authority {name_of(certificate)} belongs to for its root certificate, "
            "by a way other than the one this file came by, and compare the fingerprint",
        )
    path = find_path(certificate, intermediates, anchors, at=at)
    for member in path:
        require_member(member, at=at)
    for authority in path[1:]:
        require_authority_purposes(authority, usage)
    return path


def find_path(
    certificate: x509.Certificate,
    intermediates: Sequence[x509.Certificate],
    anchors: Sequence[x509.Certificate],
    *,
    at: dt.datetime,
) -> tuple[x509.Certificate, ...]:
    """A path by the rules of RFC 5280 §6.1 alone, without our own limits on keys and purposes.

    Raises:
        TrustError: there is none.
    """
    moment = _utc(at)
    if certificate in anchors:
        raise TrustError(
            f"the certificate of {name_of(certificate)} was itself given as an anchor",
            expected="the certificate of the authority that issued it",
            observed="the end certificate",
            hint="ask the authority for its own root certificate",
        )
    verifier = (
        verification.PolicyBuilder()
        .store(verification.Store(list(anchors)))
        .time(moment)
        .max_chain_depth(MAX_INTERMEDIATES)
        .extension_policies(
            ca_policy=_authority_policy(), ee_policy=verification.ExtensionPolicy.permit_all()
        )
        .build_client_verifier()
    )
    try:
        return tuple(verifier.verify(certificate, list(intermediates)).chain)
    except verification.VerificationError as error:
        raise explain(certificate, intermediates, anchors, at=at, cause=str(error)) from error


def require_nothing_off_path(
    carried: Sequence[x509.Certificate],
    path: Sequence[x509.Certificate],
    *,
    what: str,
    place: str | None,
) -> None:
    """Carried certificates are not signed, so each must be one that the path uses.

    Raises:
        TrustError: one is not on the path.
    """
    for certificate in carried:
        if certificate not in path:
            raise TrustError(
                f"{what} carries the certificate of {name_of(certificate)}, which is not on the "
                "path to the anchor",
                path=place,
                expected="certificates on the path alone",
                observed="one beside it",
                hint="treat it as altered; ask the sender for the original file",
            )


def _authority_policy() -> verification.ExtensionPolicy:
    # The default asks for the purpose serverAuth or clientAuth; ours is checked afterwards.
    return verification.ExtensionPolicy.webpki_defaults_ca().may_be_present(
        x509.ExtendedKeyUsage, verification.Criticality.AGNOSTIC, None
    )


def _utc(at: dt.datetime) -> dt.datetime:
    if at.tzinfo is None:
        raise ValueError("a time with an offset is needed")
    return at.astimezone(dt.UTC)
