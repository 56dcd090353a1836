"""The list of commands, and the one place where errors become a line and an exit code."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from importlib import import_module

import typer

from ratoon.base.errors import RatoonError
from ratoon.cli import say

COMMANDS = {
    "demo": "pages.demo",
    "serve": "pages.serve",
    "new": "new.new",
    "import": "files.import_",
    "day": "days.day",
    "book": "entry.book",
    "fill": "entry.fill",
    "missing": "entry.missing",
    "week": "weeks.week",
    "try": "days.try_",
    "best": "best.best",
    "floor": "floor.floor",
    "boil": "boil.boil",
    "strikes": "strikes.strikes",
    "strike": "strikes.strike",
    "exhaustion": "exhaustion.exhaustion",
    "clean": "clean.clean",
    "season": "season.season",
    "stops": "ahead.stops",
    "fuel": "ahead.fuel",
    "bridge": "bridge.bridge",
    "slide": "slide.slide",
    "learn": "learn.learn",
    "actions": "actions.actions",
    "cane": "cane.cane",
    "yard": "yard.yard",
    "shed": "shed.shed",
    "refinery": "refinery.refinery",
    "lot": "lots.lot",
    "ledger": "lots.ledger",
    "pay": "pay.pay",
    "trace": "cane.trace",
    "correct": "cane.correct",
    "addresses": "mill.addresses",
    "openings": "openings.openings",
    "check": "checks.check",
    "work": "checks.work",
    "schema": "schema.schema",
    "doctor": "mill.doctor",
    "mill": "mill.mill_file",
    "people": "people.app",
    "backup": "backup.backup",
    "restore": "backup.restore",
}
"""Each command with its function, or its group of commands, in this room."""


def commands(asked: str = "") -> typer.Typer:
    """The program: of one command where it is asked for by its name, else of all.

    Looking at the options of every command takes longer than many a command itself.
    """
    made = typer.Typer(
        name="ratoon",
        help="A raw-sugar mill's whole account, from its own readings. It advises, never controls.",
        no_args_is_help=True,
        add_completion=False,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["--help", "-h"]},
    )
    made.callback()(ratoon)
    for name in [asked] if asked in COMMANDS else COMMANDS:
        module, _, what = COMMANDS[name].partition(".")
        found = getattr(import_module(f"ratoon.cli.{module}"), what)
        if isinstance(found, typer.Typer):
            made.add_typer(found, name=name)
        else:
            made.command(name)(found)
    return made


def _version(shown: bool) -> None:
    if shown:
        from ratoon import __version__

        say.answer([f"ratoon {__version__}"])
        raise typer.Exit


def ratoon(
    version: bool = typer.Option(
        False, "--version", help="Print the version.", callback=_version, is_eager=True
    ),
) -> None:
    """What all commands share."""


def run(arguments: Sequence[str] | None = None) -> int:
    """Run a command and give its exit code; never a traceback, unless RATOON_TRACE is set."""
    os.umask(0o077)  # records, sheets and exports are for the owner's eyes only
    try:
        given = list(sys.argv[1:] if arguments is None else arguments)
        code = commands(*given[:1])(args=given, prog_name="ratoon", standalone_mode=False)
        return int(code or say.DONE)
    except RatoonError as error:
        _traced(error)
        say.tell(error.line())
        return say.REFUSED
    except typer.TyperException as error:
        # without arguments the help itself is the message
        message = error.format_message()
        if type(error).__name__ == "NoArgsIsHelpError":
            sys.stderr.write(message + "\n")
        else:
            say.tell(message)
        return say.WRONG_USAGE
    except typer.Exit as error:
        return int(error.exit_code)
    except (KeyboardInterrupt, typer.Abort):
        say.tell("stopped")
        return 130
    except BrokenPipeError:
        # the reader of our answer has gone; keep the interpreter from writing to it again
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return say.REFUSED
    except MemoryError:
        say.tell("out of memory; nothing was stored half")
        return say.REFUSED
    except Exception as error:
        _traced(error)
        what = " ".join(str(error).split())[:300]
        say.tell(
            f"a fault of the program, not of your input: {type(error).__name__}: {what}."
            " Set RATOON_TRACE=1 and run it again to see where"
        )
        return say.REFUSED


def _traced(error: BaseException) -> None:
    if os.environ.get("RATOON_TRACE"):
        import traceback

        traceback.print_exception(error)
