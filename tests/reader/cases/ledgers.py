"""Ledgers, openings and statements of another form, everything pinned and signed again."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace

from evidpack.container import layout
from evidpack.proof.canonical import canonical_bytes
from evidpack.proof.commitments import entry_line
from evidpack.proof.digests import chain_head, leaf_digest, sha256
from evidpack.proof.statement import SealStatement, parse_statement
from evidpack.proof.tree import tree_root
from tests.reader.cases.case import Case, Members, case, members_of, pinned_again, signed_again
from tests.sealed_days import SealedDay

# What may stand where a value of an opening stands; none may pass, the last two apart.
VALUES = {
    "a name twice": b'{"a":1,"a":1}',
    "white space": b'{"a": 1}',
    "members not in order": b'{"b":1,"a":1}',
    "minus zero": b"-0",
    "minus zero with a fraction": b"-0.0",
    "one with a fraction": b"1.0",
    "an exponent": b"1e2",
    "beyond 2^53": b"9007199254740993",
    "2^53": b"9007199254740992",
    "beyond every float": b"1e400",
    "NaN": b"NaN",
    "an escape without need": b'"\\u0041"',
    "an escaped slash": b'"\\/"',
    "half of a pair": b'"\\ud800"',
    "a raw control character": b'"\x01"',
    "not UTF-8": b'"\xff"',
    "33 arrays": b"[" * 33 + b"]" * 33,
    "nothing": b"",
    "a second value": b"1 2",
    "2^53 - 1": b"9007199254740991",
    "a float with an exponent": b"1e+21",
}


def cases(day: SealedDay) -> Iterator[Case]:
    yield from _values(day)
    yield from _lines(day)
    yield from _statements(day)


def _values(day: SealedDay) -> Iterator[Case]:
    members = members_of(day)
    _, openings = lines_of(members)
    for name, value in VALUES.items():
        changed = openings.copy()
        changed[11] = changed[11].replace(b'"place":0', b'"place":' + value, 1)
        assert changed[11] != openings[11]
        with_openings = members | {layout.OPENINGS: joined(changed)}
        yield case(f"ledger: opening with {name}", day, pinned_again(with_openings, day))


def lines_of(members: Members) -> tuple[list[bytes], list[bytes]]:
    return (
        members[layout.LEDGER].split(b"\n")[:-1],
        members[layout.OPENINGS].split(b"\n")[:-1],
    )


def joined(lines: list[bytes]) -> bytes:
    return b"".join(line + b"\n" for line in lines)


def resealed(
    day: SealedDay, ledger: list[bytes], openings: list[bytes], **changes: object
) -> Members:
    """Chain, tree and pins computed again, signed and stamped."""
    members = members_of(day) | {layout.LEDGER: joined(ledger), layout.OPENINGS: joined(openings)}
    statement = parse_statement(members[layout.STATEMENT], path=layout.STATEMENT)
    leaves = [leaf_digest(line) for line in ledger]
    statement = replace(
        statement,
        chain_head=chain_head(leaves),
        tree_root=tree_root(leaves),
        pinned={name: sha256(members[name]) for name in layout.PINNED_BY_SEAL},
        **changes,  # type: ignore[arg-type]
    )
    return signed_again(members, day, statement.to_bytes())


def _lines(day: SealedDay) -> Iterator[Case]:
    ledger, openings = lines_of(members_of(day))

    def resealed_case(name: str, new_ledger: list[bytes], new_openings: list[bytes]) -> Case:
        return case(f"ledger: {name}", day, resealed(day, new_ledger, new_openings))

    yield resealed_case("resealed as it was", ledger, openings)
    yield resealed_case("two lines exchanged", [ledger[1], ledger[0], *ledger[2:]], openings)
    yield resealed_case("a line twice", [*ledger, ledger[-1]], openings)
    yield resealed_case("last line taken out", ledger[:-1], openings[:-1])
    yield resealed_case("an opening too few", ledger, openings[:-1])
    yield resealed_case("an opening too many", ledger, [*openings, openings[-1]])
    yield resealed_case("an empty line", [*ledger[:3], b"", *ledger[3:]], openings)
    yield resealed_case("an empty opening", ledger, [*openings[:3], b"", *openings[3:]])
    for name, line in {
        "white space": ledger[4].replace(b",", b", ", 1),
        "another kind": ledger[4].replace(b'"kind":"file"', b'"kind":"record"'),
        "an unknown kind": ledger[4].replace(b'"kind":"file"', b'"kind":"folder"'),
        "another member": ledger[4].replace(b'{"fields"', b'{"extra":1,"fields"'),
        "a short commitment": ledger[4][:-20] + ledger[4][-19:],
        "upper-case digits": ledger[4].replace(b"a", b"A"),
        "a carriage return": ledger[4] + b"\r",
        "an array": b"[]",
        "no JSON": b"{",
    }.items():
        yield resealed_case(f"a line with {name}", [*ledger[:4], line, *ledger[5:]], openings)
    for name, change in {
        "a short key": lambda one: {**one, "key": one["key"][:-2]},
        "an upper-case key": lambda one: {**one, "key": one["key"].upper()},
        "a key that is no hex": lambda one: {**one, "key": "g" * 64},
        "another member": lambda one: {**one, "more": 1},
        "values that are a list": lambda one: {**one, "values": []},
    }.items():
        changed = openings.copy()
        changed[2] = canonical_bytes(change(json.loads(openings[2])))
        yield resealed_case(f"an opening with {name}", ledger, changed)
    members = members_of(day)
    for name in (layout.LEDGER, layout.OPENINGS):
        cut = members | {name: members[name][:-1]}
        yield case(f"ledger: {name} without its last line feed", day, pinned_again(cut, day))
    yield from _file_entries(day, ledger, openings)


def _file_entries(day: SealedDay, ledger: list[bytes], openings: list[bytes]) -> Iterator[Case]:
    for name, changes in {
        "another size": {"size": 1},
        "a size that is text": {"size": "929"},
        "a negative size": {"size": -1},
        "another digest": {"sha256": "00" * 32},
        "a digest in upper case": {"sha256": "AB" * 32},
        "another path": {"path": "export/elsewhere.jpg"},
        "the path of another entry": {"path": "export/readings.csv"},
        "a pixel root that is none": {"pixel_root": "00"},
        "another pixel root": {"pixel_root": "00" * 32},
        "a width that is text": {"width_px": "70"},
        "an original name that is a number": {"original_name": 7},
        "a name that every object has": {"constructor": "x", "__proto__": {"path": "x"}},
    }.items():
        one = json.loads(openings[3])
        one["values"].update(changes)
        new_ledger, new_openings = ledger.copy(), openings.copy()
        new_ledger[3] = entry_line("file", one["values"], bytes.fromhex(one["key"]))
        new_openings[3] = canonical_bytes(one)
        yield case(f"ledger: file entry with {name}", day, resealed(day, new_ledger, new_openings))


def _statements(day: SealedDay) -> Iterator[Case]:
    members = members_of(day)
    statement = json.loads(members[layout.STATEMENT])
    pinned = statement["pinned"]
    for name, change in {
        "another type": {"type": "receipt"},
        "a later version": {"version": 2},
        "a version that is text": {"version": "1"},
        "another member": {"extra": 1},
        "another day": {"day": "OTHER-DAY"},
        "a day that cannot name a folder": {"day": "A..B"},
        "a time without offset": {"claimed_time": "2026-05-14T18:00:00"},
        "a time that does not exist": {"claimed_time": "2026-02-30T18:00:00+00:00"},
        "a time with another offset": {"claimed_time": "2026-05-14T19:00:00+01:00"},
        "a time with a fraction": {"claimed_time": "2026-05-14T18:00:00.25+00:00"},
        "a time after the stamp": {"claimed_time": "2026-05-14T18:00:03+00:00"},
        "no entries": {"entries": {"file": 0, "record": 0, "finding": 0}},
        "one entry more": {"entries": {**statement["entries"], "record": statement["entries"]["record"] + 1}},
        "a negative count": {"entries": {**statement["entries"], "record": -1}},
        "findings that do not add up": {"findings": {**statement["findings"], "pass": 99}},
        "a rule set that is no file": {"rule_set_entry": 999},
        "no rule set": {"rule_set_entry": None},
        "a chain head of zeros": {"chain_head": "00" * 32},
        "a tree root of zeros": {"tree_root": "00" * 32},
        "a chain head in upper case": {"chain_head": "AB" * 32},
        "fewer pinned files": {"pinned": {k: v for k, v in pinned.items() if k != layout.INDEX}},
        "another pinned file": {"pinned": {**pinned, "extra.txt": "00" * 32}},
        "another signing certificate": {"signing_certificate": "00" * 32},
        "no time stamp required": {"time_stamp": "none"},
        "a time stamp perhaps": {"time_stamp": "perhaps"},
        "a previous statement": {
            "previous": {"statement": "11" * 32, "relation": "correction", "reason": "typing error"}
        },
        "a previous statement of another kind": {
            "previous": {"statement": "11" * 32, "relation": "sequel", "reason": "x"}
        },
        "a version number that is a number": {"versions": {**statement["versions"], "tzdata": 1}},
    }.items():  # fmt: skip
        content = canonical_bytes(statement | change)
        yield case(f"statement: {name}", day, signed_again(members, day, content))
    for name, content in {
        "white space": json.dumps(statement).encode(),
        "a byte order mark": b"\xef\xbb\xbf" + members[layout.STATEMENT],
        "an array": b"[]",
        "nothing": b"",
        "too much": b'"' + b"x" * 70_000 + b'"',
    }.items():
        yield case(f"statement: {name}", day, signed_again(members, day, content))


def statement_of(members: Members) -> SealStatement:
    return parse_statement(members[layout.STATEMENT], path=layout.STATEMENT)
