"""A sample of bits of every file, ZIP checksums and manifests repaired: none is free.

Every bit of statement, signature and token is flipped in tests/verifying/test_tampering.py, every
bit of a token by OpenSSL in tests/trust/test_bit_flips.py.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from evidpack.container import layout
from evidpack.verifying.report import Report, Verdict
from tests.attacks.good import Members, good, spread
from tests.bundles import put_together, rebuilt, verified
from tests.disclosure.packs import in_pack_order, repaired, verified_pack
from tests.verifying.test_tampering import MANIFESTS

FLIPS_A_FILE = 16
SIGNED = {layout.STATEMENT, layout.SIGNATURE, layout.TOKEN}


def bundle_report(members: Members, name: str) -> Report:
    build = put_together if name in MANIFESTS else rebuilt
    return verified(build(good().top, members), good().day.trust, recheck=False)


def pack_report(members: Members, name: str) -> Report:
    top = good().redacted_top
    whole = put_together(top, in_pack_order(members)) if name in MANIFESTS else None
    return verified_pack(whole or repaired(top, members), good().day.trust, recheck=False)


def accepted(
    members: Members, names: list[str], report: Callable[[Members, str], Report], flips: int
) -> tuple[list[str], int]:
    """What was flipped and still accepted, and how many flips were tried."""
    found, tried = [], 0
    for name in names:
        data = members[name]
        positions = sorted(set(spread(len(data), flips)))
        for number, at in enumerate(positions):
            changed = bytearray(data)
            changed[at] ^= 1 << (number + at) % 8
            tried += 1
            verdict = report(members | {name: bytes(changed)}, name).verdict
            if verdict is not Verdict.DOES_NOT_VERIFY:
                found.append(f"{name}, byte {at}: {verdict}")
    return found, tried


def test_no_sampled_bit_of_any_file_of_a_bundle_is_free() -> None:
    names = [name for name in good().members if name not in SIGNED]
    found, tried = accepted(good().members, names, bundle_report, FLIPS_A_FILE)
    assert found == []
    assert tried == FLIPS_A_FILE * len(names) > 250


def test_no_sampled_bit_of_any_file_of_a_pack_is_free() -> None:
    names = list(good().redacted_members)
    found, tried = accepted(good().redacted_members, names, pack_report, 6)
    assert found == []
    assert tried > 200


@pytest.mark.parametrize("report", [bundle_report, pack_report])
def test_without_a_flip_both_verify(report: Callable[[Members, str], Report]) -> None:
    members = good().members if report is bundle_report else good().redacted_members
    assert report(members, "none").verdict is Verdict.VERIFIED
