"""The attacks as files, for any reader of bundles and packs.

python -m tests.attacks.corpus FOLDER [FAMILY …]

FOLDER gets one file a case, the certificates and revocation lists that its verifier brings, and
`cases.json`: a list with an object a case of

    name, family, class   what is tried
    file                  the hostile file
    anchors, tsa_anchors  PEM files, or null
    crls                  a PEM file of revocation lists, or null
    passphrase            of an encrypted pack, or null
    recheck               whether step 8 must be run for the refusal
    verdict, exit_code    what `evidpack verify` must end with
    step                  the number of the step that must refuse it
    alone                 whether no other step fails
    answer                which of the three answers is no, as [whose, which], or null

In a program, `tests.attacks.families.all_attacks()` yields the same as `Attack` values.
"""

from __future__ import annotations

import hashlib
import json
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding

from evidpack.verifying.report import Verdict
from tests.attacks.attack import Attack
from tests.attacks.families import FAMILIES, attacks_of


def write_corpus(folder: Path, attacks: Iterable[Attack]) -> list[dict[str, object]]:
    """Write the files into a folder, made where it is new; what `cases.json` lists."""
    folder.mkdir(parents=True, exist_ok=True)
    listed = [_write(folder, number, attack) for number, attack in enumerate(attacks, start=1)]
    text = json.dumps(listed, indent=1, ensure_ascii=False) + "\n"
    (folder / "cases.json").write_text(text, encoding="utf-8")
    return listed


def _write(folder: Path, number: int, attack: Attack) -> dict[str, object]:
    name = f"{attack.family}-{number:04}.zip"
    (folder / name).write_bytes(attack.data)
    return {
        "name": attack.name,
        "family": attack.family,
        "class": attack.kind,
        "file": name,
        "anchors": _pem(folder, attack.trust.anchors),
        "tsa_anchors": _pem(folder, attack.trust.tsa_anchors),
        "crls": _pem(folder, attack.trust.revocation_lists),
        "passphrase": attack.passphrase,
        "recheck": attack.recheck,
        "verdict": attack.verdict,
        "exit_code": Verdict(attack.verdict).exit_code,
        "step": attack.step,
        "alone": attack.alone,
        "answer": None if attack.answer is None else list(attack.answer),
    }


def _pem(
    folder: Path, found: Sequence[x509.Certificate | x509.CertificateRevocationList]
) -> str | None:
    """Name of a file with these, written once however many cases use it."""
    if not found:
        return None
    data = b"".join(one.public_bytes(Encoding.PEM) for one in found)
    name = f"{hashlib.sha256(data).hexdigest()[:16]}.pem"
    (folder / name).write_bytes(data)
    return name


if __name__ == "__main__":
    wanted = sys.argv[2:] or list(FAMILIES)
    target = Path(sys.argv[1])
    cases = write_corpus(target, (one for family in wanted for one in attacks_of(family)))
    sys.stdout.write(f"{len(cases)} cases in {target}, listed in {target / 'cases.json'}\n")
