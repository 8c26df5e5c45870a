"""A first day.toml from what is in an export: every guess marked, nothing decided."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Final

from evidpack.intake.describe_files import FileGroup, NameGuess, group_files, guess_name_pattern
from evidpack.intake.describe_logs import SAMPLE_BYTES, LogSample, look_at
from evidpack.intake.describe_table import propose_log
from evidpack.intake.folder_listing import disk_errors
from evidpack.intake.source import FileEntry, FileSource
from evidpack.intake.stills import StillError, StillHeader, read_header
from evidpack.intake.toml_text import guess, quoted
from evidpack.model.fields import RecordKind
from evidpack.model.records import ItemKind

_LOOKED_AT: Final = 12  # stills, and logs of one folder
_METER: Final = "meter"
_CAMERA: Final = "camera"
_VIDEO: Final = "video"

_HEAD: Final = """\
# A first description of a day, made from what is in the export.
# Each guess begins with the word confirm: Look it up, put what is right, take that word out.
# A day with a guess left in it is neither checked nor sealed.
format = "evidpack-day-1"

[day]
# Names the bundle and its top folder: letters, digits, hyphen and dot.
"""
_ZONE_NOTE: Final = (
    '# The zone that the clock was set to: an IANA name such as "Europe/London", "UTC", a fixed\n'
    '# offset such as "+01:00", or "" where nobody knows.\n'
)
_SESSIONS: Final = """
# One table for each set-up at one site. Times are in the zone of the day.
[[session]]
id = "S1"
meter = "confirm: serial number of the meter"
site = "confirm: identifier of the site"
start = "confirm: {date}T00:00:00"
end = "confirm: {date}T23:59:59"
operators = [{{ id = "confirm: identifier of the operator", role = "operator" }}]
"""


@dataclass(slots=True, kw_only=True)
class _Seen:
    """What has been learned of the export so far."""

    date: str | None = None
    logs: list[str] = field(default_factory=list)
    captures: set[str] = field(default_factory=set)
    has_readings: bool = False
    has_video: bool = False
    names: dict[str, NameGuess] = field(default_factory=dict)  # by glob
    image_digits: int | None = None
    has_named_captures: bool = False
    camera_times: int = 0
    camera_offsets: set[str] = field(default_factory=set)
    serials: set[str] = field(default_factory=set)


def propose_day(
    export: FileSource,
    *,
    reference: str,
    unit_name: str,
    export_path: str,
    unit_folder: str | None,
) -> str:
    """The text of a first day.toml. `export_path` and `unit_folder` are relative to it.

    Reads the beginnings of logs and the headers of some stills. Raises IntakeError where the
    export can't be read.
    """
    entries = {entry.path.removeprefix("export/"): entry for entry in export.entries()}
    groups = group_files(entries)
    seen = _Seen()
    for group in groups:
        if group.kind is ItemKind.LOG:
            _look_at_logs(group, entries, export, seen)
    _look_at_names(groups, seen)
    stills = [group for group in groups if group.kind is ItemKind.STILL]
    for path in _spread([path for group in stills for path in group.paths]):
        _look_at_still(entries[path], export, seen)
    items = [_items(group, seen) for group in groups if group.kind is not ItemKind.LOG]
    return "".join(
        (
            _day(seen, reference, unit_name, export_path, unit_folder),
            _clocks(seen, camera=bool(stills)),
            _counters(seen),
            *items,
            *seen.logs,
            _captures(seen, pictures=bool(stills)),
        )
    )


def _day(
    seen: _Seen, reference: str, unit_name: str, export_path: str, unit_folder: str | None
) -> str:
    day = seen.date or "YYYY-MM-DD"
    lines = [
        f"reference = {quoted(reference)}",
        f"unit = {quoted(unit_name)}",
        f"date = {guess(day)}",
        f'zone = {guess("UTC")}    # such as "Europe/London"',
        f"export = {quoted(export_path)}",
    ]
    if unit_folder is not None:
        lines.append(f"unit_folder = {quoted(unit_folder)}")
    return _HEAD + "\n".join(lines) + "\n" + _SESSIONS.format(date=day)


def _clocks(seen: _Seen, *, camera: bool) -> str:
    parts = ["\n", _ZONE_NOTE]
    names = {_METER: bool(seen.logs) or not camera, _CAMERA: camera, _VIDEO: seen.has_video}
    for name in (name for name, wanted in names.items() if wanted):
        if name == _CAMERA:
            parts.append(_camera_note(seen))
        parts.append(f'[[clock]]\nname = "{name}"\nzone = {guess("UTC")}\nresolution_s = 1\n\n')
    return "".join(parts)


def _camera_note(seen: _Seen) -> str:
    if not seen.camera_times:
        return "# No time was found in the EXIF data of the stills looked at.\n"
    offsets = ", ".join(sorted(seen.camera_offsets)) or "none"
    serials = ", ".join(quoted(serial) for serial in sorted(seen.serials)) or "none"
    return f"# EXIF of the stills looked at: offsets {offsets}; camera serials {serials}.\n"


def _counters(seen: _Seen) -> str:
    if seen.image_digits is None:
        return ""
    modulus = 10 ** min(seen.image_digits, 9)
    return (
        "# Where image numbers start again, and with which number.\n"
        f'[[counter]]\nname = "image"\nmodulus = {guess(str(modulus))}\nfirst = {guess("1")}\n\n'
    )


def _items(group: FileGroup, seen: _Seen) -> str:
    kind = quoted(group.kind.value) if group.sure else guess(group.kind.value)
    lines = [
        f"# {len(group.paths)} file(s)",
        "[[items]]",
        f"glob = {quoted(group.glob)}",
        f"kind = {kind}",
    ]
    if group.kind is ItemKind.STILL:
        lines.append(f'clock = "{_CAMERA}"')
    found = seen.names.get(group.glob)
    if found is not None:
        if found.image_digits is not None and group.kind is ItemKind.STILL:
            lines.append('counter = "image"')
        lines.append(f"name_pattern = {guess(found.pattern)}")
    return "\n".join(lines) + "\n\n"


def _look_at_names(groups: Iterable[FileGroup], seen: _Seen) -> None:
    for group in groups:
        if group.kind not in (ItemKind.STILL, ItemKind.CLIP):
            continue
        names = [path.rpartition("/")[2] for path in group.paths]
        found = guess_name_pattern(names, seen.captures)
        if found is None:
            continue
        seen.names[group.glob] = found
        seen.has_named_captures |= "<capture>" in found.pattern
        if found.image_digits is not None and group.kind is ItemKind.STILL:
            seen.image_digits = max(found.image_digits, seen.image_digits or 0)


def _captures(seen: _Seen, *, pictures: bool) -> str:
    if not (seen.has_readings and pictures):
        return ""
    note = (
        "# How readings, stills and clips belong together: identifier, file-name or nearest-time.\n"
    )
    if seen.has_named_captures:
        return f"{note}[captures]\njoin = {guess('identifier')}\n"
    return f"{note}[captures]\njoin = {guess('nearest-time')}\nwithin_s = {guess('2.0')}\n"


def _look_at_logs(
    group: FileGroup, entries: dict[str, FileEntry], export: FileSource, seen: _Seen
) -> None:
    """Proposes a table for each shape of log in a folder."""
    shapes: dict[object, list[tuple[str, LogSample]]] = {}
    unread: list[str] = []
    for path in group.paths if len(group.paths) <= _LOOKED_AT else _spread(group.paths):
        sample = _sample(entries[path], group.ending, export)
        if sample is None:
            unread.append(path)
        else:
            shapes.setdefault(_shape_key(sample), []).append((path, sample))
    for found in shapes.values():
        alone = len(shapes) > 1 or bool(unread)
        for glob in [path for path, _ in found] if alone else [_log_glob(group)]:
            _propose(found[0][1], glob, seen)
    for path in unread:
        seen.logs.append(
            f'# How this file is made up could not be told.\n[[items]]\nglob = {quoted(path)}\nkind = "log"\n\n'
        )


def _shape_key(sample: LogSample) -> object:
    # Objects may leave members out, so the columns of JSON do not tell shapes apart.
    return sample.shape if sample.format == "csv" else sample.shape[:4]


def _log_glob(group: FileGroup) -> str:
    return group.paths[0] if len(group.paths) == 1 else group.glob


def _propose(sample: LogSample, glob: str, seen: _Seen) -> None:
    found = propose_log(sample, glob=glob, clock=_METER, video_clock=_VIDEO)
    seen.logs.append(found.text + "\n")
    seen.date = seen.date or found.day
    seen.has_video |= found.kind is RecordKind.FRAME_TIME
    if found.kind is RecordKind.READING:
        seen.has_readings = True
        if found.capture is not None:
            seen.captures.update(sample.cells(found.capture))


def _sample(entry: FileEntry, ending: str, export: FileSource) -> LogSample | None:
    limit = SAMPLE_BYTES * 16 if ending == "json" else SAMPLE_BYTES
    with disk_errors(entry.path), export.open(entry.path) as stream:
        data = stream.read(limit)
    return look_at(data, ending=ending, whole=entry.size <= limit)


def _look_at_still(entry: FileEntry, export: FileSource, seen: _Seen) -> None:
    header: StillHeader | None = None
    with disk_errors(entry.path), export.open(entry.path) as stream:
        try:
            header = read_header(stream, size=entry.size)
        except StillError:
            return
    time = header.tags.get("DateTimeOriginal", "")
    if time[:4].isdigit():
        seen.camera_times += 1
        seen.date = seen.date or time[:10].replace(":", "-")
    if offset := header.tags.get("OffsetTimeOriginal", "").strip():
        seen.camera_offsets.add(offset)
    if serial := header.tags.get("BodySerialNumber", "").strip():
        seen.serials.add(serial)


def _spread(paths: Sequence[str] | Iterable[str]) -> list[str]:
    """Some of many paths, from the first to the last."""
    found = list(paths)
    step = max(1, len(found) // _LOOKED_AT)
    return found[::step][:_LOOKED_AT]
