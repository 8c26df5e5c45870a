"""Which names may stand in an archive, and how a file with another name gets a safe one.

A name is allowed only if every common program would write it to disk unchanged: on Windows,
macOS and Linux, from a ZIP, from a bag manifest (RFC 8493) and from a `sha256sum` list.  Two
names are *twins* if one of these would take the one for the other: they differ only in case or
in normalisation, or one is a folder of the other.

Characters are limited to those of Unicode 3.2, of which Python keeps a frozen table: case
folding and normalisation of assigned characters never change (Unicode stability policies), so a
name means the same under every later Python.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from typing import Final

from evidpack import limits
from evidpack.errors import ContainerError

_FORBIDDEN: Final = frozenset('<>:"|?*\\%')
_FORBIDDEN_CATEGORIES: Final = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
# Drawn as nothing, and so twins to the eye, although Unicode 3.2 counts them as letters or marks.
_INVISIBLE: Final = frozenset(
    "\u00ad\u034f\u115f\u1160\u17b4\u17b5\u180b\u180c\u180d\u180e\u3164\uffa0"
) | frozenset(chr(point) for point in range(0xFE00, 0xFE10))
# Names that Windows takes for devices, with any ending (Microsoft, "Naming Files, Paths, and
# Namespaces"; CLOCK$ from older systems: common practice, no source).
_DEVICES: Final = frozenset(
    {"con", "prn", "aux", "nul", "conin$", "conout$", "clock$"}
) | frozenset(device + digit for device in ("com", "lpt") for digit in "0123456789¹²³")
_PLAIN: Final = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_.-]*(?<!\.)", re.ASCII)
# A short path of plain parts, none of them a device: what nearly every file of a day is called.
_PLAIN_PATH: Final = re.compile(
    r"(?:(?!(?i:con|prn|aux|nul|com[0-9]|lpt[0-9])(?:[./]|\Z))[A-Za-z0-9_][A-Za-z0-9_.-]*(?<!\.)"
    r"(?:/|\Z))+(?<!/)",
    re.ASCII,
)
_PLAIN_PATH_BYTES: Final = 200
_TOP: Final = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9.-]*[A-Za-z0-9-])?", re.ASCII)


def require_top(top: str) -> None:
    """Refuse a top folder that is no reference: ASCII letters, digits, hyphen, dot.

    Raises:
        ContainerError: what is wrong with it.
    """
    if len(top) > limits.MAX_REFERENCE_CHARACTERS:
        raise ContainerError(
            "the reference is too long",
            expected=f"at most {limits.MAX_REFERENCE_CHARACTERS} characters",
            observed=str(len(top)),
        )
    if not _TOP.fullmatch(top) or _is_device(top):
        raise ContainerError(
            "the top folder has a name that is no reference",
            expected="ASCII letters, digits, hyphen and dot, no dot at either end, no device name",
            observed=ascii(top),
        )


def require_name(name: str) -> None:
    """Refuse a name, relative to the top folder, that some program would not keep as it is.

    Raises:
        ContainerError: the first thing wrong with it; `observed` shows the name in ASCII.
    """
    reason = _name_fault(name)
    if reason is not None:
        expected, what = reason
        raise ContainerError(
            f"the name {name[:200]!a} is not allowed: {what}",
            expected=expected,
            observed=ascii(name[:200]),
        )


def _name_fault(name: str) -> tuple[str, str] | None:
    """What is wrong with a whole name, as (expected, what it is)."""
    if not name:
        return "a name", "it is empty"
    components = name.split("/")
    for component in components:
        reason = part_fault(component)
        if reason is not None:
            return reason
    if len(components) > limits.MAX_PATH_DEPTH:
        return f"at most {limits.MAX_PATH_DEPTH} parts", f"it has {len(components)} parts"
    size = len(name.encode("utf-8"))
    if size > limits.MAX_NAME_BYTES:
        return f"at most {limits.MAX_NAME_BYTES} bytes of UTF-8", f"it has {size} bytes"
    return None


def part_fault(component: str) -> tuple[str, str] | None:
    """What is wrong with one part of a name, as (expected, what it is); None if nothing."""
    if not component:
        return "no empty part", "it is absolute, ends in a slash or has an empty part"
    if component in {".", ".."}:
        return "no '.' or '..'", "it points to this or the parent folder"
    if not _PLAIN.fullmatch(component):
        wrong = {character for character in set(component) if not _may_stand(character)}
        if wrong:
            first = next(character for character in component if character in wrong)
            return "no such character", f"it has the character U+{ord(first):04X}"
        if component[-1] in " .":
            return "no space or dot at the end", "a part ends in a space or a dot"
        if component[0] == " ":
            return "no space at the start", "a part starts with a space"
        if unicodedata.normalize("NFC", component) != component:
            return "Unicode normalisation form NFC", "it is not in form NFC"
    if _is_device(component):
        return "no name that Windows takes for a device", "a part is a device name"
    size = len(component.encode("utf-8"))
    if size > limits.MAX_NAME_PART_BYTES:
        return f"parts of at most {limits.MAX_NAME_PART_BYTES} bytes", f"a part has {size} bytes"
    return None


@lru_cache(maxsize=65_536)
def _may_stand(character: str) -> bool:
    """Whether a character may stand in a name: visible, assigned in Unicode 3.2, portable."""
    if character.isascii():
        return " " <= character <= "~" and character not in _FORBIDDEN
    category = unicodedata.ucd_3_2_0.category(character)
    return (
        category not in _FORBIDDEN_CATEGORIES and category != "Zs" and character not in _INVISIBLE
    )


def _is_device(component: str) -> bool:
    return component.partition(".")[0].rstrip(" ").lower() in _DEVICES


def twin_key(name: str) -> str:
    """The form in which twins are alike: canonical caseless match (Unicode, section 3.13, D145).

    Upper case comes first, since file systems that fold to upper case also join the dotless i.
    """
    if name.isascii():
        return name.lower()
    apart = unicodedata.normalize("NFD", name).upper().casefold()
    return unicodedata.normalize("NFD", apart)


def _clash(name: str, taken: set[str]) -> int | None:
    """The number of the first part at which a name meets a twin, or None.

    `taken` holds the key of each file, and for each folder its key with a slash behind and its
    spelling between slashes.
    """
    folder, slash, _ = name.rpartition("/")
    if slash and f"/{folder}/" not in taken:
        parts = folder.split("/")
        for number in range(1, len(parts) + 1):
            folder = "/".join(parts[:number])
            if f"/{folder}/" in taken:
                continue
            key = twin_key(folder)
            if key in taken or f"{key}/" in taken:
                return number - 1
    key = twin_key(name)
    return name.count("/") if key in taken or f"{key}/" in taken else None


def _take(name: str, taken: set[str]) -> str:
    """The name itself, noted with the folders it lies in."""
    folder = name.rpartition("/")[0]
    while folder and f"/{folder}/" not in taken:
        taken.add(f"/{folder}/")
        taken.add(f"{twin_key(folder)}/")
        folder = folder.rpartition("/")[0]
    taken.add(twin_key(name))
    return name


def safe_name(original: str | bytes, taken: set[str]) -> str:
    """An allowed name for a file of the export, as near to its own as can be.

    Args:
        original: path relative to the export, parts joined by "/"; bytes where it is no UTF-8.
        taken: what this function has given so far; the same set for all files of one day, empty
            at first.  Changed here, and of no other use.

    Returns:
        `original` where it is allowed and no twin of one before; else with "_" for what may not
        stand, and a number where twins would meet.  The result depends on the order of calls.
    """
    text = original.decode("utf-8", "surrogateescape") if isinstance(original, bytes) else original
    if _is_plain_path(text) and _clash(text, taken) is None:
        return _take(text, taken)
    parts = [_safe_part(part) for part in text.split("/")]
    # Room for the folders that go in front.
    deepest = limits.MAX_PATH_DEPTH - limits.NAME_PARTS_KEPT
    if len(parts) > deepest:
        parts = [*parts[: deepest - 1], "_".join(parts[deepest - 1 :])]
    room = limits.MAX_NAME_BYTES - limits.NAME_BYTES_KEPT
    each = limits.MAX_NAME_PART_BYTES
    if len("/".join(parts).encode("utf-8")) > room - _NUMBER_ROOM:
        each = room // len(parts) - 1 - _NUMBER_ROOM
    parts = [_shortened(part, each) for part in parts]
    while (number := _clash("/".join(parts), taken)) is not None:
        parts[number] = _numbered(parts, number, each, taken)
    return _take("/".join(parts), taken)


def _is_plain_path(text: str) -> bool:
    """Whether a path is surely one that is kept as it is, by one look at the whole."""
    return (
        len(text) <= _PLAIN_PATH_BYTES
        and _PLAIN_PATH.fullmatch(text) is not None
        and text.count("/") < limits.MAX_PATH_DEPTH - limits.NAME_PARTS_KEPT
    )


_NUMBER_ROOM: Final = 8


def _safe_part(part: str) -> str:
    """One part with every character that may not stand replaced by "_"."""
    part = unicodedata.normalize("NFC", part)
    part = "".join(character if _may_stand(character) else "_" for character in part)
    if part.strip(" ") != part or part.endswith("."):
        part = re.sub(r"^ +|[ .]+$", lambda found: "_" * len(found[0]), part)
    return f"_{part}" if not part or _is_device(part) else part


def _shortened(part: str, most_bytes: int, tail: str = "") -> str:
    """A part cut to so many bytes of UTF-8, its ending (such as .jpg) and `tail` kept."""
    stem, dot, ending = part.rpartition(".")
    if not stem or len(ending) > 16 or not ending.isascii():
        stem, dot, ending = part, "", ""
    if len(part.encode("utf-8")) + len(tail) <= most_bytes:
        return f"{stem}{tail}{dot}{ending}"
    room = most_bytes - len(tail) - len(dot) - len(ending)
    cut = stem.encode("utf-8")[:room].decode("utf-8", "ignore")
    return _safe_part(f"{cut}{tail}{dot}{ending}")


def _numbered(parts: list[str], number: int, most_bytes: int, taken: set[str]) -> str:
    """The part `number` with the lowest free count behind it, found by halving."""

    def candidate(count: int) -> str:
        room = min(most_bytes + _NUMBER_ROOM, limits.MAX_NAME_PART_BYTES)
        return _shortened(parts[number], room, f"_{count}")

    def meets(count: int) -> bool:
        tried = "/".join([*parts[:number], candidate(count), *parts[number + 1 :]])
        return _clash(tried, taken) == number

    low, high = 1, 2
    while meets(high):
        low, high = high, high * 2
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if meets(middle) else (low, middle)
    return candidate(high)
