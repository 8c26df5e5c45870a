"""The slip of an encrypted pack: its passphrase on paper, to go another way than the pack."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from evidpack.container.layout import DECRYPTED_PACK
from evidpack.index.flow import BODY, REFERENCE, STRONG, TITLE, Flow, Furniture
from evidpack.index.phrases import moment_text, size_text
from evidpack.index.sheet import Box, Imprint, PaperName, paint
from evidpack.index.table import Cell, facts
from evidpack.index.typeface import Style, Typeface, shown, width, wrap
from evidpack.proof.digests import groups_of_four

_HEADING: Final = "Passphrase slip"
_PASSPHRASE: Final = Style(face=Typeface.MONO, size=19.0, leading=30.0)
_DIGEST: Final = Style(face=Typeface.MONO, size=7.5, leading=10.5)
_BOX_PAD_PT: Final = 14.0
_GROUPS_A_LINE: Final = 4
_TEXT_COLUMNS: Final = 76
_WARNING: Final = (
    "Whoever has this slip and the pack can read the pack. Keep the two apart, and destroy the slip "
    "when the pack is."
)

_ANOTHER_WAY: Final = (
    "Give it to the recipient another way than the pack: by hand, by post, or read out on the "
    "telephone to a number that was known before. Never in the message that carries the pack."
)
_PROGRAM: Final = (
    "The pack is a ZIP file encrypted with AES-256. The unzip programs built into common operating "
    "systems often cannot open one, and may call it damaged: use an archive program that says it "
    "opens AES-encrypted ZIP files, such as 7-Zip, or “evidpack open”, which verifies the pack "
    f"before it unpacks anything. Inside is one file, {DECRYPTED_PACK}: the pack itself, an ordinary "
    "ZIP file."
)
_TYPING: Final = (
    "Capitals or small letters, with or without the hyphens, are all one to “evidpack open”; for "
    "other programs type capitals and hyphens exactly as they stand. There is no letter I or O and "
    "no digit 0 or 1. The last character checks the others, so “evidpack open” notices a typing "
    "error at once."
)
_LOST: Final = (
    "A lost slip cannot be made again, since the passphrase is kept nowhere else: the pack has to be "
    "issued anew. A slip that somebody else may have seen is told to whoever issued the pack at once."
)
_COMPARE: Final = (
    "When the pack arrives, compare the SHA-256 of the file with the one printed here. If they "
    "differ, it is another file: do not rely on it, and ask for the pack again."
)
_POINTS: Final = (_ANOTHER_WAY, _PROGRAM, _TYPING, _COMPARE, _LOST)


@dataclass(frozen=True, slots=True, kw_only=True)
class SlipContent:
    """What a slip says. `sha256` is the encrypted file's digest and `pack_sha256` the plain pack's
    (32 bytes each), `size` the encrypted file's in bytes, `made_at` aware."""

    file_name: str
    sha256: bytes
    size: int
    reference: str  # of the pack
    pack_sha256: bytes
    case: str
    recipient: str
    issue: int
    made_at: datetime
    made_by: str
    passphrase: str
    evidpack_version: str
    paper: PaperName = "A4"


def _facts(content: SlipContent) -> tuple[tuple[str, str], ...]:
    return (
        ("For", content.recipient),
        ("Case", content.case),
        ("Pack", f"{content.reference}, issue {content.issue}"),
        ("File", f"{content.file_name}, {size_text(content.size)}"),
        ("Made", f"{moment_text(content.made_at)} by {content.made_by}"),
    )


def _digests(content: SlipContent) -> tuple[tuple[str, str], ...]:
    return (
        ("SHA-256 of the encrypted file", groups_of_four(content.sha256)),
        ("SHA-256 of the pack inside", groups_of_four(content.pack_sha256)),
    )


def slip_text(content: SlipContent) -> bytes:
    """The slip as plain text, UTF-8 with line feeds, to be printed on any printer."""
    lines = [_HEADING.upper(), ""]
    for name, value in _facts(content):
        printable = shown(value, Typeface.MONO)
        lines += textwrap.wrap(
            f"{name + ':':<8}{printable}", _TEXT_COLUMNS, subsequent_indent=" " * 8
        )
    lines += ["", "Passphrase:", ""]
    lines += [f"    {line}" for line in _passphrase_lines(content.passphrase)]
    for name, value in _digests(content):
        lines += ["", f"{name}:", ""]
        lines += [f"    {line}" for line in textwrap.wrap(value, _TEXT_COLUMNS - 36)]
    for text in (*_POINTS, _WARNING):
        lines += ["", *textwrap.wrap(text, _TEXT_COLUMNS)]
    return "".join(f"{line}\n" for line in lines).encode()


def _passphrase_lines(passphrase: str) -> list[str]:
    """Groups in lines of four. A line that is not the last ends with the hyphen that belongs there."""
    groups = passphrase.split("-")
    lines = [
        "-".join(groups[at : at + _GROUPS_A_LINE]) for at in range(0, len(groups), _GROUPS_A_LINE)
    ]
    return [f"{line}-" for line in lines[:-1]] + lines[-1:]


def build_slip(content: SlipContent) -> bytes:
    """The slip as a PDF of one page; the same content gives the same bytes."""
    flow = Flow(paper=content.paper, furniture=_furniture(content))
    flow.anchor("slip")
    flow.page.outline.append((_HEADING, "slip", 0))
    for line in wrap(_HEADING, TITLE, flow.wide):
        flow.line(line, TITLE)
    for line in wrap(f"{content.reference}, issue {content.issue}", REFERENCE, flow.wide):
        flow.line(line, REFERENCE)
    flow.y -= 8
    facts(flow, _facts(content), share=4.6)
    _draw_passphrase(flow, content.passphrase)
    facts(
        flow,
        [(name, Cell(text=value, style=_DIGEST)) for name, value in _digests(content)],
        share=4.6,
    )
    flow.space(6)
    flow.points(_POINTS, BODY, gap=4)
    imprint = Imprint(
        title=f"{_HEADING} {content.reference}",
        subject=_WARNING,
        author=content.made_by,
        creator=f"evidpack {content.evidpack_version}",
        moment=content.made_at,
    )
    return paint(flow.finish(), paper=content.paper, imprint=imprint)


def _draw_passphrase(flow: Flow, passphrase: str) -> None:
    """Large, in a frame, by itself."""
    lines = [shown(line, _PASSPHRASE.face) for line in _passphrase_lines(passphrase)]
    high = STRONG.leading + len(lines) * _PASSPHRASE.leading + 2 * _BOX_PAD_PT
    flow.space(8)
    flow.need(high)
    box = Box(x=flow.left, y=flow.y - high, wide=flow.wide, high=high)
    flow.page.box(box, stroke=0.0, thickness=1.4)
    flow.y -= _BOX_PAD_PT - 4
    flow.line(shown("Passphrase", STRONG.face), STRONG, indent=_BOX_PAD_PT)
    widest = max(width(line, _PASSPHRASE) for line in lines)
    for line in lines:
        flow.line(line, _PASSPHRASE, indent=(flow.wide - widest) / 2)
    flow.y = box.y - 10


def _furniture(content: SlipContent) -> Furniture:
    return Furniture(
        kind=_HEADING,
        reference=content.reference,
        digest_name="SHA-256 of the encrypted file",
        digest=content.sha256.hex(),
        warning=_WARNING,
        mark=f"evidpack {content.evidpack_version}",
    )
