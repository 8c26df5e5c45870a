"""A demonstration authority: a root, a signer and a time-stamp authority, made on the spot.

Everything it issues says “demonstration” in its name.  It vouches for nobody and exists so that
the demo day can be sealed and verified without asking anyone.  Given the same keys and the same
time it issues the same certificates and tokens, byte for byte.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec

from evidpack.trust import demo_stamps
from evidpack.trust.demo_certificates import (
    Holder,
    issue_intermediate,
    issue_root,
    issue_signer,
    issue_time_stamper,
)

__all__ = ["DemoAuthority", "Holder", "KeySource", "demo_time_stamp", "random_key"]

KeySource = Callable[[], ec.EllipticCurvePrivateKey]
# Issued as of the day before, so that a sealing computer whose clock is a little behind can seal.
BACKDATED: Final = dt.timedelta(days=1)


def random_key() -> ec.EllipticCurvePrivateKey:
    """A new P-256 key from the system's randomness."""
    return ec.generate_private_key(ec.SECP256R1())


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoAuthority:
    """Two roots of trust and what they issued; ``intermediate`` stands between root and signer.

    ``time_stamp_root`` issued ``time_stamper``, which signs tokens.
    """

    root: Holder
    intermediate: Holder | None
    signer: Holder
    time_stamp_root: Holder
    time_stamper: Holder

    @classmethod
    def create(
        cls,
        *,
        name: str,
        now: dt.datetime,
        key_source: KeySource = random_key,
        with_intermediate: bool = False,
    ) -> DemoAuthority:
        """Make all of it, valid from the day before ``now`` (aware; whole seconds are kept).

        ``name`` is the signer's. Keys are drawn in the order root, intermediate, signer,
        time-stamp root, time-stamper.
        """
        start = now.astimezone(dt.UTC).replace(microsecond=0) - BACKDATED
        root = issue_root("Demonstration authority, vouches for nobody", start, key_source())
        intermediate = None
        if with_intermediate:
            intermediate = issue_intermediate(root, start, key_source())
        signer = issue_signer(intermediate or root, name, start, key_source())
        stamp_root = issue_root(
            "Demonstration time-stamp authority root, vouches for nobody", start, key_source()
        )
        return cls(
            root=root,
            intermediate=intermediate,
            signer=signer,
            time_stamp_root=stamp_root,
            time_stamper=issue_time_stamper(stamp_root, start, key_source()),
        )

    @property
    def intermediates(self) -> tuple[x509.Certificate, ...]:
        """What a signature has to carry beside the signer's certificate."""
        return () if self.intermediate is None else (self.intermediate.certificate,)


def demo_time_stamp(request_der: bytes, *, authority: DemoAuthority, now: dt.datetime) -> bytes:
    """A granted DER TimeStampResp for the request, with the time ``now`` (aware).

    The same request, keys and time give the same bytes.

    Raises:
        TrustError: not a request of the kind that timestamps.request makes.
    """
    return demo_stamps.stamp(request_der, stamper=authority.time_stamper, now=now)
