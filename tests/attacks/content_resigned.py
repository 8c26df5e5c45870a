"""Content attacks by somebody who signs: a stranger with a key of his own, and the holder of the key.

A stranger can make everything agree but who signed, and when.  The holder of the key can make a
bundle that is whole; what it says of the originals is met by contents and re-check.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta
from typing import Any

from evidpack.container import layout
from evidpack.proof.canonical import canonical_bytes
from evidpack.proof.commitments import entry_line
from evidpack.proof.digests import sha256
from evidpack.proof.statement import SealStatement
from evidpack.trust.authority import DemoAuthority
from tests.attacks.attack import Attack
from tests.attacks.good import Good, Members
from tests.bundles import rebuilt
from tests.sealed_days import SEALED_AT, FixedKeys
from tests.verifying.test_forgery import lines_of, recomputed, resigned, with_lines

_Change = Callable[[dict[str, Any]], None]


def attacks(good: Good) -> Iterator[Attack]:
    """Every class below."""
    yield from _by_a_stranger(good)
    yield from _ledgers(good)
    yield from _entries(good)
    yield from _findings(good)


def attack_of(good: Good, kind: str, name: str, members: Members, step: int, **more: Any) -> Attack:
    """These members, with manifests and checksums as they should be."""
    return Attack(
        family="content",
        kind=kind,
        name=name,
        data=rebuilt(good.top, members),
        step=step,
        trust=good.day.trust,
        **more,
    )


def stranger() -> DemoAuthority:
    """Somebody with the same names and other keys."""
    keys = FixedKeys()
    for _ in range(200):
        keys()
    return DemoAuthority.create(name="Test unit", now=SEALED_AT, key_source=keys)


def _by_a_stranger(good: Good) -> Iterator[Attack]:
    kind = "everything made anew and signed by a stranger in the same name"
    nobody = stranger()
    for name in good.members:
        if name.startswith(layout.DATA):
            _, openings = lines_of(good.members)
            number, opened = entry_of(openings, name.removeprefix(layout.DATA))
            changed = good.members[name] + b" "
            opened["values"] |= {"size": len(changed), "sha256": sha256(changed).hex()}
            members = reopened(good, number, opened) | {name: changed}
            members = signed(members, nobody)
        elif name in {layout.INDEX, layout.VERIFY}:
            members = resigned(good.members | {name: good.members[name] + b"\n"}, nobody)
        else:
            continue
        yield attack_of(
            good, kind, f"{name} altered", members, 6, alone=False, answer=("sealer", "signer")
        )
    for name, change in {
        "claimed a day earlier": {"claimed_time": SEALED_AT - timedelta(days=1)},
        "without a time stamp": {"time_stamp_required": False},
        "as a correction": {"previous": None},
    }.items():
        members = resigned(good.members, nobody, lambda one, change=change: replace(one, **change))  # type: ignore[misc]
        if "without" in name:
            del members[layout.TOKEN]
        yield attack_of(good, kind, name, members, 6, alone=False, answer=("sealer", "signer"))


def signed(members: Members, authority: DemoAuthority) -> Members:
    """Chain and tree computed again, pinned, signed and stamped by this authority."""
    ledger, _ = lines_of(members)
    return resigned(members, authority, lambda one: recomputed(one, ledger))


def entry_of(openings: list[bytes], path: str) -> tuple[int, dict[str, Any]]:
    """Number and opening of a file's entry."""
    for number, line in enumerate(openings):
        opened = json.loads(line)
        if opened["values"].get("path") == path:
            return number, opened
    raise KeyError(path)


def reopened(good: Good, number: int, opened: dict[str, Any], kind: str | None = None) -> Members:
    """Ledger and openings with another entry at a place, committed to as it should be."""
    ledger, openings = lines_of(good.members)
    kind = kind or json.loads(ledger[number])["kind"]
    ledger[number] = entry_line(kind, opened["values"], bytes.fromhex(opened["key"]))
    openings[number] = canonical_bytes(opened)
    return with_lines(good.members, ledger, openings)


def _ledgers(good: Good) -> Iterator[Attack]:
    """Lines exchanged, dropped, doubled, of other kinds: by the holder of the key."""
    kind = "ledger or openings of another order, number or form, signed by the holder of the key"
    owner = good.day.authority
    ledger, openings = lines_of(good.members)

    def attack(
        name: str, new: list[bytes], opened: list[bytes], step: int, *,
        compute: bool = True, words: str = "", **counts: int,
    ) -> Attack:  # fmt: skip
        def change(statement: SealStatement) -> SealStatement:
            statement = recomputed(statement, new) if compute else statement
            return replace(statement, entries={**statement.entries, **counts})

        members = resigned(with_lines(good.members, new, opened), owner, change)
        return attack_of(good, kind, name, members, step, words=words, alone=False)

    files = sum(b'"kind":"file"' in line for line in ledger)
    swapped = [ledger[1], ledger[0], *ledger[2:]]
    yield attack(
        "two lines exchanged, chain as before",
        swapped,
        openings,
        3,
        compute=False,
        words="chain head",
    )
    yield attack(
        "two lines exchanged, openings as before", swapped, openings, 4, words="does not open"
    )
    yield attack(
        "the last line dropped, chain as before", ledger[:-1], openings[:-1], 3, compute=False
    )
    yield attack(
        "the last line dropped, chain anew",
        ledger[:-1],
        openings[:-1],
        3,
        words="number of entries",
    )
    yield attack(
        "the last line twice",
        [*ledger, ledger[-1]],
        [*openings, openings[-1]],
        3,
        words="number of entries",
    )
    yield attack("an opening too few", ledger, openings[:-1], 4, words="has no opening")
    yield attack("an opening too many", ledger, [*openings, openings[-1]], 4, words="more openings")
    yield attack(
        "an empty line", [*ledger[:3], b"", *ledger[3:]], openings, 3, words="a line is empty"
    )
    yield attack(
        "an empty opening", ledger, [*openings[:3], b"", *openings[3:]], 4, words="a line is empty"
    )
    yield attack("the first finding before the records", [*ledger[:files], ledger[-1], *ledger[files:-1]],
                 [*openings[:files], openings[-1], *openings[files:-1]], 3, words="of another kind than its position")  # fmt: skip
    yield attack(
        "a file after the files",
        [*ledger[1:], ledger[0]],
        [*openings[1:], openings[0]],
        3,
        words="kind",
    )
    yield attack("one file counted as a record", ledger, openings, 3, file=files - 1,
                 record=sum(b'"kind":"record"' in line for line in ledger) + 1, words="kind")  # fmt: skip
    for name, line in {
        "white space": ledger[4].replace(b",", b", ", 1),
        "another kind": ledger[4].replace(b'"kind":"file"', b'"kind":"record"'),
        "an unknown kind": ledger[4].replace(b'"kind":"file"', b'"kind":"folder"'),
        "a further member": ledger[4].replace(b'{"fields"', b'{"extra":1,"fields"'),
        "no fields": b'{"fields":{},"kind":"file"}',
        "fields that are a list": b'{"fields":[],"kind":"file"}',
        "a short commitment": ledger[4][:-20] + ledger[4][-19:],
        "capital digits": ledger[4].replace(b"a", b"A"),
        "a carriage return": ledger[4] + b"\r",
        "an array": b"[]",
        "a number": b"7",
        "no JSON": b"{",
        "nested too deep": b"[" * 40 + b"]" * 40,
        "half of a pair": b'{"fields":{"\\ud800":"' + b"0" * 64 + b'"},"kind":"file"}',
        "not UTF-8": ledger[4].replace(b"kind", b"k\xffnd"),
        "a NUL byte": ledger[4] + b"\0",
        "a name twice": ledger[4].replace(b'{"fields"', b'{"kind":"file","fields"'),
    }.items():
        yield attack(f"a line with {name}", [*ledger[:4], line, *ledger[5:]], openings, 3)
    opening = openings[2]
    one = json.loads(opening)
    for name, line in {
        "a short key": canonical_bytes({**one, "key": one["key"][:-2]}),
        "another key": canonical_bytes({**one, "key": "11" * 32}),
        "a key that is no hex": canonical_bytes({**one, "key": "g" * 64}),
        "a key that is a number": canonical_bytes({**one, "key": 7}),
        "a further member": canonical_bytes({**one, "more": 1}),
        "values that are a list": canonical_bytes({**one, "values": []}),
        "no values": canonical_bytes({**one, "values": {}}),
        "white space": opening.replace(b",", b", ", 1),
        "a float for a number": opening.replace(b'"size":', b'"size":1.0'),
        "NaN": opening.replace(b'"size":', b'"size":NaN,"x":'),
        "a number beyond 2^53": opening.replace(b'"size":', b'"size":9007199254740993,"x":'),
        "a number of 5,000 digits": opening.replace(
            b'"size":', b'"size":' + b"9" * 5000 + b',"x":'
        ),
        "nested too deep": opening.replace(
            b'"size":', b'"size":' + b"[" * 60 + b"]" * 60 + b',"x":'
        ),
        "a lone surrogate": opening.replace(b'"size":', b'"size":"\\udc00","x":'),
        "not UTF-8": opening.replace(b"size", b"si\xffe"),
        "an array": b"[]",
        "no JSON": b"{",
    }.items():
        yield attack(f"an opening with {name}", ledger, [*openings[:2], line, *openings[3:]], 4)


def _entries(good: Good) -> Iterator[Attack]:
    """A file's entry that says something else, committed to and signed as it should be."""
    kind = "a file's entry that is not about its file, signed by the holder of the key"
    _, openings = lines_of(good.members)
    for name, changes in {
        "another size": {"size": 1}, "a size that is text": {"size": "929"},
        "a negative size": {"size": -1}, "a size that is true": {"size": True},
        "another digest": {"sha256": "00" * 32}, "a digest in capitals": {"sha256": "AB" * 32},
        "a digest that is short": {"sha256": "00"}, "a digest that is a list": {"sha256": []},
        "another path": {"path": "export/elsewhere.jpg"}, "a path that is null": {"path": None},
        "a path that leads out": {"path": "../../etc/passwd"}, "the empty path": {"path": ""},
        "the path of another entry": {"path": "export/readings.csv"},
        "a pixel root that is none": {"pixel_root": "00"}, "a width that is text": {"width_px": "70"},
        "a negative height": {"height_px": -1}, "an original name that is a number": {"original_name": 7},
        "a time that is a number": {"modified": 7}, "an origin that is a list": {"origin": []},
        "a time that is none": {"modified": "yesterday"}, "a time without offset": {"modified": "2026-05-14T09:00:00"},
        "a time before all time": {"modified": "0001-01-01T00:00:00+14:00"},
        "an origin that is neither": {"origin": "elsewhere"}, "a kind that is none": {"item_kind": "sandwich"},
        "a file of the export as the office's": {"origin": "office"},
    }.items():  # fmt: skip
        number, opened = entry_of(openings, "export/stills/C1_0001.jpg")
        opened["values"] |= changes
        members = signed(reopened(good, number, opened), good.day.authority)
        yield attack_of(good, kind, name, members, 4, alone=False)


def _findings(good: Good) -> Iterator[Attack]:
    """What the re-check alone can tell: the holder of the key says other things than the originals."""
    kind = "findings, records, pictures or index that the originals do not give"
    _, openings = lines_of(good.members)
    opened = [json.loads(line) for line in openings]

    def attack(name: str, members: Members, words: str = "") -> Attack:
        return attack_of(
            good, kind, name, signed(members, good.day.authority), 8, recheck=True, words=words
        )

    def entry(
        name: str, wanted: Callable[[dict[str, Any]], bool], change: _Change, words: str = ""
    ) -> Attack:
        number = next(n for n, one in enumerate(opened) if wanted(one["values"]))
        one = json.loads(openings[number])
        change(one["values"])
        return attack(name, reopened(good, number, one), words)

    def is_finding(values: dict[str, Any]) -> bool:
        return "check" in values and values["outcome"] == "pass"

    for name, changes in {
        "another sentence": {"sentence": "All is well."}, "another outcome": {"outcome": "query", "adverse": True},
        "another subject": {"subject": "C9"}, "another source": {"source": "none"},
        "another check": {"check": "99"}, "another version of the check": {"check_version": 99},
        "no longer adverse": {"adverse": None}, "a further value": {"extra": 1},
        "another measured value": {"measured": 1}, "a subject that is a list": {"subject": ["C1"]},
    }.items():  # fmt: skip
        yield entry(
            f"a finding with {name}", is_finding, lambda one, changes=changes: one.update(changes)
        )  # type: ignore[misc]
    for name, changes in {
        "another speed": {"speed_mph": 91}, "another cell": {"raw:Speed": "91"},
        "another line": {"source_line": 99}, "another source": {"source_entry": 0},
        "another time": {"time": "2026-05-14T01:00:00+00:00"}, "a value left out": {"speed_mph": None},
        "a source that is text": {"source_entry": "x"}, "another kind": {"record_kind": "capture"},
    }.items():  # fmt: skip
        yield entry(
            f"a reading with {name}",
            lambda one: one.get("record_kind") == "reading",
            lambda one, changes=changes: one.update(changes),
        )  # type: ignore[misc]
    for name, changes in {
        "another pixel root": {"pixel_root": "00" * 32}, "another width": {"width_px": 131},
        "a size of 200,000 by 200,000": {"width_px": 200_000, "height_px": 200_000},
    }.items():  # fmt: skip
        yield entry(
            f"a still with {name}",
            lambda one: "pixel_root" in one,
            lambda one, changes=changes: one.update(changes),
            "C1_0001.jpg",
        )  # type: ignore[misc]
    yield entry(
        "a still said to be a document",
        lambda one: "pixel_root" in one,
        lambda one: one.update(item_kind="document"),
        "another kind",
    )
    yield attack(
        "another index", good.members | {layout.INDEX: b"%PDF-1.4 another index"}, layout.INDEX
    )
    yield from _originals(good, attack)


def _originals(good: Good, attack: Callable[..., Attack]) -> Iterator[Attack]:
    """An original exchanged together with its entry: the records still say what was there before."""
    _, openings = lines_of(good.members)
    speeds = good.members["data/export/readings.csv"]
    for name, path, changed in (
        ("a reading altered", "export/readings.csv", speeds.replace(b",41,", b",91,")),
        (
            "a reading left out",
            "export/readings.csv",
            b"".join(speeds.splitlines(keepends=True)[:-1]),
        ),
        ("a log that is no text", "export/readings.csv", b"\xff\xfe\x00" + speeds),
        ("a still that is none", "export/stills/C1_0001.jpg", b"no picture"),
        ("a description that is none", "office/day.toml", b"= ["),
        ("a rule set that is none", "office/rules.toml", b"= ["),
        ("a note that is none", "office/sealing.json", b"[]"),
        ("a note without its values", "office/sealing.json", b"{}"),
        ("a note with other values", "office/sealing.json", b'{"document_number":7,"paper":[]}'),
    ):
        number, one = entry_of(openings, path)
        one["values"] |= {"size": len(changed), "sha256": sha256(changed).hex()}
        yield attack(
            f"an original exchanged: {name}",
            reopened(good, number, one) | {f"data/{path}": changed},
        )
