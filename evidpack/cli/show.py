"""evidpack show: what is inside a file, without a word about whether it is true."""

from __future__ import annotations

import json
from pathlib import Path
from typing import BinaryIO

import click

from evidpack.cli.screen import megabytes, say, say_json
from evidpack.container import layout
from evidpack.container.zip_reader import read_archive
from evidpack.limits import MAX_STATEMENT_BYTES
from evidpack.model.values import JsonValue
from evidpack.proof.statement import SealStatement, parse_statement

_EXAMPLE = """\b
Example:
  evidpack show demo/bundle.zip
"""


@click.command(name="show", epilog=_EXAMPLE)
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--entry", type=int, metavar="N", help="Show the opened values of entry N.")
@click.option("--json", "as_json", is_flag=True, help="The same facts for machines.")
def command(file: Path, entry: int | None, as_json: bool) -> int:
    """Show what is inside FILE. Nothing is verified."""
    with file.open("rb") as stream:
        archive = read_archive(stream, path=str(file))
        statement = parse_statement(
            archive.read(layout.STATEMENT, limit=MAX_STATEMENT_BYTES), path=layout.STATEMENT
        )
        opened = (
            None
            if entry is None
            else _opening(archive.open(archive.member(layout.OPENINGS)), entry)
        )
        members = [(member.name, member.size) for member in archive.members]
    if as_json:
        say_json(_as_json(file, statement, members, opened))
        return 0
    say("NOT VERIFIED: this is what the file says of itself. Use evidpack verify.")
    say()
    if opened is not None:
        say(f"Entry {entry}, {statement.kind_at(entry or 0)}:")
        for name, value in opened.items():
            say(f"{name}: {json.dumps(value, ensure_ascii=False)}", indent=2, hanging=4)
        return 0
    _print_statement(statement)
    say(f"{len(members)} files inside:")
    for name, size in members:
        say(f"{megabytes(size):>10}  {name}", indent=2, hanging=12)
    return 0


def _opening(stream: BinaryIO, entry: int) -> dict[str, JsonValue]:
    from evidpack.errors import UsageError
    from evidpack.proof.openings import parse_opening
    from evidpack.verifying.ledger_walk import split_lines

    for number, line in enumerate(split_lines(stream, path=layout.OPENINGS)):
        if number == entry:
            return dict(parse_opening(line, path=layout.OPENINGS, number=number).values)
    raise UsageError("there is no entry of that number", observed=str(entry))


def _print_statement(statement: SealStatement) -> None:
    say(f"Day reference: {statement.day}")
    say(f"Claimed sealing time: {statement.claimed_time.isoformat()}")
    say(f"Time stamp: {'must accompany it' if statement.time_stamp_required else 'none'}")
    say("Entries: " + ", ".join(f"{count} {kind}" for kind, count in statement.entries.items()))
    say("Findings: " + ", ".join(f"{count} {name}" for name, count in statement.findings.items()))
    if statement.previous is not None:
        say(
            f"{statement.previous.relation} of the seal statement "
            f"{statement.previous.statement.hex()}: {statement.previous.reason}",
            hanging=2,
        )
    say(
        "Made with: "
        + ", ".join(
            f"{name} {text}" for name, text in statement.versions.items() if name != "checks"
        ),
        hanging=2,
    )
    say()


def _as_json(
    file: Path,
    statement: SealStatement,
    members: list[tuple[str, int]],
    opened: dict[str, JsonValue] | None,
) -> dict[str, JsonValue]:
    return {
        "verified": False,
        "file": str(file),
        "statement": json.loads(statement.to_bytes()),
        "members": [{"name": name, "size": size} for name, size in members],
        "entry": opened,
    }
