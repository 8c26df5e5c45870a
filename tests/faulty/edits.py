"""Edits of the bytes of files: whatever goes wrong on a day is one of these, made on a copy of it."""

from __future__ import annotations

import io
import re
import struct
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from pathlib import Path

Edit = Callable[[Path], None]


def _encoding(path: str) -> str:
    """UTF-16 in the logs of the second export; else a text in which every byte is one letter."""
    return "utf-16-le" if path.startswith("export/aparato/") else "latin-1"


def swap(path: str, old: str, new: str, *, times: int = 1) -> Edit:
    """Replace text that stands in the file exactly `times` times."""

    def edit(folder: Path) -> None:
        data = (folder / path).read_bytes()
        before, after = old.encode(_encoding(path)), new.encode(_encoding(path))
        found = data.count(before)
        if found != times:
            raise ValueError(f"{path}: {old!r} stands there {found} times, expected {times}")
        (folder / path).write_bytes(data.replace(before, after))

    return edit


def rewrite(path: str, pattern: str, change: Callable[[re.Match[str]], str]) -> Edit:
    """Change every match of a pattern, of which there must be one."""

    def edit(folder: Path) -> None:
        text = (folder / path).read_bytes().decode(_encoding(path))
        text, found = re.subn(pattern, change, text)
        if not found:
            raise ValueError(f"{path}: nothing matches {pattern!r}")
        (folder / path).write_bytes(text.encode(_encoding(path)))

    return edit


def later(path: str, pattern: str, form: str, seconds: int) -> Edit:
    """Every time that stands in the group `time` of a pattern so many seconds later (or earlier)."""

    def moved(found: re.Match[str]) -> str:
        face = datetime.strptime(found["time"], form)  # noqa: DTZ007 - a clock's face has no zone
        time = face + timedelta(seconds=seconds)
        start, end = found.start("time") - found.start(), found.end("time") - found.start()
        return found[0][:start] + time.strftime(form) + found[0][end:]

    return rewrite(path, pattern, moved)


def add(path: str, text: str) -> Edit:
    """Append text to a file, which is made where it does not exist."""

    def edit(folder: Path) -> None:
        there = folder / path
        there.parent.mkdir(exist_ok=True)
        wide = _encoding(path) == "utf-16-le" and there.exists()
        with there.open("ab") as stream:
            stream.write(text.encode("utf-16-le" if wide else "utf-8"))

    return edit


def both(*edits: Edit) -> Edit:
    """One fault that shows in several places."""

    def edit(folder: Path) -> None:
        for one in edits:
            one(folder)

    return edit


def take_away(*paths: str) -> Edit:
    """Delete files."""

    def edit(folder: Path) -> None:
        for path in paths:
            (folder / path).unlink()

    return edit


def cut(path: str, length: int) -> Edit:
    """Only the first bytes of a file, as where a card was pulled out."""

    def edit(folder: Path) -> None:
        (folder / path).write_bytes((folder / path).read_bytes()[:length])

    return edit


def copied(source: str, target: str, *edits: Edit) -> Edit:
    """A second file with the bytes of the first, then edited."""

    def edit(folder: Path) -> None:
        (folder / target).write_bytes((folder / source).read_bytes())
        both(*edits)(folder)

    return edit


def saved_anew(path: str, form: str, size: tuple[int, int]) -> Edit:
    """A picture as a program saves it: in another format or size, its EXIF kept."""

    def edit(folder: Path) -> None:
        from PIL import Image

        with Image.open(folder / path) as picture:
            exif = picture.getexif()
            made = io.BytesIO()
            picture.convert("RGB").resize(size).save(made, form, exif=exif)
        (folder / path).write_bytes(made.getvalue())

    return edit


def picture_of(path: str, other: str) -> Edit:
    """The picture of another JPEG under the EXIF block of this one, whose thumbnail stays (marker
    segments: ITU-T T.81 B.1.1).
    """

    def edit(folder: Path) -> None:
        mine, rest = _split_exif((folder / path).read_bytes()), (folder / other).read_bytes()
        (folder / path).write_bytes(b"\xff\xd8" + mine[0] + _split_exif(rest)[1])

    return edit


def _split_exif(data: bytes) -> tuple[bytes, bytes]:
    """The first APP1 segment of a JPEG, and everything behind it."""
    at = 2
    while data[at : at + 2] != b"\xff\xe1":
        at += 2 + int.from_bytes(data[at + 2 : at + 4])
    end = at + 2 + int.from_bytes(data[at + 2 : at + 4])
    return data[at:end], data[end:]


def ticks(path: str, old: int, new: int) -> Edit:
    """Another length of every frame in a clip's time-to-sample box (ISO/IEC 14496-12 8.6.1.2)."""

    def edit(folder: Path) -> None:
        data = bytearray((folder / path).read_bytes())
        at = _boxes_to(data, STTS)[-1]
        count, known = struct.unpack_from(">LL", data, at + 16)
        if known != old:
            raise ValueError(f"{path}: {count} frames of {known} ticks, expected {old}")
        struct.pack_into(">L", data, at + 20, new)
        (folder / path).write_bytes(data)

    return edit


def runs(path: str, *wanted: tuple[int, int]) -> Edit:
    """Other runs (frames, ticks to the next) in the time-to-sample box of a clip, whose box and
    parents grow as needed; the media data lie before them, so that no offset moves.
    """

    def edit(folder: Path) -> None:
        data = bytearray((folder / path).read_bytes())
        chain = _boxes_to(data, STTS)
        start, length = chain[-1], struct.unpack_from(">L", data, chain[-1])[0]
        entries = b"".join(struct.pack(">LL", *one) for one in wanted)
        body = bytes(4) + struct.pack(">L", len(wanted)) + entries
        grown = len(body) + 8 - length
        data[start + 8 : start + length] = body
        for at in chain:
            struct.pack_into(">L", data, at, struct.unpack_from(">L", data, at)[0] + grown)
        (folder / path).write_bytes(data)

    return edit


STTS = (b"moov", b"trak", b"mdia", b"minf", b"stbl", b"stts")


def _boxes_to(data: bytearray, kinds: Sequence[bytes]) -> list[int]:
    """Where each box on the way to the last begins: 32-bit sizes, the first of each kind."""
    found: list[int] = []
    at, end = 0, len(data)
    for kind in kinds:
        while at < end:
            length, name = struct.unpack_from(">L4s", data, at)
            if name == kind:
                break
            at += length
        else:
            raise ValueError(f"no box {kind!r}")
        found.append(at)
        at, end = at + 8, at + length
    return found
