"""The passphrase of an encrypted pack: made for it, never chosen, and checked when typed.

27 random characters of 5 bits each, 135 bits, and one that checks them: seven groups of four.
`container.aes_zip` takes this form; the key derivation of that format is weak, so that all the
strength has to be in the passphrase.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from evidpack.disclosure.check_characters import (
    checks,
    drawn,
    grouped,
    plain,
    strange,
    with_check,
)
from evidpack.errors import UsageError

RANDOM_CHARACTERS: Final = 27
RANDOM_BITS: Final = RANDOM_CHARACTERS * 5
_CHARACTERS: Final = RANDOM_CHARACTERS + 1


def new_passphrase(random: Callable[[int], bytes]) -> str:
    """A passphrase of 135 random bits. `random` gives so many secret bytes (secrets.token_bytes)."""
    return grouped(with_check(drawn(RANDOM_CHARACTERS, random)))


def require_passphrase(text: str) -> str:
    """A typed passphrase in its one form; case, spaces and hyphens are free.

    Raises UsageError for a wrong length, a character that none has, or a typing error that the
    last character tells: one wrong character, or two that have changed places, never pass.  The
    message says nothing of what was typed.
    """
    characters = plain(text)
    if len(characters) != _CHARACTERS:
        raise _not_one(f"{len(characters)} characters", f"{_CHARACTERS} characters")
    if strange(characters) is not None:
        raise _not_one("another character among them", "letters and digits without I, O, 0 and 1")
    if not checks(characters):
        raise _not_one("characters that do not agree with the last one", "each as on the slip")
    return grouped(characters)


def _not_one(observed: str, expected: str) -> UsageError:
    return UsageError(
        "the passphrase is not typed as it stands on the slip",
        expected=expected,
        observed=observed,
        hint="Compare it with the slip group by group. It has no I, O, 0 or 1.",
    )
