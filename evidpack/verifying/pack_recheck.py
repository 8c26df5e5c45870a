"""Step 8 of a pack: opened raw cells normalise to the opened values under the released profile."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from evidpack.container import layout
from evidpack.container.archive import Archive
from evidpack.errors import EvidpackError
from evidpack.intake.description import DayDescription
from evidpack.intake.intake import EXPORT, normalise_cells
from evidpack.intake.log_spec import LogSpec
from evidpack.intake.rows import RowReader
from evidpack.limits import MAX_DESCRIPTION_BYTES
from evidpack.model.fields import RecordKind
from evidpack.model.values import JsonValue
from evidpack.proof.canonical import canonical_bytes
from evidpack.proof.entries import RAW_PREFIX
from evidpack.proof.statement import SealStatement
from evidpack.verifying.pack_contents import PackContents, RevealedEntry
from evidpack.verifying.released_profile import PROFILE_SOURCES, profile_description
from evidpack.verifying.report import Fault, Step, StepOutcome, fault_from
from evidpack.verifying.versions import current_versions

_MAX_FAULTS: Final = 200
# What reading a cell depends on; other versions cannot explain a difference.
_VERSIONS: Final = ("evidpack", "tzdata")
# Values of a record that no cell gives.
_OWN: Final = frozenset({"record_kind", "source_entry", "source_line", "place"})


def recheck_pack(archive: Archive, contents: PackContents, origin: SealStatement) -> Step:
    """Normalise every revealed row again."""
    rows = [one for one in contents.revealed if _raw(one) and _kind(one) is not None]
    if not rows:
        return Step(
            number=8,
            outcome=StepOutcome.NOT_APPLICABLE,
            examined="no row of a log is revealed with its cells",
        )
    try:
        description = _released_profile(archive)
    except EvidpackError as error:
        return _unsettled("the released profile cannot be read", (fault_from(error, "profile"),))
    if description is None:
        return _unsettled(
            "no profile that describes the logs was released, so the revealed cells were not read "
            "again",
            (),
        )
    paths = {
        one.line.entry: str(one.opened["path"])
        for one in contents.revealed
        if one.line.kind == "file" and "path" in one.opened
    }
    faults = [fault for one in rows for fault in _differences(one, description, paths)]
    if not faults:
        return Step(
            number=8,
            outcome=StepOutcome.HOLDS,
            examined=f"{len(rows)} revealed rows: their opened cells give the opened values under "
            "the released profile. That the log says so rests on the discloser's verification of "
            "the bundle",
        )
    now = current_versions()
    if any(origin.versions.get(name) != now.get(name) for name in _VERSIONS):
        return _unsettled(f"{len(faults)} differences under other versions", tuple(faults))
    return Step(
        number=8,
        outcome=StepOutcome.FAILS,
        examined=f"{len(faults)} revealed values are not what the revealed cells give",
        faults=tuple(faults[:_MAX_FAULTS]),
        next_step="Ask the sealer's unit to explain the difference, and keep this file.",
    )


def _unsettled(examined: str, faults: tuple[Fault, ...]) -> Step:
    return Step(
        number=8,
        outcome=StepOutcome.NOT_ESTABLISHED,
        examined=f"{examined}; this does not touch the verdict on integrity",
        faults=faults[:_MAX_FAULTS],
        next_step="Ask the discloser to release the profile of the day.",
    )


def _released_profile(archive: Archive) -> DayDescription | None:
    return profile_description(
        {
            path: archive.read(layout.DATA + path, limit=MAX_DESCRIPTION_BYTES)
            for path in PROFILE_SOURCES
            if layout.DATA + path in archive
        }
    )


def _raw(one: RevealedEntry) -> dict[str, str]:
    return {
        name.removeprefix(RAW_PREFIX): value
        for name, value in one.opened.items()
        if name.startswith(RAW_PREFIX) and isinstance(value, str)
    }


def _kind(one: RevealedEntry) -> RecordKind | None:
    try:
        kind = RecordKind(str(one.opened.get("record_kind")))
    except ValueError:
        return None
    # An unreadable row has cells and, by what it is, no values.
    return None if kind is RecordKind.UNREADABLE else kind


def _differences(
    one: RevealedEntry, description: DayDescription, paths: Mapping[int, str]
) -> Iterator[Fault]:
    """A fault unless one of the ways to read the row gives the opened values."""
    kind = _kind(one)
    if kind is None:
        return
    source = one.opened.get("source_entry")
    path = paths.get(source) if isinstance(source, int) else None
    try:
        answers = _answers(description, kind, path, _raw(one))
    except EvidpackError as error:
        yield fault_from(error, f"entry {one.line.entry}")
        return
    shown = {
        name: value
        for name, value in one.opened.items()
        if name not in _OWN and not name.startswith(RAW_PREFIX)
    }
    whole = not one.closed and kind is not RecordKind.STILL
    if any(_agrees(answer, shown, whole=whole) for answer in answers):
        return
    yield Fault(
        item=f"entry {one.line.entry} ({kind.value})",
        message="the opened cells do not give the opened values under the released profile",
        expected=canonical_bytes(dict(answers[0])).decode()[:300]
        if answers
        else "a table that reads such a row",
        observed=canonical_bytes(shown).decode()[:300],
    )


def _answers(
    description: DayDescription, kind: RecordKind, path: str | None, raw: Mapping[str, str]
) -> list[Mapping[str, JsonValue]]:
    """The ways to read a row: of its file's tables where the file's name is opened, else of all
    tables for its kind."""
    if path is not None:
        return list(normalise_cells(description, kind, path, raw))
    if kind is RecordKind.STILL:
        return _answers_for_still(description, raw)
    found: list[Mapping[str, JsonValue]] = []
    for table in description.profile.tables:
        if isinstance(table, LogSpec) and table.record is kind:
            if table.where is not None and table.where.column in raw and not table.where.takes(raw):
                continue
            values, reasons = RowReader(table).values(raw, partly=True)
            if not reasons:
                found.append(values)
    return found


def _answers_for_still(
    description: DayDescription, raw: Mapping[str, str]
) -> list[Mapping[str, JsonValue]]:
    """A redacted still's name stays closed, so each table of stills could have been the one."""
    paths = [
        EXPORT + table.glob.text.replace("**/", "").replace("*", "x")
        for table in description.profile.tables
        if not isinstance(table, LogSpec)
    ]
    return [
        answer
        for path in paths
        for answer in normalise_cells(description, RecordKind.STILL, path, raw)
    ]


def _agrees(
    answer: Mapping[str, JsonValue], shown: Mapping[str, JsonValue], *, whole: bool
) -> bool:
    """Whether a reading gives the opened values; all of them where nothing is closed."""
    if whole and answer.keys() != shown.keys():
        return False
    return all(shown[name] == value for name, value in answer.items() if name in shown)
