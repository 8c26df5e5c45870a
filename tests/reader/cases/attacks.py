"""The hostile files of `tests/attacks`, all of them."""

from __future__ import annotations

from collections.abc import Iterator

from tests.attacks.families import all_attacks
from tests.reader.cases.case import Case


def cases() -> Iterator[Case]:
    for attack in all_attacks():
        yield Case(
            name=f"{attack.family}: {attack.kind}: {attack.name}",
            data=attack.data,
            trust=attack.trust,
            passphrase=attack.passphrase,
        )
