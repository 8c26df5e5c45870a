"""All attacks, family by family."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

from tests.attacks import (
    archive_headers,
    archive_members,
    archive_names,
    archive_shapes,
    content_altered,
    content_claims,
    content_resigned,
    encrypted,
    packs_altered,
    packs_resigned,
    trust_revocation,
    trust_signatures,
    trust_signers,
    trust_tokens,
)
from tests.attacks.attack import Attack
from tests.attacks.good import Good, good

Source = Callable[[Good], Iterator[Attack]]
FAMILIES: Final[dict[str, tuple[Source, ...]]] = {
    "archive": (
        archive_headers.attacks,
        archive_shapes.attacks,
        archive_members.attacks,
        archive_names.attacks,
    ),
    "trust": (
        trust_signers.attacks,
        trust_revocation.attacks,
        trust_signatures.attacks,
        trust_tokens.attacks,
    ),
    "content": (content_altered.attacks, content_resigned.attacks, content_claims.attacks),
    "pack": (packs_altered.attacks, packs_resigned.attacks),
    "encrypted": (encrypted.attacks,),
}


def attacks_of(family: str) -> Iterator[Attack]:
    """Every attack of one family."""
    for source in FAMILIES[family]:
        yield from source(good())


def all_attacks() -> Iterator[Attack]:
    """Every attack of every family, in order."""
    for family in FAMILIES:
        yield from attacks_of(family)
