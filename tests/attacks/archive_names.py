"""Archive attacks on names: what some system would write elsewhere, elsehow, or show as another."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from typing import Final

from tests.attacks.attack import Attack
from tests.attacks.good import Good
from tests.container.archives import forged

_ESCAPING: Final = (
    "/etc/passwd", "//server/share/x", "../x", "../../x", "data/../../x", "data/export/..", "./x",
    "data/./x", "data//x", "x/", "/", "", ".", "..", "C:/x", "C:x", "c:\\x", "\\x", "data\\x",
    "..\\x", "\\\\server\\x", "x:stream", "data/x::$DATA", "~/x\x00", "%2e%2e/x", "data/%00",
)  # fmt: skip
_DEVICES: Final = (
    "con", "CON", "nul.txt", "data/aux", "data/prn.jpg", "com1", "COM9.csv", "lpt1", "data/lpt²",
    "clock$", "conin$", "CONOUT$.txt", "aux.tar.gz", "con .txt",
)  # fmt: skip
_CHARACTERS: Final = (
    "a\nb", "a\rb", "a\tb", "a\x00b", "a\x1b[2Jb", "a\x7fb", "a\x85b", "a\x9bb", "a\u2028b",
    "a\u2029b", "a\u202ebgpj.exe", "a\u2066b", "a\u200bb", "a\u200db", "a\ufeffb", "a\u00adb",
    "a\u034fb", "a\u3164b", "a\ufe0fb", "a\U000e0041b", "a\ue000b", "a\u0378b", "a\U0001f600b",
    "a\u00a0b", "a\u3000b", "a<b", "a>b", 'a"b', "a|b", "a?b", "a*b", "a%b", "a:b",
    "x ", "x.", " x", "x /y", "x./y", "data/ x",
)  # fmt: skip
_FORMS: Final = ("e\u0301.txt", "\u212b.txt", "\u1100\u1161.txt", "a\u0323\u0307", "\u0958.txt")
_LONG: Final = ("x" * 256, "é" * 128, "/".join("d" * 33), "/".join(["y" * 200] * 6), "z" * 60_000)
_RAW: Final = {
    "not UTF-8": b"data/\xff", "half a character": b"data/\xc3", "an overlong slash": b"data/\xc0\xaf",
    "a surrogate in UTF-8": b"data/\xed\xa0\x80", "beyond Unicode": b"data/\xf5\x80\x80\x80",
    "code page 437": b"data/\x84.txt", "UTF-16": "data".encode("utf-16-le"),
    "a byte order mark": b"\xef\xbb\xbfdata",
}  # fmt: skip
_TWINS: Final = (
    ("data/export/a.txt", "data/export/A.txt"), ("data/ß", "data/SS"), ("data/σ", "data/ς"),
    ("data/İ", "data/i\u0307"), ("data/ı", "data/I"), ("data/ﬁ", "data/FI"), ("data/é", "data/É"),
    ("data/K", "data/k"), ("data/Ω", "data/ω"), ("data/µ", "data/μ"), ("data/a", "data/a/b"),
    ("data/A/b", "data/a/c"), ("data/ŉ", "data/ʼn"), ("data/ǰ", "data/J\u030c"),
)  # fmt: skip
_TOPS: Final = (
    "", ".", "..", "a b", "con", "nul.x", "-x", "x.", ".x", "é", "x" * 65, "a\\b", "C:", "a_b",
)  # fmt: skip


def attacks(good: Good) -> Iterator[Attack]:
    """The second member under each of these names, and pairs of names at the end."""
    for kind, names in {
        "names that lead elsewhere: absolute, parent, drive, stream, backslash": _ESCAPING,
        "names that Windows takes for devices": _DEVICES,
        "control, bidirectional, invisible or forbidden characters": _CHARACTERS,
        "names in another normalisation form": _FORMS,
        "names too long or too deep": _LONG,
    }.items():
        for name in names:
            yield _named(good, kind, ascii(name)[:60], name.encode("utf-8", "surrogatepass"))
    for shown, raw in _RAW.items():
        yield _named(good, "names that are not UTF-8", shown, raw)
    yield from _twins(good)
    yield from _folders(good)


def _named(good: Good, kind: str, shown: str, raw: bytes) -> Attack:
    found = good.parts
    found[1] = dataclasses.replace(found[1], name=good.top.encode() + b"/" + raw)
    return Attack(
        family="archive", kind=kind, name=shown, data=forged(found), step=1, words="at byte"
    )


def _twins(good: Good) -> Iterator[Attack]:
    kind = "a name twice, or two names that some system takes for one"
    for one, other in _TWINS:
        found = [
            dataclasses.replace(good.parts[0], name=f"{good.top}/{name}") for name in (one, other)
        ]
        yield Attack(
            family="archive",
            kind=kind,
            name=f"{one!a} and {other!a}",
            data=forged([*good.parts, *found]),
            step=1,
            words="could be taken for one another",
        )


def _folders(good: Good) -> Iterator[Attack]:
    kind = "a folder that is no reference, or a second one"
    for top in _TOPS:
        found = [
            dataclasses.replace(part, name=f"{top}/{part.raw.decode().split('/', 1)[1]}")
            for part in good.parts
        ]
        yield Attack(family="archive", kind=kind, name=ascii(top)[:40], data=forged(found), step=1)
    for number in (1, len(good.parts) - 1):
        for top in ("OTHER", good.top.lower(), good.top + "2"):
            found = good.parts
            inner = found[number].raw.decode().split("/", 1)[1]
            found[number] = dataclasses.replace(found[number], name=f"{top}/{inner}")
            yield Attack(
                family="archive",
                kind=kind,
                name=f"member {number} in {top}",
                data=forged(found),
                step=1,
                words="outside the top folder",
            )
    found = good.parts
    found[0] = dataclasses.replace(found[0], name=found[0].raw.decode().rsplit("/", 1)[1])
    yield Attack(
        family="archive", kind=kind, name="a member beside the folder", data=forged(found), step=1
    )
