"""Step 8: read the originals again, re-run the checks, and compare with what was sealed.

Under the same versions the result must be the same.  Under others a difference is listed, the
step is not established, and the verdict on integrity is untouched: an old bundle stays verifiable
as checks improve.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from evidpack.checks.registry import run_checks
from evidpack.container import layout
from evidpack.errors import EvidpackError
from evidpack.intake.intake import Intake, take_in, take_in_undescribed
from evidpack.intake.pixels import pixel_facts
from evidpack.limits import MAX_DESCRIPTION_BYTES, MAX_STILL_BYTES
from evidpack.model.findings import Finding
from evidpack.model.values import JsonValue
from evidpack.proof.canonical import canonical_bytes
from evidpack.proof.entries import ordered_records, record_values
from evidpack.proof.openings import parse_opening
from evidpack.proof.statement import SealStatement
from evidpack.rules.ruleset import RuleSet, load_rule_set
from evidpack.verifying.ledger_walk import LedgerWalk, SealedFile, split_lines
from evidpack.verifying.rebuilt_index import index_fault
from evidpack.verifying.report import Fault, Step, StepOutcome, fault_from
from evidpack.verifying.sealed_source import SealedSource
from evidpack.verifying.versions import current_versions

if TYPE_CHECKING:
    from evidpack.container.archive import Archive
    from evidpack.verifying.bundle import OpenedBundle

_MAX_FAULTS: Final = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class _Difference:
    """A difference, and whether versions other than the sealed ones could explain it."""

    fault: Fault
    explainable: bool


def recheck_bundle(opened: OpenedBundle) -> Step:
    """Step 8 for a bundle whose steps 3 and 4 hold."""
    statement, walk = opened.statement, opened.walk
    if statement is None or walk is None:
        raise ValueError("the re-check needs a ledger that holds")
    now = current_versions()
    others = {
        name: (sealed, now.get(name, "absent"))
        for name, sealed in statement.versions.items()
        if now.get(name) != sealed
    }
    differences = list(_differences(opened.archive, statement, walk, same=not others))
    faults = tuple(difference.fault for difference in differences[:_MAX_FAULTS])
    if not differences:
        stills = sum(sealed.pixel_root is not None for sealed in walk.files.values())
        return Step(
            number=8,
            outcome=StepOutcome.HOLDS,
            examined=f"{statement.entries['record']} records read again and {stills} stills decoded "
            f"again from the originals, {statement.entries['finding']} findings and the index made "
            "again: all as sealed",
        )
    if any(not difference.explainable for difference in differences):
        return Step(
            number=8,
            outcome=StepOutcome.FAILS,
            examined=f"{len(differences)} of the sealed records, findings, pictures or pages are not "
            "what the originals give",
            faults=faults,
            next_step="What was sealed says something else than the originals in the same bundle. "
            "Ask the sealer's unit to explain, and keep this file.",
        )
    listed = "; ".join(f"{name}: {was} then, {is_} here" for name, (was, is_) in others.items())
    return Step(
        number=8,
        outcome=StepOutcome.NOT_ESTABLISHED,
        examined=f"{len(differences)} differences under other versions ({listed}); this does not "
        "touch the verdict on integrity",
        faults=faults,
        next_step="To settle it, run verify with the versions that the seal statement names.",
    )


def _differences(
    archive: Archive, statement: SealStatement, walk: LedgerWalk, *, same: bool
) -> Iterator[_Difference]:
    try:
        intake, rules, findings = _read_again(archive, statement, walk)
    except EvidpackError as error:
        yield _Difference(fault=fault_from(error, layout.OFFICE_DAY), explainable=not same)
        return
    for fault in _compare_kinds(intake, walk):
        yield _Difference(fault=fault, explainable=not same)
    expected = _expected_values(intake, findings, walk)
    for fault in _compare_entries(archive, statement, expected):
        yield _Difference(fault=fault, explainable=not same)
    yield from _compare_pictures(archive, walk)
    of_index = index_fault(archive, statement, walk, intake, rules, findings)
    if of_index is not None:
        yield _Difference(fault=of_index, explainable=not same)


def _read_again(
    archive: Archive, statement: SealStatement, walk: LedgerWalk
) -> tuple[Intake, RuleSet | None, tuple[Finding, ...]]:
    export = SealedSource(archive, walk, "export")
    office = SealedSource(archive, walk, "office")
    if statement.rule_set_entry is None:
        intake = take_in_undescribed(
            export=export, office=office, reference=statement.day, now=statement.claimed_time
        )
        return intake, None, ()
    intake = take_in(export=export, office=office, now=statement.claimed_time)
    rules = load_rule_set(
        archive.read(layout.DATA + layout.OFFICE_RULES, limit=MAX_DESCRIPTION_BYTES),
        path=layout.OFFICE_RULES,
    )
    return intake, rules, run_checks(intake.day, rules)


def _compare_kinds(intake: Intake, walk: LedgerWalk) -> Iterator[Fault]:
    """What each file is, by the sealed description, against what its entry says."""
    for item in intake.items:
        sealed = walk.files[item.path]
        if sealed.item_kind != item.kind.value:
            yield Fault(
                item=layout.DATA + item.path,
                message="the description gives the file another kind than its entry says",
                expected=item.kind.value,
                observed=sealed.item_kind,
            )


def _expected_values(
    intake: Intake, findings: tuple[Finding, ...], walk: LedgerWalk
) -> Iterator[dict[str, JsonValue]]:
    """The values that the record and finding entries should have, in ledger order."""
    entry_of = {path: sealed.entry for path, sealed in walk.files.items()}
    for source_entry, record in ordered_records(intake.records, entry_of):
        yield record_values(record, source_entry=source_entry)
    for finding in findings:
        yield finding.to_values()


def _compare_entries(
    archive: Archive, statement: SealStatement, expected: Iterator[dict[str, JsonValue]]
) -> Iterator[Fault]:
    lines = split_lines(archive.open(archive.member(layout.OPENINGS)), path=layout.OPENINGS)
    for number, line in enumerate(lines):
        if number < statement.entries["file"]:
            continue
        kind = statement.kind_at(number)
        sealed = parse_opening(line, path=layout.OPENINGS, number=number).values
        again = next(expected, None)
        if again is None:
            yield Fault(
                item=f"entry {number} ({kind})",
                message="the originals do not give this entry",
                expected="nothing more",
                observed=_summary(sealed),
            )
        elif canonical_bytes(dict(sealed)) != canonical_bytes(again):
            names = sorted(
                name for name in sealed.keys() | again.keys() if sealed.get(name) != again.get(name)
            )
            yield Fault(
                item=f"entry {number} ({kind}: {_summary(sealed)})",
                message="the originals give other values for " + ", ".join(names)[:200],
                expected=_shown(again, names),
                observed=_shown(sealed, names),
            )
    left = sum(1 for _ in expected)
    if left:
        yield Fault(
            item=layout.LEDGER,
            message=f"the originals give {left} entries more than were sealed",
            expected=f"{statement.entry_count + left} entries",
            observed=str(statement.entry_count),
        )


def _summary(values: object) -> str:
    """A few words that name an entry: a check and its subject, or a kind and its line."""
    if not isinstance(values, dict):
        return ""
    if "check" in values:
        return f"check {values['check']}, {values.get('subject')}"
    return f"{values.get('record_kind')}, line {values.get('source_line')}"


def _shown(values: object, names: list[str]) -> str:
    shown = {name: values.get(name) for name in names} if isinstance(values, dict) else {}
    return canonical_bytes(shown).decode()[:300]


def _compare_pictures(archive: Archive, walk: LedgerWalk) -> Iterator[_Difference]:
    """Every still with a pixel root is decoded again, a few at a time on several threads."""
    stills = [sealed for sealed in walk.files.values() if sealed.pixel_root is not None]
    workers = os.cpu_count() or 1
    with ThreadPoolExecutor(max_workers=workers) as pool:
        for start in range(0, len(stills), 4 * workers):
            batch = stills[start : start + 4 * workers]
            for difference in pool.map(lambda still: _compare_picture(archive, still), batch):
                if difference is not None:
                    yield difference


def _compare_picture(archive: Archive, still: SealedFile) -> _Difference | None:
    name = layout.DATA + still.path
    try:
        facts = pixel_facts(archive.read(name, limit=MAX_STILL_BYTES), still.key, path=name)
    except EvidpackError as error:
        return _Difference(fault=fault_from(error, name), explainable=False)
    sealed = (still.pixel_root, still.width_px, still.height_px)
    if (facts.root, facts.width_px, facts.height_px) == sealed and facts.decoder == still.decoder:
        return None
    return _Difference(
        fault=Fault(
            item=name,
            message="the picture does not decode to the pixels that were committed",
            expected=f"{still.width_px} × {still.height_px}, root "
            f"{(still.pixel_root or b'').hex()}, {still.decoder}",
            observed=f"{facts.width_px} × {facts.height_px}, root {facts.root.hex()}, "
            f"{facts.decoder}",
        ),
        explainable=facts.decoder != still.decoder,
    )
