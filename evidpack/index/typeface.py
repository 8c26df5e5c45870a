"""The three typefaces, and text made fit to be printed with them.

Every font is embedded as a subset (DejaVu, its licence beside the files).  A character without a
glyph, a control or formatting character, and a space that looks like another are printed by code
point, such as ``[U+4E2D]``: nothing is dropped and no two names look alike for that reason.  A
text that itself holds ``[U+`` has its bracket printed as ``[U+005B]``, so that the form is
unambiguous.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache, lru_cache
from importlib import resources
from io import BytesIO
from typing import Any, Final, NewType

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

Shown = NewType("Shown", str)  # text that the face in hand can print as it stands


class Typeface(StrEnum):
    """The faces in use, by the name under which they are registered."""

    SANS = "evidpack-sans"
    BOLD = "evidpack-sans-bold"
    MONO = "evidpack-mono"


_FILES: Final = {
    Typeface.SANS: "DejaVuSans.ttf",
    Typeface.BOLD: "DejaVuSans-Bold.ttf",
    Typeface.MONO: "DejaVuSansMono.ttf",
}
# Categories that are invisible or that steer layout; a plain space is the one separator printed.
_NEVER_PRINTED: Final = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp", "Zs"})
# reportlab writes its map back to text in four digits, so that a character beyond the basic plane
# would read back as another one.
_LAST_IN_BASIC_PLANE: Final = 0xFFFF
_UNITS: Final = re.compile(r"\[U\+[0-9A-F]{4,6}\]|.")
_SEPARATORS: Final = frozenset(" /\\_.,;:-")
# A time of day stays with its offset.
_WORDS: Final = re.compile(r"(?:\d\d:\d\d:\d\d[\d.]* [+-]\d\d:\d\d|[^ ])+ *| +")


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """One loaded face. `advances` maps a code point to its advance in thousandths of the size;
    `each` is that of every ASCII character where they are all alike, else None."""

    name: Typeface
    font: Any
    advances: Mapping[int, float]
    each: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Style:
    """How a text is set: size and leading in points; `grey` 0 is black, 1 white.

    Styles are few and are compared by identity, which keeps looking up a wrapped text cheap.
    """

    face: Typeface = Typeface.SANS
    size: float = 8.0
    leading: float = 10.5
    grey: float = 0.0


@cache
def load(name: Typeface) -> Face:
    """Load and register a face, once a process."""
    data = (resources.files(__package__) / "fonts" / _FILES[name]).read_bytes()
    # ASCII stays at its own codes in the first subset, whatever the environment says.
    font = TTFont(name.value, BytesIO(data), asciiReadable=1)
    pdfmetrics.registerFont(font)
    advances = {code: font.face.charWidths[code] for code in font.face.charToGlyph}
    ascii_advances = {advances[code] for code in range(ord(" "), ord("~") + 1)}
    each = ascii_advances.pop() if len(ascii_advances) == 1 else None
    return Face(name=name, font=font, advances=advances, each=each)


@lru_cache(maxsize=4096)
def _character(name: Typeface, character: str) -> str:
    code = ord(character)
    printable = character == " " or (
        unicodedata.category(character) not in _NEVER_PRINTED
        and code <= _LAST_IN_BASIC_PLANE
        and code in load(name).advances
    )
    return character if printable else f"[U+{code:04X}]"


def shown(text: str, face: Typeface) -> Shown:
    """The text with every character that `face` cannot print given by its code point."""
    if "[U+" in text:
        return Shown("[U+005B]U+".join(shown(part, face) for part in text.split("[U+")))
    if text.isascii() and text.isprintable():
        return Shown(text)
    return Shown("".join(_character(face, character) for character in text))


def width(text: Shown, style: Style) -> float:
    """Width of a printable text, points."""
    face = load(style.face)
    if face.each is not None and text.isascii():
        # The same as the sum below to the last bit: advances are whole multiples of 1000/2048.
        return len(text) * face.each * style.size / 1000.0
    return sum(map(face.advances.__getitem__, map(ord, text))) * style.size / 1000.0


@lru_cache(maxsize=8192)
def wrap(text: str, style: Style, available: float) -> tuple[Shown, ...]:
    r"""Break a text into lines no wider than `available` points.

    Lines break after spaces; a word wider than a line breaks after ``/ \\ _ . , ; : -``, else
    anywhere, though never inside a code point in brackets.  Nothing but the spaces at a break is
    left out.  At least one line is returned, empty for an empty text.
    """
    ready = shown(text, style.face)
    if width(ready, style) <= available:
        return (ready,)
    lines: list[Shown] = []
    current, used = "", 0.0
    for word in _WORDS.findall(ready):
        ink = width(Shown(word.rstrip(" ")), style)
        if used + ink > available and current:
            lines.append(Shown(current.rstrip(" ")))
            current, used = "", 0.0
        *full, rest = _cut(word, style, available) if ink > available else [word]
        lines.extend(Shown(part) for part in full)
        current += rest
        used = width(Shown(current), style)
    lines.append(Shown(current.rstrip(" ")))
    return tuple(lines)


def _cut(word: str, style: Style, available: float) -> list[str]:
    """Cut a word that is wider than a line, after a separator where there is one.

    One pass over the units (a character, or a code point in brackets), so that a hostile name
    costs no more than its length.
    """
    parts: list[str] = []
    current: list[str] = []
    used = 0.0  # points on the line
    space = other = 0  # units after which it may break, best after a space
    for unit in _UNITS.findall(word):
        extent = width(Shown(unit), style)
        while current and unit != " " and used + extent > available:
            end = space or other or len(current)
            parts.append("".join(current[:end]).rstrip(" "))
            current, space, other = current[end:], 0, 0
            used = width(Shown("".join(current)), style)
        current.append(unit)
        used += extent
        if unit == " ":
            space = len(current)
        elif unit in _SEPARATORS:
            other = len(current)
    return [*parts, "".join(current)]


def fit(text: str, style: Style, available: float) -> Shown:
    """One line, cut with an ellipsis where it is too wide: for captions that repeat what stands
    in full elsewhere, never for the only place."""
    lines = wrap(text, style, available)
    if len(lines) == 1:
        return lines[0]
    line = lines[0]
    while line and width(Shown(line + "…"), style) > available:
        line = Shown(line[:-1])
    return Shown(line + "…")
