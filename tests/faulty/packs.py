"""Faults of packs: the bytes of a finished pack edited, and signed anew by its own discloser."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from dataclasses import dataclass

from PIL import Image
from PIL.PngImagePlugin import PngInfo

from evidpack.container import layout

Members = dict[str, bytes]
MARK = "QI7=07O"  # a plate that can't be issued, of somebody who is not concerned


@dataclass(frozen=True, slots=True, kw_only=True)
class PackFault:
    """One fault of a pack that holds one redacted still, and what must answer it.

    `edit` changes the members of the pack; `exhibit` is that of the redacted still. `step` fails
    when the pack is verified and names `item` (None where the pack's proofs hold and only the record
    beside them is wrong); where `copy` is given, check 19 about the copies in the pack answers so,
    as it does before a pack is made. Without an edit the pack must not come to be: `description` is then what
    somebody wrote about a withheld entry.
    """

    name: str
    wrong: str
    step: int | None = None
    item: str = ""
    copy: str | None = None
    says: tuple[str, ...] = ()
    edit: Callable[[Members, int], None] | None = None
    description: str = ""

    @property
    def check(self) -> str:
        """What answers, as the table prints it."""
        if self.copy is not None:
            return "19"
        return "making the pack" if self.step is None else f"step {self.step}"

    @property
    def outcome(self) -> str:
        """How it answers."""
        return self.copy or ("refused" if self.step is None else "fails")


def _accounting(members: Members) -> list[dict[str, object]]:
    return [json.loads(line) for line in members[layout.DISCLOSURE_ACCOUNTING].splitlines()]


def _account(members: Members, lines: list[dict[str, object]]) -> None:
    members[layout.DISCLOSURE_ACCOUNTING] = b"".join(
        json.dumps(one, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode() + b"\n"
        for one in lines
    )


def _withheld(lines: list[dict[str, object]]) -> int:
    return next(n for n, one in enumerate(lines) if one["became"] == "withheld")


def _unlisted(members: Members, exhibit: int) -> None:
    lines = _accounting(members)
    del lines[_withheld(lines)]
    _account(members, lines)


def _shown_as_released(members: Members, exhibit: int) -> None:
    lines = _accounting(members)
    lines[_withheld(lines)] |= {"became": "released", "exhibit": 9000, "use": "unused"}
    _account(members, lines)


def _saved(members: Members, exhibit: int, change: Callable[[Image.Image], None], **more) -> None:
    name = layout.exhibit_picture(exhibit)
    with Image.open(io.BytesIO(members[name])) as picture:
        changed = picture.convert("RGB")
    change(changed)
    made = io.BytesIO()
    changed.save(made, "PNG", **more)
    members[name] = made.getvalue()


def _under_the_cover(members: Members, exhibit: int) -> None:
    def shown(picture: Image.Image) -> None:
        picture.putpixel((44, 4), (250, 220, 0))

    _saved(members, exhibit, shown)


def _text_chunk(members: Members, exhibit: int) -> None:
    info = PngInfo()
    info.add_text("comment", MARK)
    _saved(members, exhibit, lambda picture: None, pnginfo=info)


def _exif(members: Members, exhibit: int) -> None:
    exif = Image.Exif()
    exif[0x010E] = MARK  # ImageDescription
    _saved(members, exhibit, lambda picture: None, exif=exif)


def _record(change: Callable[[dict[str, object]], None]) -> Callable[[Members, int], None]:
    def edit(members: Members, exhibit: int) -> None:
        record = json.loads(members[layout.DISCLOSURE_REDACTIONS])
        change(record)
        members[layout.DISCLOSURE_REDACTIONS] = (
            json.dumps(record, sort_keys=True, separators=(",", ":")).encode() + b"\n"
        )

    return edit


PACK_FAULTS = (
    PackFault(name="withheld-unlisted", wrong="a withheld entry is left out of the accounting",
              step=9, item=layout.DISCLOSURE_ACCOUNTING, says=("entry",), edit=_unlisted),
    PackFault(name="withheld-shown-as-released",
              wrong="a withheld entry is accounted for as released",
              step=9, item=layout.DISCLOSURE_ACCOUNTING, says=("released",),
              edit=_shown_as_released),
    PackFault(name="third-party-in-copy", wrong="a redacted copy shows what is under its cover",
              step=4, item="exhibit", copy="fail",
              says=("1 closed tiles show something",), edit=_under_the_cover),
    PackFault(name="third-party-in-metadata", wrong="a redacted copy names somebody in its EXIF",
              step=4, item="exhibit", copy="fail", says=("EXIF",), edit=_exif),
    PackFault(name="third-party-in-text", wrong="a redacted copy names somebody in a text chunk",
              step=4, item="exhibit", copy="fail", says=("metadata “comment”",), edit=_text_chunk),
    PackFault(name="redaction-too-small", wrong="the region asked for is larger than what is closed",
              copy="fail", says=("tiles of a region are left open",),
              edit=_record(lambda record: record.update(boxes=[[40, 2, 120, 100]]))),
    PackFault(name="redaction-unexplained", wrong="the redaction record gives no reason",
              copy="query", says=("no reason",),
              edit=_record(lambda record: record.update(reason=""))),
    PackFault(name="third-party-in-description",
              wrong="the description of a withheld entry names another driver's speed",
              says=("names what entry", "withholds"), description="Seen beside 44 mph"),
)  # fmt: skip
