"""The shared list of cases: files on which the command line and the browser must agree."""

from __future__ import annotations

from collections.abc import Iterator

from tests.reader.cases import (
    attacks,
    containers,
    golden,
    ledgers,
    signers,
    tampering,
    tokens,
    trusts,
)
from tests.reader.cases.case import Case
from tests.sealed_days import SealedDay


def all_cases(day: SealedDay) -> Iterator[Case]:
    """Every case, each name once."""
    for family in (trusts, tampering, containers, ledgers, signers, tokens):
        yield from family.cases(day)
    yield from attacks.cases()
    yield from golden.cases()
