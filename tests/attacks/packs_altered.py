"""Pack attacks by somebody without any key, checksums and manifests repaired."""

from __future__ import annotations

from collections.abc import Iterator

from evidpack.container import layout
from tests.attacks.attack import Attack
from tests.attacks.content_altered import emptied
from tests.attacks.good import Good, Members
from tests.bundles import put_together
from tests.disclosure.packs import in_pack_order, repaired
from tests.verifying.test_tampering import MANIFESTS, deleted, doubled, flipped, lengthened, renamed

# Of the tables that are derived in one way, these stand for all.
_TABLES = {f"{layout.DERIVED}{name}" for name in ("reading.csv", "reading.html", "finding.csv")}
_NEEDED = {layout.DISCLOSURE_STATEMENT, layout.ORIGIN_STATEMENT}
_OWN_STEP = {
    layout.DISCLOSURE_STATEMENT: 5,
    layout.DISCLOSURE_SIGNATURE: 5,
    layout.DISCLOSURE_TOKEN: 7,
}


def attacks(good: Good) -> Iterator[Attack]:
    """Each file of a pack with a redacted still changed in each way; files added; lists forged."""
    members, top = good.redacted_members, good.redacted_top
    for change in (flipped, lengthened, emptied, deleted, renamed, doubled):
        for name in members:
            if name in MANIFESTS or (name.startswith(layout.DERIVED) and name not in _TABLES):
                continue
            yield Attack(
                family="pack",
                kind=f"a file {change.__name__}, checksums and manifests repaired",
                name=name,
                data=repaired(top, change(members, name)),
                step=_step(change.__name__, name),
                alone=False,
                trust=good.day.trust,
            )
    for name in ("data/export/added.txt", "data/derived/added.csv", "data/redacted/exhibit-99.png"):
        yield _added(good, name, 4)
    for name in ("disclosure/added.json", "seal/ledger.jsonl", "seal/openings.jsonl", "added.txt",
                 "origin/ledger.jsonl"):  # fmt: skip
        yield _added(good, name, 1)
    yield from _lists(good)


def _step(change: str, name: str) -> int:
    if change == "renamed" and not name.startswith((layout.DATA, layout.DISCLOSURE_TILES)):
        return 1  # a name that no pack has
    if change == "doubled":
        return 4 if name.startswith((layout.DATA, layout.DISCLOSURE_TILES)) else 1
    if change in {"deleted", "renamed"} and name in _NEEDED:
        return 1
    return _OWN_STEP.get(name, 4)


def _added(good: Good, name: str, step: int) -> Attack:
    return Attack(
        family="pack",
        kind="a file added, checksums and manifests repaired",
        name=name,
        data=repaired(good.redacted_top, good.redacted_members | {name: b"added\n"}),
        step=step,
        words=name,
        alone=False,
        trust=good.day.trust,
    )


def _lists(good: Good) -> Iterator[Attack]:
    """What needs no key and no repair: members in another order, manifests forged, another folder."""

    def attack(name: str, members: Members, step: int, top: str = good.pack_top) -> Attack:
        return Attack(
            family="pack",
            kind="a manifest forged, another order, another folder",
            name=name,
            data=put_together(top, members),
            step=step,
            alone=False,
            trust=good.day.trust,
        )

    members = good.pack_members
    for name in sorted(MANIFESTS):
        for change in (flipped, lengthened, emptied, deleted):
            yield attack(f"{name} {change.__name__}", in_pack_order(change(members, name)), 2)
    yield attack("members reversed", dict(reversed(members.items())), 1)
    names = list(members)
    names[-1], names[-2] = names[-2], names[-1]
    yield attack("the last two members exchanged", {name: members[name] for name in names}, 1)
    other = good.pack_top[:-1] + ("0" if good.pack_top[-1] != "0" else "1")
    yield attack("another folder", members, 2, top=other)
    bundle = {name: good.members[name] for name in (layout.STATEMENT, layout.LEDGER)}
    yield attack("a bundle's files inside", in_pack_order(members | bundle), 1)
    both = good.members | {layout.DISCLOSURE_STATEMENT: members[layout.DISCLOSURE_STATEMENT]}
    yield attack("a bundle with a pack's statement", both, 1, top=good.top)
