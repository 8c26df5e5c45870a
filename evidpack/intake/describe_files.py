"""Which files belong together, what they are likely to be, and what their names say."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from evidpack.intake.describe_words import words_of
from evidpack.model.records import ItemKind

LOG_ENDINGS: Final = frozenset({"csv", "tsv", "json", "jsonl", "ndjson"})
_ENDINGS: Final[dict[str, ItemKind]] = {
    **dict.fromkeys(("jpg", "jpeg", "png", "tif", "tiff", "webp", "bmp"), ItemKind.STILL),
    **dict.fromkeys(
        ("mp4", "mov", "avi", "mkv", "m4v", "mpg", "mpeg", "ts", "mts", "webm", "wmv"),
        ItemKind.CLIP,
    ),
    **dict.fromkeys(("wav", "mp3", "m4a", "flac", "ogg", "opus"), ItemKind.AUDIO),
    **dict.fromkeys(LOG_ENDINGS, ItemKind.LOG),
    **dict.fromkeys(("pdf", "txt", "rtf", "doc", "docx", "odt", "md", "html"), ItemKind.DOCUMENT),
}
_CERTIFICATE_WORDS: Final = frozenset(
    {"certificate", "certificates", "cert", "calibration", "zertifikat", "eichschein", "certificat"}
)
_REPORT_WORDS: Final = frozenset(
    {"report", "reports", "bericht", "protokoll", "rapport", "informe"}
)
_RUN: Final = re.compile(r"\d+|[^\W\d_]+|[\W_]")


@dataclass(frozen=True, slots=True, kw_only=True)
class FileGroup:
    """Files of one folder with one ending. Paths are relative to the export."""

    folder: str
    ending: str
    kind: ItemKind
    sure: bool
    paths: tuple[str, ...]

    @property
    def glob(self) -> str:
        """A glob for the whole group."""
        inside = f"{self.folder}/" if self.folder else ""
        return f"{inside}*.{self.ending}" if self.ending else f"{inside}*"


@dataclass(frozen=True, slots=True, kw_only=True)
class NameGuess:
    """A name pattern, and how many digits an image number has (None where there is none)."""

    pattern: str
    image_digits: int | None


def group_files(paths: Iterable[str]) -> tuple[FileGroup, ...]:
    """The files by folder, ending and likely kind, in the order of their first path."""
    groups: dict[tuple[str, str, ItemKind, bool], list[str]] = {}
    for path in sorted(paths):
        folder, _, name = path.rpartition("/")
        ending = name.rpartition(".")[2].lower() if "." in name else ""
        kind, sure = _kind(path, ending)
        groups.setdefault((folder, ending, kind, sure), []).append(path)
    return tuple(
        FileGroup(folder=folder, ending=ending, kind=kind, sure=sure, paths=tuple(found))
        for (folder, ending, kind, sure), found in groups.items()
    )


def _kind(path: str, ending: str) -> tuple[ItemKind, bool]:
    kind = _ENDINGS.get(ending, ItemKind.DOCUMENT)
    if kind is ItemKind.DOCUMENT:
        words = set(words_of(path))
        if words & _CERTIFICATE_WORDS:
            return ItemKind.CERTIFICATE, False
        if words & _REPORT_WORDS:
            return ItemKind.REPORT, False
        return ItemKind.DOCUMENT, False
    return kind, True


def guess_name_pattern(names: Sequence[str], captures: Iterable[str]) -> NameGuess | None:
    """A pattern that fits the names of all files, or None.

    `captures` are identifiers seen in the logs: a name that holds one says where it stands.
    """
    split = [_RUN.findall(name.rpartition(".")[0]) for name in names]
    shapes = {tuple(run if not run.isdigit() else "0" for run in runs) for runs in split}
    if len(shapes) != 1 or not split:
        return None
    runs = split[0]
    digits = [number for number, run in enumerate(runs) if run.isdigit()]
    if not digits:
        return None
    span = _capture_span(split, frozenset(captures))
    later = [number for number in digits if span is None or number >= span[1]]
    image = later[-1] if later else None
    if span is None and len(digits) > 1:
        start = digits[0] - 1 if digits[0] and runs[digits[0] - 1].isalpha() else digits[0]
        span = (start, digits[0] + 1)
        image = digits[-1]
    ending = names[0].rpartition(".")[2]
    pattern = _pattern(split, span, image) + rf"\.{re.escape(ending)}"
    width = max(len(one[image]) for one in split) if image is not None else None
    return NameGuess(pattern=pattern, image_digits=width)


def _capture_span(
    split: Sequence[Sequence[str]], captures: frozenset[str]
) -> tuple[int, int] | None:
    """Which runs of every name, put together, are an identifier of a log."""
    count = len(split[0])
    for start in range(count):
        for end in range(count, start, -1):
            held = sum("".join(runs[start:end]) in captures for runs in split)
            if held and held * 2 >= len(split):
                return start, end
    return None


def _pattern(
    split: Sequence[Sequence[str]], span: tuple[int, int] | None, image: int | None
) -> str:
    parts: list[str] = []
    for number, run in enumerate(split[0]):
        if span is not None and number == span[0]:
            parts.append("(?P<capture>")
        part = re.escape(run) if not run.isdigit() else _digits([one[number] for one in split])
        parts.append(f"(?P<image_number>{part})" if number == image else part)
        if span is not None and number == span[1] - 1:
            parts.append(")")
    return "".join(parts)


def _digits(runs: Sequence[str]) -> str:
    widths = {len(run) for run in runs}
    return rf"\d{{{widths.pop()}}}" if len(widths) == 1 else r"\d+"
