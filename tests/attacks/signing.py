"""Bundles that are whole but for who signed them, how, and when: the ground of trust attacks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from cryptography import x509

from evidpack.container import layout
from evidpack.proof.digests import sha256
from evidpack.proof.statement import parse_statement
from evidpack.verifying.signing_steps import Trust
from tests.attacks.attack import Attack
from tests.attacks.good import Good
from tests.bundles import rebuilt
from tests.sealed_days import stamped
from tests.trust.certificate_maker import Made
from tests.trust.forging import plain_attributes, signed_data

WHICH = {5: "signature", 6: "signer", 7: "time"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Forger:
    """Makes trust attacks out of one good bundle."""

    good: Good

    def statement_by(self, signer: Made, **changes: object) -> bytes:
        """The day's seal statement, naming this signing certificate."""
        statement = parse_statement(self.good.members[layout.STATEMENT], path=layout.STATEMENT)
        named = replace(statement, signing_certificate=sha256(signer.der), **changes)  # type: ignore[arg-type]
        return named.to_bytes()

    def signature_by(self, signer: Made, carried: Sequence[Made], statement: bytes) -> bytes:
        """A good signature, carrying the signer's and these certificates."""
        certificates = [signer.der, *(one.der for one in carried)]
        return signed_data(signer, plain_attributes(statement), carried=certificates)

    def attack(
        self,
        kind: str,
        name: str,
        step: int,
        *,
        statement: bytes | None = None,
        signature: bytes | None = None,
        token: bytes | None = None,
        anchors: Sequence[x509.Certificate] | None = None,
        tsa_anchors: Sequence[x509.Certificate] | None = None,
        lists: Sequence[x509.CertificateRevocationList] = (),
        words: str = "",
        alone: bool = True,
    ) -> Attack:
        """The day's bundle with these parts in place of its own; a new signature is stamped anew."""
        members = dict(self.good.members)
        if statement is not None:
            members[layout.STATEMENT] = statement
        if signature is not None:
            members[layout.SIGNATURE] = signature
            members[layout.TOKEN] = stamped(signature, self.good.day.authority)
        if token is not None:
            members[layout.TOKEN] = token
        own = self.good.day.trust
        return Attack(
            family="trust",
            kind=kind,
            name=name,
            data=rebuilt(self.good.top, members),
            step=step,
            words=words,
            alone=alone,
            answer=("sealer", WHICH[step]) if step in WHICH else None,
            trust=Trust(
                anchors=own.anchors if anchors is None else tuple(anchors),
                tsa_anchors=own.tsa_anchors if tsa_anchors is None else tuple(tsa_anchors),
                revocation_lists=tuple(lists),
            ),
        )

    def signed_by(
        self,
        kind: str,
        name: str,
        step: int,
        signer: Made,
        carried: Sequence[Made],
        anchor: Made,
        *,
        words: str = "",
        lists: Sequence[x509.CertificateRevocationList] = (),
    ) -> Attack:
        """All of it well signed and stamped by this signer, and the verifier trusts `anchor`."""
        statement = self.statement_by(signer)
        return self.attack(
            kind,
            name,
            step,
            statement=statement,
            signature=self.signature_by(signer, carried, statement),
            anchors=[anchor.certificate],
            lists=lists,
            words=words,
        )
