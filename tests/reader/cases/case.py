"""One case: a file, and what the verifier brings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding

from evidpack.container import layout
from evidpack.proof.digests import sha256
from evidpack.proof.statement import parse_statement
from evidpack.trust.cms import sign_detached
from evidpack.verifying.signing_steps import Trust
from tests.bundles import rebuilt, taken_apart
from tests.sealed_days import SealedDay, stamped

Members = dict[str, bytes]


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """`name` is its family and what was done; `passphrase` is what is given for an encrypted pack."""

    name: str
    data: bytes
    trust: Trust = field(default_factory=Trust)
    accept_claimed_time: bool = False
    passphrase: str | None = None

    @property
    def file_name(self) -> str:
        """The name of the file, the same for both readers, since faults name it."""
        return "case.zip"


def pem(
    given: tuple[x509.Certificate, ...] | tuple[x509.CertificateRevocationList, ...],
) -> str:
    """Certificates or revocation lists as a person would paste them."""
    return "".join(one.public_bytes(Encoding.PEM).decode() for one in given)


def members_of(day: SealedDay) -> Members:
    """The bundle's members by name."""
    return taken_apart(day.bundle)[1]


def top_of(day: SealedDay) -> str:
    """The bundle's folder."""
    return taken_apart(day.bundle)[0]


def case(name: str, day: SealedDay, members: Mapping[str, bytes]) -> Case:
    """A bundle of these members, with checksums and manifests repaired."""
    return Case(name=name, data=rebuilt(top_of(day), members), trust=day.trust)


def signed_again(members: Mapping[str, bytes], day: SealedDay, content: bytes) -> Members:
    """Another statement, well signed and stamped by the day's own sealer."""
    signer = day.authority.signer
    signature = sign_detached(content, key=signer.key, certificate=signer.certificate)
    return dict(members) | {
        layout.STATEMENT: content,
        layout.SIGNATURE: signature,
        layout.TOKEN: stamped(signature, day.authority),
    }


def pinned_again(members: Mapping[str, bytes], day: SealedDay) -> Members:
    """The same statement with the digests of what is there now, signed and stamped."""
    from dataclasses import replace

    statement = parse_statement(members[layout.STATEMENT], path=layout.STATEMENT)
    pinned = {name: sha256(members[name]) for name in layout.PINNED_BY_SEAL}
    return signed_again(members, day, replace(statement, pinned=pinned).to_bytes())
