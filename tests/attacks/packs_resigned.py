"""Pack attacks by a discloser who lies and signs it, and by a stranger in the discloser's name."""

from __future__ import annotations

import hashlib
import io
import json
import struct
import zlib
from collections.abc import Callable, Iterator
from typing import Any

from PIL import Image
from PIL.PngImagePlugin import PngInfo

from evidpack.container import layout
from evidpack.proof.canonical import canonical_bytes
from evidpack.trust.cms import sign_detached
from tests.attacks.attack import Attack
from tests.attacks.content_resigned import stranger
from tests.attacks.good import Good, Members
from tests.disclosure.packs import STAMPED_AT, repaired, resigned
from tests.disclosure.test_pack import CHANGES, lines, put
from tests.sealed_days import stamped

_Line = dict[str, Any]


def attacks(good: Good) -> Iterator[Attack]:
    """Every class below."""
    yield from _changes(good)
    yield from _by_a_stranger(good)
    yield from _accounting(good)
    yield from _openings(good)
    yield from _pictures(good)
    yield from _statements(good)


def _attack(good: Good, kind: str, name: str, data: bytes, step: int, **more: Any) -> Attack:
    return Attack(
        family="pack", kind=kind, name=name, data=data, step=step, alone=False,
        trust=good.day.trust, **more,
    )  # fmt: skip


def _changes(good: Good) -> Iterator[Attack]:
    kind = "entries omitted, hidden, doubled or altered, signed by the discloser"
    for name, (change, step) in CHANGES.items():
        members = dict(good.pack_members)
        change(members)
        yield _attack(good, kind, name, resigned(members, good.day.authority), step)


def _by_a_stranger(good: Good) -> Iterator[Attack]:
    """A stranger can make a pack that is whole; the seal is then the sealer's, the rest is not."""
    kind = "signed anew by a stranger in the discloser's name"
    nobody = stranger()
    for name in ("nothing", *CHANGES):
        members = dict(good.pack_members)
        if name != "nothing":
            CHANGES[name][0](members)
        data = resigned(
            members, nobody, lambda one: one.update(signing_certificate=_digest(nobody))
        )
        yield _attack(good, kind, f"{name} changed", data, 6, answer=("discloser", "signer"))


def _digest(authority: Any) -> str:
    from evidpack.trust.fingerprints import fingerprint

    return fingerprint(authority.signer.certificate).hex()


def _accounting(good: Good) -> Iterator[Attack]:
    """Lines of the accounting that cannot stand, pinned and signed."""
    kind = "an accounting of another form, signed by the discloser"
    name = layout.DISCLOSURE_ACCOUNTING
    values = lines(good.pack_members, name)
    shown = next(n for n, one in enumerate(values) if one["became"] == "released")
    hidden = next(n for n, one in enumerate(values) if one["exhibit"] is None)
    for how, number, change in (
        ("another number", 3, {"entry": 4}), ("a negative number", 3, {"entry": -1}),
        ("a number that is text", 3, {"entry": "3"}), ("another kind", 3, {"kind": "finding"}),
        ("a kind that is none", 3, {"kind": "sandwich"}), ("an outcome that is none", shown, {"became": "eaten"}),
        ("no reason", shown, {"reason": " "}), ("a reason of a line separator", shown, {"reason": "\u2028"}),
        ("another use", shown, {"use": "perhaps"}), ("no use", shown, {"use": None}),
        ("exhibit 0", shown, {"exhibit": 0}), ("exhibit -1", shown, {"exhibit": -1}),
        ("an exhibit beyond the limit", shown, {"exhibit": 10_000_001}), ("an exhibit that is true", shown, {"exhibit": True}),
        ("no description", shown, {"description": None}), ("closed fields of a released entry", shown, {"closed": ["path"]}),
        ("a redacted entry without closed fields", shown, {"became": "redacted"}),
        ("closed fields not in order", shown, {"became": "redacted", "closed": ["size", "path"]}),
        ("closed fields twice", shown, {"became": "redacted", "closed": ["path", "path"]}),
        ("closed fields that are numbers", shown, {"became": "redacted", "closed": [1]}),
        ("a further member", shown, {"extra": 1}), ("a reason for a hidden entry", hidden, {"reason": "Sensitive."}),
        ("a description of a hidden entry", hidden, {"description": "A name."}),
        ("a use of a hidden entry", hidden, {"use": "unused"}),
    ):  # fmt: skip
        changed = json.loads(json.dumps(values))
        changed[number] |= change
        members = dict(good.pack_members)
        put(members, name, changed)
        yield _attack(good, kind, how, resigned(members, good.day.authority), 9, words=name)
    raw = good.pack_members[name]
    for how, data in {
        "white space": raw.replace(b",", b", ", 1), "an empty line": b"\n" + raw, "no last line feed": raw[:-1],
        "nothing": b"", "no JSON": b"{\n" + raw, "nested too deep": b"[" * 99 + b"\n" + raw,
        "not UTF-8": b"\xff\n" + raw, "a line too many": raw + raw.splitlines(keepends=True)[-1],
        "a member twice": raw.replace(b'{"became"', b'{"became":"x","became"', 1),
    }.items():  # fmt: skip
        members = good.pack_members | {name: data}
        yield _attack(good, kind, how, resigned(members, good.day.authority), 9, words=name)


def _openings(good: Good) -> Iterator[Attack]:
    kind = "revealed entries, openings or leaves of another form, signed by the discloser"
    name = layout.DISCLOSURE_OPENINGS
    values = lines(good.pack_members, name)

    def attack(how: str, members: Members, step: int = 4) -> Attack:
        return _attack(good, kind, how, resigned(dict(members), good.day.authority), step)

    def opening(how: str, change: Callable[[_Line], None]) -> Attack:
        changed = json.loads(json.dumps(values))
        change(changed[1])
        members = dict(good.pack_members)
        put(members, name, changed)
        return attack(how, members)

    yield opening("another entry", lambda one: one.update(entry=0))
    yield opening("an entry that is not there", lambda one: one.update(entry=10**9))
    yield opening("an entry that is text", lambda one: one.update(entry="1"))
    yield opening("no fields", lambda one: one.update(fields={}))
    yield opening("fields that are a list", lambda one: one.update(fields=[]))
    yield opening("a further member", lambda one: one.update(extra=1))
    yield opening(
        "a field that was not sealed",
        lambda one: one["fields"].update(zz={"salt": "00" * 16, "value": 1}),
    )
    yield opening("a short salt", lambda one: next(iter(one["fields"].values())).update(salt="00"))
    yield opening(
        "a salt in capitals", lambda one: next(iter(one["fields"].values())).update(salt="AB" * 16)
    )
    yield opening(
        "another type of value", lambda one: next(iter(one["fields"].values())).update(value=[1])
    )
    yield opening("no value", lambda one: next(iter(one["fields"].values())).pop("value"))
    for part in (layout.DISCLOSURE_OPENINGS, layout.DISCLOSURE_ENTRIES):
        found = good.pack_members[part].splitlines(keepends=True)
        for how, changed in {
            "a line missing": found[:-1], "a line twice": [*found, found[-1]], "lines exchanged": [found[1], found[0], *found[2:]],
            "an empty line": [found[0], b"\n", *found[1:]], "no last line feed": [*found[:-1], found[-1][:-1]],
            "white space": [found[0].replace(b",", b", ", 1), *found[1:]], "no JSON": [b"{\n", *found[1:]],
        }.items():  # fmt: skip
            yield attack(f"{part}: {how}", good.pack_members | {part: b"".join(changed)})
    leaves = good.pack_members[layout.DISCLOSURE_LEAVES]
    rows = leaves.splitlines(keepends=True)
    for how, data in {
        "capitals": leaves.upper(), "a space": b" " + leaves, "no last line feed": leaves[:-1],
        "an empty line": leaves + b"\n", "one fewer": b"".join(rows[:-1]), "one more": leaves + rows[0],
        "two exchanged": b"".join([rows[1], rows[0], *rows[2:]]), "nothing": b"", "carriage returns": leaves.replace(b"\n", b"\r\n"),
    }.items():  # fmt: skip
        yield attack(f"leaves: {how}", good.pack_members | {layout.DISCLOSURE_LEAVES: data}, 3)


def _pictures(good: Good) -> Iterator[Attack]:
    """A redacted copy that shows or holds more, or is no such picture."""
    kind = "a redacted copy that shows, hides or holds more, signed by the discloser"
    name, tiles = layout.exhibit_picture(good.exhibit), layout.exhibit_tiles(good.exhibit)
    png = good.redacted_members[name]
    records = good.redacted_members[layout.DISCLOSURE_REDACTIONS]
    record = json.loads(records)

    def attack(how: str, **changed: bytes | None) -> Attack:
        members = dict(good.redacted_members)
        for part, data in {
            name: changed.get("png", png), tiles: changed.get("tiles", members[tiles]),
            layout.DISCLOSURE_REDACTIONS: changed.get("records", records),
        }.items():  # fmt: skip
            if data is None:
                del members[part]
            else:
                members[part] = data
        return _attack(good, kind, how, resigned(members, good.day.authority), 4)

    for how, place in {"a pixel outside": (129, 99), "a pixel under the cover": (44, 4)}.items():
        picture = Image.open(io.BytesIO(png))
        picture.putpixel(place, (1, 2, 3))
        yield attack(how, png=_saved(picture))
    picture = Image.open(io.BytesIO(png))
    notes = PngInfo()
    notes.add_text("comment", "a name")
    out = io.BytesIO()
    picture.save(out, "PNG", pnginfo=notes)
    yield attack("a text inside", png=out.getvalue())
    for how, changed in {
        "another size": _saved(picture.resize((131, 100))), "turned": _saved(picture.rotate(180)),
        "greyscale": _saved(picture.convert("L")), "with transparency": _saved(picture.convert("RGBA")),
        "with a palette": _saved(picture.convert("P")), "a JPEG": _saved(picture, "JPEG"), "a GIF": _saved(picture, "GIF"),
        "bytes behind the end": png + b"secret", "cut short": png[:-1], "no picture": b"no picture", "nothing": b"",
        "a bomb": _bomb(30_000, 30_000), "a bomb of the right size": _bomb(130, 100, inflate=50_000_000),
        "rows missing": _bomb(130, 100, inflate=100), "a chunk of 4 GiB": png[:8] + b"\xff\xff\xff\xff" + png[12:],
        "a flat picture": _saved(Image.new("RGB", (130, 100), (128, 128, 128))), "a bit flipped": png[:80] + bytes([png[80] ^ 1]) + png[81:],
    }.items():  # fmt: skip
        yield attack(how, png=changed)
    yield attack("the picture missing", png=None)
    text = good.redacted_members[tiles]
    rows = text.splitlines(keepends=True)
    opened = next(row for row in rows if row.startswith(b"open"))
    for how, data in {
        "a wrong salt": text.replace(opened, b"open " + b"0" * 32 + b"\n", 1), "one more closed": text.replace(opened, b"closed " + b"0" * 64 + b"\n", 1),
        "a tile missing": b"".join(rows[:-1]), "a tile too many": text + opened, "another word": text.replace(b"open", b"shut", 1),
        "capitals": text.upper(), "nothing": b"", "no last line feed": text[:-1],
    }.items():  # fmt: skip
        yield attack(f"tiles: {how}", tiles=data)
    yield attack("the tiles missing", tiles=None)
    yield attack("the record missing", records=None)
    for how, changes in {
        "about another exhibit": {"exhibit": 99}, "about another entry": {"entry": 0}, "of other tiles": {"tiles": [0]},
        "of tiles that are text": {"tiles": ["0"]}, "a further member": {"extra": 1}, "of boxes too deep": {"boxes": [[[1]]]},
        "by a number": {"by": 7},
    }.items():  # fmt: skip
        yield attack(f"the record {how}", records=canonical_bytes(record | changes) + b"\n")
    yield attack("the record twice", records=records + records)


def _saved(picture: Image.Image, form: str = "PNG") -> bytes:
    out = io.BytesIO()
    picture.save(out, form)
    return out.getvalue()


def _bomb(width: int, height: int, inflate: int = 1_000_000) -> bytes:
    """A PNG that states a size and inflates to so many zeros."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    pixels = zlib.compress(bytes(inflate), 9)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", pixels) + chunk(b"IEND", b"")
    )


def _statements(good: Good) -> Iterator[Attack]:
    kind = "a disclosure statement of another form, or that claims what is not so"
    statement = json.loads(good.pack_members[layout.DISCLOSURE_STATEMENT])
    counts, pinned = statement["accounting"], statement["pinned"]
    for name, change, step in (
        ("another type", {"type": "seal"}, 4), ("a later version", {"version": 2}, 4), ("a further member", {"extra": 1}, 4),
        ("another day", {"day": "OTHER"}, 4), ("another origin", {"origin": "11" * 32}, 4), ("another folder", {"pack": "pack-1-000000000000"}, 4),
        ("a number of 5,000 digits", {"pack": "pack-" + "9" * 5000 + "-000000000000"}, 4),
        ("another issue", {"issue": 2}, 4), ("issue 0", {"issue": 0}, 4), ("issue 2^53 - 1", {"issue": 2**53 - 1}, 4),
        ("an issue before the first", {"previous": "11" * 32}, 4), ("no recipient", {"recipient": " "}, 4),
        ("a recipient of a megabyte", {"recipient": "x" * 1_000_000}, 4), ("no decider", {"decided_by": ""}, 4),
        ("decided at no time", {"decided_at": "yesterday"}, 4), ("other counts", {"accounting": {**counts, "withheld": counts["withheld"] - 1}}, 9),
        ("a negative count", {"accounting": {**counts, "withheld": -1}}, 4), ("a further outcome", {"accounting": {**counts, "eaten": 0}}, 4),
        ("fewer exhibits", {"exhibits": 0}, 9), ("exhibits beyond the limit", {"exhibits": 2**40}, 4),
        ("a pinned file fewer", {"pinned": {k: v for k, v in pinned.items() if k != layout.INDEX}}, 4),
        ("a pinned file more", {"pinned": {**pinned, "zz": "00" * 32}}, 4), ("pinned by a short digest", {"pinned": {**pinned, layout.INDEX: "00"}}, 4),
        ("a log's line that is none", {"release_log": "x"}, 4), ("a verification that is a text", {"verification": "yes"}, 4),
        ("another signing certificate", {"signing_certificate": "00" * 32}, 5), ("a time after the stamp", {"claimed_time": "2026-06-01T12:00:03+00:00"}, 7),
        ("the last second of all", {"claimed_time": "9999-12-31T23:59:59-23:59"}, 4),
        ("decided before all time", {"decided_at": "0001-01-01T00:00:00+23:59"}, 4),
    ):  # fmt: skip
        yield _attack(good, kind, name, _signed(good, canonical_bytes(statement | change)), step)
    own = good.pack_members[layout.DISCLOSURE_STATEMENT]
    for name, content in {
        "white space": json.dumps(statement).encode(), "an array": b"[]", "nothing": b"", "not UTF-8": b"\xff" + own,
        "nested too deep": b'{"a":' * 9_000, "a member twice": own.replace(b'{"acc', b'{"day":"x","acc', 1),
    }.items():  # fmt: skip
        yield _attack(good, kind, name, _signed(good, content), 4)
    kind = "another seal, signature or token under a pack"
    for name, part, data, step in (
        ("the discloser's signature as the sealer's", layout.ORIGIN_SIGNATURE, good.pack_members[layout.DISCLOSURE_SIGNATURE], 5),
        ("the discloser's token as the sealer's", layout.ORIGIN_TOKEN, good.pack_members[layout.DISCLOSURE_TOKEN], 7),
        ("the disclosure statement as the seal's", layout.ORIGIN_STATEMENT, own, 3),
        ("an altered seal statement", layout.ORIGIN_STATEMENT, good.pack_members[layout.ORIGIN_STATEMENT].replace(b"SMALL", b"OTHER"), 5),
    ):  # fmt: skip
        members = good.pack_members | {part: data}
        digest = hashlib.sha256(members[layout.ORIGIN_STATEMENT]).hexdigest()
        yield _attack(
            good,
            kind,
            name,
            resigned(members, good.day.authority, lambda one, d=digest: one.update(origin=d)),
            step,
        )  # type: ignore[misc]
    members = dict(good.pack_members)
    del members[layout.ORIGIN_TOKEN]
    yield _attack(
        good,
        kind,
        "the sealer's token left out",
        resigned(members, good.day.authority),
        7,
        answer=("sealer", "time"),
    )


def _signed(good: Good, content: bytes) -> bytes:
    """The pack with this statement, signed and stamped by the discloser."""
    signer = good.day.authority.signer
    signature = sign_detached(content, key=signer.key, certificate=signer.certificate)
    members = good.pack_members | {
        layout.DISCLOSURE_STATEMENT: content,
        layout.DISCLOSURE_SIGNATURE: signature,
        layout.DISCLOSURE_TOKEN: stamped(signature, good.day.authority, STAMPED_AT),
    }
    return repaired(good.pack_top, members)
