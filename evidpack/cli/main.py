"""The entry point: finds the command, and turns every error into a message and an exit code.

Nothing but click is imported until a command is chosen, so that ``--version`` and ``--help`` are
quick.  This is the one place where errors become exit codes.
"""

from __future__ import annotations

import gc
import importlib
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Final

from evidpack import __version__

if TYPE_CHECKING:
    import click

_EPILOG: Final = (
    "Checks organise evidence and are not legal advice. The device handbook, approval conditions, "
    "local codes and licensed practice come first."
)

_OBJECTS_BETWEEN_COLLECTIONS: Final = 200_000

# name: (module, what it does)
COMMANDS: Final = {
    "demo": ("demo", "Make an invented day, check it, seal it and index it."),
    "describe": ("describe", "Write a first day.toml from what is in an export."),
    "check": ("check", "Check a described day against a rule set."),
    "seal": ("seal", "Seal a day into a signed bundle."),
    "verify": ("verify", "Verify a bundle or a pack, step by step."),
    "decide": ("decide", "Draft decisions about every sealed entry, for a case."),
    "disclose": ("disclose", "Make a disclosure pack from decisions."),
    "open": ("open_pack", "Decrypt, verify and unpack a pack."),
    "compare": ("compare", "Compare two issues of a pack."),
    "redact": ("redact", "Preview a redaction of a still."),
    "releases": ("releases", "Show who was given what, when, acknowledged how."),
    "acknowledge": ("acknowledge", "Record that a pack was received."),
    "reader": ("reader", "Write the page that verifies bundles in a browser."),
    "show": ("show", "Show what is inside a file, without verifying it."),
    "key": ("key", "Make a signing key, or a demonstration authority."),
    "rules": ("rules", "List, show or validate rule sets."),
}


def main() -> None:
    """Run the command line and exit."""
    if sys.argv[1:] == ["--version"]:
        # The commonest thing that scripts ask; click would cost four times the start of Python.
        sys.stdout.write(f"evidpack {__version__}\n")
        sys.exit(0)
    sys.exit(_run())


def _run() -> int:
    import click

    from evidpack.errors import EvidpackError

    # Nearly all that a command makes it keeps until it ends: to look it through for cycles every few
    # hundred objects costs a fifth of a check.
    gc.set_threshold(_OBJECTS_BETWEEN_COLLECTIONS, 50, 50)
    try:
        with _stoppable():
            result = build_group().main(standalone_mode=False)
    except _StoppedError as stopped:
        sys.stderr.write(f"\nstopped ({stopped}): nothing half-made was left behind\n")
        return 128 + stopped.number
    except click.exceptions.Exit as error:
        return error.exit_code
    except click.ClickException as error:
        error.show()
        return 2
    except (click.Abort, KeyboardInterrupt):
        sys.stderr.write("\ninterrupted: nothing half-made was left behind\n")
        return 130
    except EvidpackError as error:
        from evidpack.cli.screen import complain

        complain(error)
        return 2
    except BrokenPipeError:
        # The reader of our output has gone (a pager, head): nothing more can be said to it.
        sys.stderr.close()
        return 141
    except OSError as error:
        from evidpack.cli.screen import complain_of_system

        complain_of_system(error)
        return 2
    return result if isinstance(result, int) else 0


class _StoppedError(BaseException):
    """The system asked this process to end.  No Exception, so that nothing takes it for a fault."""

    def __init__(self, number: int) -> None:
        super().__init__(signal.Signals(number).name)
        self.number = number


@contextmanager
def _stoppable() -> Iterator[None]:
    """A request to end (the computer shuts down, the terminal is closed) takes back what was begun,
    as an interrupt does."""

    def stop(number: int, _frame: object) -> None:
        raise _StoppedError(number)

    before = {}
    for name in ("SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)
        # What was set to be ignored (nohup) stays so.
        if number is not None and signal.getsignal(number) is signal.SIG_DFL:
            before[number] = signal.signal(number, stop)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def build_group() -> click.Group:
    """The click group that loads one command's module when that command is asked for."""
    import click

    class LazyGroup(click.Group):
        """Lists commands from COMMANDS and imports the one that is wanted."""

        def list_commands(self, ctx: click.Context) -> list[str]:
            del ctx
            return list(COMMANDS)

        def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
            del ctx
            if cmd_name not in COMMANDS:
                return None
            module = importlib.import_module(f"evidpack.cli.{COMMANDS[cmd_name][0]}")
            command: click.Command = module.command
            return command

        def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
            del ctx
            with formatter.section("Commands"):
                formatter.write_dl([(name, about) for name, (_, about) in COMMANDS.items()])

    group = LazyGroup(
        name="evidpack",
        help="Seal a day of roadside captures, verify the bundle, and prepare disclosure.",
        epilog=_EPILOG,
        context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    )
    return click.version_option(__version__, prog_name="evidpack", message="%(prog)s %(version)s")(
        group
    )


if __name__ == "__main__":
    main()
