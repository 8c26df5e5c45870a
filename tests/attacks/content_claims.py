"""Content attacks on the seal statement: other forms, and claims that cannot be, each signed and
stamped by the holder of the key."""

from __future__ import annotations

import json
from collections.abc import Iterator

from evidpack.container import layout
from evidpack.limits import MAX_STATEMENT_BYTES
from evidpack.proof.canonical import canonical_bytes
from evidpack.trust.cms import sign_detached
from tests.attacks.attack import Attack
from tests.attacks.content_resigned import attack_of
from tests.attacks.good import Good, Members
from tests.sealed_days import stamped


def attacks(good: Good) -> Iterator[Attack]:
    """Every class below."""
    kind = "a seal statement of another form, or that claims what cannot be"
    statement = json.loads(good.members[layout.STATEMENT])
    pinned, entries, findings = statement["pinned"], statement["entries"], statement["findings"]
    for name, change, step in (
        ("another type", {"type": "receipt"}, 3), ("a later version", {"version": 2}, 3),
        ("version 0", {"version": 0}, 3), ("a version that is text", {"version": "1"}, 3),
        ("a version of 1.5", {"version": 1.5}, 3), ("a further member", {"extra": 1}, 3),
        ("another day", {"day": "OTHER-DAY"}, 3), ("a day that leads out", {"day": "../x"}, 3),
        ("a day that is null", {"day": None}, 3), ("an empty day", {"day": ""}, 3),
        ("a time without offset", {"claimed_time": "2026-05-14T18:00:00"}, 3),
        ("a time that does not exist", {"claimed_time": "2026-02-30T18:00:00+00:00"}, 3),
        ("a time in other digits", {"claimed_time": "２０２６-05-14T18:00:00+00:00"}, 3),
        ("a leap second", {"claimed_time": "2026-06-30T23:59:60+00:00"}, 3),
        ("a time after the stamp", {"claimed_time": "2026-05-14T18:00:03+00:00"}, 7),
        ("the last second of all", {"claimed_time": "9999-12-31T23:59:59-23:59"}, 3),
        ("the first second of all", {"claimed_time": "0001-01-01T00:00:00+23:59"}, 3),
        ("a time in 1969", {"claimed_time": "1969-12-31T23:59:59+00:00"}, 3),
        ("a time in 9001", {"claimed_time": "9001-01-01T00:00:00+00:00"}, 3),
        ("no entries", {"entries": dict.fromkeys(entries, 0)}, 3),
        ("one entry more", {"entries": {**entries, "record": entries["record"] + 1}}, 3),
        ("a negative count", {"entries": {**entries, "record": -1}}, 3),
        ("2^53 - 1 entries", {"entries": {**entries, "record": 2**53 - 1}}, 3),
        ("a further kind", {"entries": {**entries, "note": 0}}, 3),
        ("entries that are a list", {"entries": [1, 2, 3]}, 3),
        ("findings that do not add up", {"findings": {**findings, "pass": 99}}, 3),
        ("a further outcome", {"findings": {**findings, "perhaps": 0}}, 3),
        ("a rule set that is no file", {"rule_set_entry": 999}, 3),
        ("a rule set of -1", {"rule_set_entry": -1}, 3),
        ("a chain head of zeros", {"chain_head": "00" * 32}, 3),
        ("a tree root of zeros", {"tree_root": "00" * 32}, 3),
        ("the root as the head", {"chain_head": statement["tree_root"]}, 3),
        ("a head in capitals", {"chain_head": "AB" * 32}, 3), ("a short root", {"tree_root": "00"}, 3),
        ("a pinned file fewer", {"pinned": {k: v for k, v in pinned.items() if k != layout.INDEX}}, 4),
        ("a pinned file more", {"pinned": {**pinned, "extra.txt": "00" * 32}}, 4),
        ("nothing pinned", {"pinned": {}}, 4),
        ("a pinned file of another digest", {"pinned": {**pinned, layout.VERIFY: "11" * 32}}, 4),
        ("another signing certificate", {"signing_certificate": "00" * 32}, 5),
        ("a time stamp perhaps", {"time_stamp": "perhaps"}, 3),
        ("a previous seal of another kind", {"previous": {"statement": "11" * 32, "relation": "sequel", "reason": "x"}}, 3),
        ("a previous seal without digest", {"previous": {"relation": "correction", "reason": "x"}}, 3),
        ("a release that is a number", {"versions": {**statement["versions"], "tzdata": 1}}, 3),
        ("releases that are a list", {"versions": []}, 3),
    ):  # fmt: skip
        content = canonical_bytes(statement | change)
        yield attack_of(good, kind, name, _signed_statement(good, content), step, alone=False)
    own = good.members[layout.STATEMENT]
    for name, content in {
        "white space": json.dumps(statement).encode(), "a line feed behind": own + b"\n",
        "a byte order mark": b"\xef\xbb\xbf" + own, "an array": b"[]", "nothing": b"", "null": b"null",
        "a NUL byte behind": own + b"\0", "a member twice": own.replace(b'{"chain', b'{"day":"X","chain', 1),
        "nested too deep": b"[" * 60_000, "larger than the limit": own[:-1] + b" " * 70_000 + b"}",
        "UTF-16": own.decode().encode("utf-16"), "an escape without need": own.replace(b"seal", b"\\u0073eal"),
        "a number as a float": own.replace(b'"version":1', b'"version":1.0'),
        "infinity": own.replace(b'"version":1', b'"version":Infinity'),
        "a number of 100,000 digits": own.replace(b'"version":1', b'"version":' + b"1" * 60_000),
    }.items():  # fmt: skip
        step = 1 if len(content) > MAX_STATEMENT_BYTES else 3
        yield attack_of(good, kind, name, _signed_statement(good, content), step, alone=False)


def _signed_statement(good: Good, content: bytes) -> Members:
    signer = good.day.authority.signer
    signature = sign_detached(content, key=signer.key, certificate=signer.certificate)
    return good.members | {
        layout.STATEMENT: content,
        layout.SIGNATURE: signature,
        layout.TOKEN: stamped(signature, good.day.authority),
    }
