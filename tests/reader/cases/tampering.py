"""Every file of a bundle changed in every way that `tests/verifying/test_tampering.py` knows."""

from __future__ import annotations

from collections.abc import Iterator

from tests.bundles import put_together
from tests.reader.cases.case import Case, case, members_of, top_of
from tests.sealed_days import SealedDay
from tests.verifying.test_tampering import CHANGES, MANIFESTS


def cases(day: SealedDay) -> Iterator[Case]:
    members = members_of(day)
    for change in CHANGES.values():
        for name in members:
            title = f"tampering: {change.__name__} {name}"
            changed = change(members, name)
            if name in MANIFESTS:
                data = put_together(top_of(day), changed)
                yield Case(name=title, data=data, trust=day.trust)
            else:
                yield case(title, day, changed)
    for name in ("fetch.txt", "manifest-sha512.txt", "seal/other.json", "data/export/added.txt"):
        yield case(f"tampering: added {name}", day, members | {name: b"added"})
    crossed = bytearray(day.bundle)
    crossed[crossed.index(b"evidpack-day-1")] ^= 1
    yield Case(name="tampering: a byte without its checksum", data=bytes(crossed), trust=day.trust)
    reversed_members = dict(reversed(members.items()))
    data = put_together(top_of(day), reversed_members)
    yield Case(name="tampering: members in reverse order", data=data, trust=day.trust)
    yield Case(
        name="tampering: another folder",
        data=put_together("OTHER-DAY", members),
        trust=day.trust,
    )
