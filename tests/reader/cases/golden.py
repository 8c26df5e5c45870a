"""The golden files, with the certificates and lists that each question names, and the spoiled ones."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from evidpack.trust.certificates import load_certificates
from evidpack.trust.revocation import load_crls
from evidpack.verifying.signing_steps import Trust
from tests.golden.cases import GOLDEN, load
from tests.reader.cases.case import Case

_ALWAYS = ["--anchor", str(GOLDEN / "anchors/authority.pem")]
_ALWAYS += ["--tsa-anchor", str(GOLDEN / "anchors/tsa-authority.pem")]


def cases() -> Iterator[Case]:
    golden = load()
    for one in golden.cases:
        yield Case(
            name=f"golden: {one.file}: {one.about}",
            data=(GOLDEN / one.file).read_bytes(),
            trust=_trust(one.arguments),
            accept_claimed_time="--accept-claimed-time" in one.options,
            passphrase=golden.passphrases.get(one.file),
        )
    for spoiled in golden.refused:
        yield Case(
            name=f"golden: spoiled {spoiled.name}: {spoiled.about}",
            data=spoiled.data,
            trust=_trust(_ALWAYS),
            passphrase=golden.passphrases.get(spoiled.of),
        )


def _trust(arguments: list[str]) -> Trust:
    def named(option: str) -> Iterator[tuple[bytes, str]]:
        for at, word in enumerate(arguments):
            if word == option:
                yield Path(arguments[at + 1]).read_bytes(), arguments[at + 1]

    return Trust(
        anchors=tuple(
            one for data, path in named("--anchor") for one in load_certificates(data, path=path)
        ),
        tsa_anchors=tuple(
            one
            for data, path in named("--tsa-anchor")
            for one in load_certificates(data, path=path)
        ),
        revocation_lists=tuple(
            one for data, path in named("--crl") for one in load_crls(data, path=path)
        ),
    )
