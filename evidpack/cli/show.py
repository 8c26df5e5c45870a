"""evidpack show: what is inside a file, without a word about whether it is true."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, Final

import click

from evidpack.cli.pack_files import pack_passphrase_option, plain_file
from evidpack.cli.screen import megabytes, say, say_json
from evidpack.cli.show_pack import pack_values, print_pack
from evidpack.container import layout
from evidpack.container.zip_reader import read_archive
from evidpack.limits import MAX_STATEMENT_BYTES
from evidpack.model.values import JsonValue
from evidpack.proof.statement import SealStatement, parse_statement

if TYPE_CHECKING:
    from evidpack.container.archive import Archive

_NOT_VERIFIED: Final = "NOT VERIFIED: this is what the file says of itself. Use evidpack verify."
_EXAMPLE = """\b
Example:
  evidpack show demo/bundle.zip
  evidpack show demo/pack-open.zip --entry 0
"""


@click.command(name="show", epilog=_EXAMPLE)
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--entry", type=int, metavar="N", help="Show the opened values of entry N.")
@click.option("--json", "as_json", is_flag=True, help="The same facts for machines.")
@pack_passphrase_option
def command(file: Path, entry: int | None, as_json: bool, passphrase_file: Path | None) -> int:
    """Show what is inside FILE, a bundle or a pack. Nothing is verified."""
    from evidpack.verifying.any_file import is_pack

    with plain_file(file, passphrase_file) as plain:
        archive = read_archive(plain.stream, path=str(file))
        if is_pack(archive):
            _show_pack(file, archive, entry, as_json=as_json)
        else:
            _show_bundle(file, archive, entry, as_json=as_json)
    return 0


def _show_pack(file: Path, archive: Archive, entry: int | None, *, as_json: bool) -> None:
    if as_json:
        say_json({**_facts(file, archive), **pack_values(archive, entry)})
        return
    say(_NOT_VERIFIED)
    say()
    print_pack(archive, entry)


def _show_bundle(file: Path, archive: Archive, entry: int | None, *, as_json: bool) -> None:
    statement = parse_statement(
        archive.read(layout.STATEMENT, limit=MAX_STATEMENT_BYTES), path=layout.STATEMENT
    )
    opened = (
        None if entry is None else _opening(archive.open(archive.member(layout.OPENINGS)), entry)
    )
    if as_json:
        said = {"statement": json.loads(statement.to_bytes()), "entry": opened}
        say_json({**_facts(file, archive), **said})
        return
    say(_NOT_VERIFIED)
    say()
    if opened is not None:
        say(f"Entry {entry}, {statement.kind_at(entry or 0)}:")
        for name, value in opened.items():
            say(f"{name}: {json.dumps(value, ensure_ascii=False)}", indent=2, hanging=4)
        return
    _print_statement(statement)
    say(f"{len(archive.members)} files inside:")
    for member in archive.members:
        say(f"{megabytes(member.size):>10}  {member.name}", indent=2, hanging=12)


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


def _facts(file: Path, archive: Archive) -> dict[str, JsonValue]:
    """What both kinds of file have."""
    return {
        "verified": False,
        "file": str(file),
        "members": [{"name": member.name, "size": member.size} for member in archive.members],
    }
