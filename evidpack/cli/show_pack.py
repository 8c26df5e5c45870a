"""What `evidpack show` prints of a pack: its statement, its exhibits, its files."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

from evidpack.cli.screen import megabytes, say
from evidpack.container import layout
from evidpack.errors import UsageError
from evidpack.limits import MAX_DISCLOSURE_STATEMENT_BYTES
from evidpack.model.values import JsonValue

if TYPE_CHECKING:
    from evidpack.container.archive import Archive
    from evidpack.proof.accounting import AccountingLine
    from evidpack.proof.disclosure_statement import DisclosureStatement

_NOTHING: Final = "nothing but its place and kind"


def pack_values(archive: Archive, entry: int | None) -> dict[str, JsonValue]:
    """The statement, every line of the accounting that says something of its entry, and, where one
    entry is asked for, its line and what is opened of it.

    Raises ProofError or ContainerError for anything but a pack of this format, UsageError where there
    is no entry of that number.
    """
    lines = _accounting(archive)
    exhibits: list[JsonValue] = [json.loads(line.to_bytes()) for line in lines if not line.neutral]
    return {
        "statement": json.loads(_statement(archive).to_bytes()),
        "exhibits": exhibits,
        "entry": None if entry is None else _one(archive, lines, entry),
    }


def print_pack(archive: Archive, entry: int | None) -> None:
    """The same for people. Raises as `pack_values`."""
    lines = _accounting(archive)
    if entry is not None:
        _print_entry(_one(archive, lines, entry), entry)
        return
    _print_statement(_statement(archive))
    say("Exhibits:")
    for line in sorted(lines, key=lambda line: line.exhibit or 0):
        if not line.neutral:
            say(
                f"{line.exhibit}: entry {line.entry}, {line.became.value}, {line.use}: "
                f"{line.description}",
                indent=2,
                hanging=4,
            )
    say(f"{sum(line.neutral for line in lines)} entries of which the pack says {_NOTHING}.")
    say()
    say(f"{len(archive.members)} files inside:")
    for member in archive.members:
        say(f"{megabytes(member.size):>10}  {member.name}", indent=2, hanging=12)


def _statement(archive: Archive) -> DisclosureStatement:
    from evidpack.proof.disclosure_statement import parse_disclosure_statement

    return parse_disclosure_statement(
        archive.read(layout.DISCLOSURE_STATEMENT, limit=MAX_DISCLOSURE_STATEMENT_BYTES),
        path=layout.DISCLOSURE_STATEMENT,
    )


def _accounting(archive: Archive) -> Sequence[AccountingLine]:
    from evidpack.proof.accounting import parse_accounting_line
    from evidpack.verifying.pack_contents import lines_of

    name = layout.DISCLOSURE_ACCOUNTING
    return [
        parse_accounting_line(line, path=name, number=number)
        for number, line in enumerate(lines_of(archive, name))
    ]


def _one(archive: Archive, lines: Sequence[AccountingLine], entry: int) -> dict[str, JsonValue]:
    """The line of one entry, and its opened values."""
    from evidpack.proof.pack_parts import parse_pack_opening
    from evidpack.verifying.pack_contents import lines_of

    if not 0 <= entry < len(lines):
        raise UsageError("there is no entry of that number", observed=str(entry))
    opened: Mapping[str, JsonValue] = {}
    name = layout.DISCLOSURE_OPENINGS
    for number, line in enumerate(lines_of(archive, name), start=1):
        opening = parse_pack_opening(line, path=name, number=number)
        if opening.entry == entry:
            opened = opening.values
    return {**json.loads(lines[entry].to_bytes()), "opened": dict(opened)}


def _print_entry(said: Mapping[str, JsonValue], entry: int) -> None:
    exhibit = "" if said["exhibit"] is None else f", exhibit {said['exhibit']}"
    say(f"Entry {entry}, {said['kind']}{exhibit}: {said['became']}. {said['description']}")
    say(f"Reason: {said['reason']}")
    opened, closed = said["opened"], said["closed"]
    if isinstance(opened, dict):
        for name, value in opened.items():
            say(f"{name}: {json.dumps(value, ensure_ascii=False)}", indent=2, hanging=4)
    if isinstance(closed, list) and closed:
        say(f"Closed: {', '.join(map(str, closed))}", hanging=2)


def _print_statement(statement: DisclosureStatement) -> None:
    say(f"Pack: {statement.pack}, issue {statement.issue}")
    say(f"Case: {statement.case}", hanging=2)
    say(f"To: {statement.recipient}", hanging=2)
    say(f"Decided by {statement.decided_by} on {statement.decided_at.isoformat()}", hanging=2)
    say(f"Day reference: {statement.day}")
    say(f"SHA-256 of the seal statement: {statement.origin.hex()}", hanging=2)
    if statement.previous is not None:
        say(f"Follows on the disclosure statement {statement.previous.hex()}", hanging=2)
    say(f"Claimed time: {statement.claimed_time.isoformat()}")
    say(f"Time stamp: {'must accompany it' if statement.time_stamp_required else 'none'}")
    if statement.verification is None:
        say("The discloser does not say that the bundle was verified before.")
    else:
        before = statement.verification
        say(
            f"The bundle was verified before, as the discloser says: “{before.verdict}” on "
            f"{before.at.isoformat()}, report with SHA-256 {before.report.hex()}",
            hanging=2,
        )
    counts = ", ".join(f"{count} {name}" for name, count in statement.accounting.items() if count)
    say(f"Entries: {counts}", hanging=2)
    say(
        "Made with: " + ", ".join(f"{name} {text}" for name, text in statement.versions.items()),
        hanging=2,
    )
    say()
