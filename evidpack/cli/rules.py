"""evidpack rules: list, show or validate rule sets."""

from __future__ import annotations

from pathlib import Path

import click

from evidpack.cli.screen import say

_EXAMPLE = """\b
Example:
  evidpack rules show general > our-rules.toml
  evidpack rules validate our-rules.toml
"""


@click.group(name="rules", epilog=_EXAMPLE)
def command() -> None:
    """List, show or validate rule sets: the thresholds that checks use, each with its source."""


@command.command(name="list")
def list_sets() -> int:
    """The built-in rule sets."""
    from evidpack.rules.built_in import BUILT_IN, built_in
    from evidpack.rules.ruleset import load_rule_set

    for name in BUILT_IN:
        rules = load_rule_set(built_in(name), path=name)
        say(f"{name}: {rules.title} ({rules.edition})", hanging=4)
    return 0


@command.command(name="show")
@click.argument("name")
def show(name: str) -> int:
    """Print a built-in rule set, to be copied and edited."""
    from evidpack.rules.built_in import built_in

    click.echo(built_in(name), nl=False)
    return 0


@command.command(name="validate")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
def validate(file: Path) -> int:
    """Say whether FILE is a rule set that `check` and `seal` accept."""
    from evidpack.rules.ruleset import load_rule_set
    from evidpack.sealing.gather import rule_file

    rules = load_rule_set(rule_file(file).data, path=str(file))
    say(f"{file} is a valid rule set: {rules.title} ({rules.edition}), {len(rules.values)} values.")
    return 0
