"""What the sealer was asked to do, and what was gathered for it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from evidpack.intake.intake import Intake
from evidpack.intake.source import FileSource, FolderSource
from evidpack.model.findings import Finding
from evidpack.rules.ruleset import RuleSet

if TYPE_CHECKING:  # a check of a day needs neither, and they take long to load
    from cryptography import x509

    from evidpack.proof.statement import Previous
    from evidpack.trust.algorithms import SigningKey


@dataclass(frozen=True, slots=True, kw_only=True)
class Signer:
    """The key, its certificate, and the intermediates up to (not including) the anchor."""

    key: SigningKey
    certificate: x509.Certificate
    chain: tuple[x509.Certificate, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SealOrder:
    """How to seal, apart from what.

    `time_stamp` takes the signature's bytes and returns the authority's response, or is None where
    none was wanted.  `claimed_time` is aware, in whole seconds.  `random` is a source of secret
    bytes.  `on_bytes` is told of every byte of the payload once it is written and compared.
    """

    signer: Signer
    output: Path
    claimed_time: datetime
    random: Callable[[int], bytes]
    time_stamp: Callable[[bytes], bytes] | None = None
    previous: Previous | None = None
    pixel_proof: bool = True
    paper: str = "A4"
    on_bytes: Callable[[int], None] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathered:
    """A day ready to be sealed. `rules` and `findings` are empty for an undescribed day."""

    intake: Intake
    export: FolderSource
    office: FileSource
    rules: RuleSet | None
    findings: tuple[Finding, ...]

    def required_rules(self) -> RuleSet:
        """The rule set of a described day. Raises ValueError for an undescribed one."""
        if self.rules is None:
            raise ValueError("an undescribed day has no rule set")
        return self.rules

    @property
    def total_bytes(self) -> int:
        """Bytes of all files together."""
        return sum(item.size for item in self.intake.items)
