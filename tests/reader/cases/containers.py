"""Archives that two programs could read in two ways, and names that some program would change."""

from __future__ import annotations

from collections.abc import Iterator

from tests.container.archives import CENTRAL, END, LOCAL, TOP, Part, forged, parts, written
from tests.reader.cases.case import Case
from tests.sealed_days import SealedDay

NAMES = (
    "/a", "a/", "a//b", ".", "..", "a/../b", "./a", "a\\b", "a:b", "a*b", "a?b", 'a"b', "a<b", "a|b",
    "a%b", "a\nb", "a\x00b", "a\x7fb", "a.", "a ", " a", "con", "CON.txt", "nul", "com1.txt", "com¹",
    "lpt9", "clock$", "a\u0301", "e\u0301.txt", "a\u202eb", "a\u200bb", "a\ufeff", "\u212b.txt",
    "\ue000", "\u0378", "\u1e9e.txt", "\U0001f600", "a\u00a0b", "a\u3000b", "a\u2028b", "\u115f",
    "\u3164", "\ufe0f", "x" * 255, "x" * 256, "é" * 127, "é" * 128, "/".join("a" * 32),
    "/".join("a" * 33), "ſ.txt", "K.txt", "ﬁ.txt", "漢字.txt", "Ω.txt", "data/x", "plain-name.txt",
)  # fmt: skip
TWINS = (
    ("a.txt", "A.txt"), ("a.txt", "a.txt"), ("straße", "STRASSE"), ("straße", "strasse"),
    ("ß", "ss"), ("Σ", "ς"), ("σα", "ςα"), ("ΑΣ", "ας"), ("İ", "i\u0307"), ("ı", "i"), ("ﬁ", "fi"),
    ("é", "É"), ("a", "a/b"), ("A/b", "a/c"), ("a/b", "A"), ("ſ", "s"), ("K", "k"), ("ŉ", "ʼn"),
    ("ǰ", "J\u030c"), ("µ", "μ"), ("Ω", "ω"), ("ΐ", "Ϊ\u0301"), ("Ꭰ", "a"), ("x/é/y", "x/É/z"),
    ("one", "two"),
)  # fmt: skip


def cases(day: SealedDay) -> Iterator[Case]:
    del day
    yield from _named("container: ", {
        "empty file": b"",
        "not an archive": b"PK" * 40,
        "good but no bundle": written(),
        "prefix": b"x" + written(),
        "prefix, positions moved": forged(parts("a", "b"), prefix=b"MZ" * 8),
        "suffix": written() + b"x",
        "comment": forged(parts("a"), end={"comment_length": 1}, suffix=b"x"),
        "one archive as another's comment": written() + written(),
        "gap": forged([Part(name=f"{TOP}/a", after=b"gap"), *parts("b")]),
        "hidden member": forged([*parts("a"), Part(name=f"{TOP}/b", data=b"b", hide_central=True)]),
        "member without local header": forged([*parts("a"), Part(name=f"{TOP}/b", hide_local=True)]),
        "bytes before the directory": forged(parts("a"), before_directory=b"junk"),
        "bytes behind the directory": forged(parts("a"), after_directory=b"junk"),
        "another order": forged(parts("a", "b"), order=[1, 0]),
        "a header twice": forged(parts("a", "b"), order=[0, 0]),
        "local name differs": forged([Part(name=f"{TOP}/a", local_name=f"{TOP}/b".encode())]),
        "no top folder": forged([Part(name="a")]),
        "two top folders": forged([*parts("a"), Part(name="OTHER/b")]),
        "top folder that is no reference": forged(parts("a", top="a b")),
        "top folder that is a device": forged(parts("a", top="con")),
        "name that is not UTF-8": forged([Part(name=f"{TOP}/".encode() + b"\xff")]),
        "overlong name": forged([Part(name=f"{TOP}/".encode() + b"\xc0\xaf")]),
        "unicode path field": forged(
            [Part(name=f"{TOP}/a", central_extra=b"\x75\x70\x05\x00\x01abcd")]
        ),
        "local extra field": forged([Part(name=f"{TOP}/a", local_extra=b"\x01\x00\x00\x00")]),
        "ZIP64 without need": forged(parts("a"), end64={}, locator={}),
        "ZIP64 announced without need": forged(parts("a"), end={"count": 0xFFFF, "count_here": 0xFFFF}),
        "ZIP64 announced, without room": forged([], end={"position": 0xFFFFFFFF}),
        "ZIP64 size beyond everything": forged(
            [
                Part(
                    name=f"{TOP}/a",
                    central={"size": 0xFFFFFFFF, "stored": 0xFFFFFFFF},
                    central_extra=b"\x01\x00\x10\x00" + b"\xff" * 16,
                )
            ]
        ),
        "ZIP64 end beyond everything": forged(
            parts("a"),
            end={"position": 0xFFFFFFFF},
            end64={"position": 2**64 - 1},
            locator={},
        ),
        "empty archive": forged([]),
    })  # fmt: skip
    yield from _fields()
    yield from _cuts()
    for name in NAMES:
        shown = f"{ascii(name)[:60]} ({len(name)} characters)"
        yield Case(name=f"container: name {shown}", data=forged(parts("ok", name)))
    for one, other in TWINS:
        yield Case(name=f"container: names {one!a} and {other!a}", data=forged(parts(one, other)))


def _named(family: str, files: dict[str, bytes]) -> Iterator[Case]:
    for name, data in files.items():
        yield Case(name=family + name, data=data)


def _fields() -> Iterator[Case]:
    """Each field of each header with another value."""
    good = forged(parts("a", "b"))
    central = good.index(b"PK\x01\x02")
    for where, start, layout in (
        ("local", 0, LOCAL), ("central", central, CENTRAL), ("end", len(good) - 22, END),
    ):  # fmt: skip
        at = start
        for name, width in layout:
            for how, mask in (("lowest bit", 1), ("all bits", (1 << 8 * width) - 1)):
                value = int.from_bytes(good[at : at + width], "little")
                changed = (value ^ mask).to_bytes(width, "little")
                data = good[:at] + changed + good[at + width :]
                yield Case(name=f"container: {where} {name}, {how}", data=data)
            at += width


def _cuts() -> Iterator[Case]:
    good = written()
    for length in (1, 21, 22, 30, 100, len(good) - 23, len(good) - 22, len(good) - 1):
        yield Case(name=f"container: first {length} bytes", data=good[:length])
