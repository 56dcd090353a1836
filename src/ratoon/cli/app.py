"""The list of commands, and the one place where errors become a line and an exit code."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

import typer

from ratoon.base.errors import RatoonError
from ratoon.cli import (
    actions,
    ahead,
    backup,
    best,
    bridge,
    cane,
    checks,
    clean,
    days,
    files,
    floor,
    learn,
    mill,
    openings,
    pages,
    pay,
    people,
    say,
    schema,
    season,
    shed,
    slide,
    strikes,
    weeks,
    yard,
)

app = typer.Typer(
    name="ratoon",
    help="A raw-sugar mill's whole account, from its own readings. It advises, never controls.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["--help", "-h"]},
)
app.command("demo")(pages.demo)
app.command("serve")(pages.serve)
app.command("import")(files.import_)
app.command("day")(days.day)
app.command("week")(weeks.week)
app.command("try")(days.try_)
app.command("best")(best.best)
app.command("floor")(floor.floor)
app.command("strikes")(strikes.strikes)
app.command("strike")(strikes.strike)
app.command("clean")(clean.clean)
app.command("season")(season.season)
app.command("stops")(ahead.stops)
app.command("fuel")(ahead.fuel)
app.command("shed")(shed.shed)
app.command("bridge")(bridge.bridge)
app.command("slide")(slide.slide)
app.command("learn")(learn.learn)
app.command("actions")(actions.actions)
app.command("cane")(cane.cane)
app.command("yard")(yard.yard)
app.command("pay")(pay.pay)
app.command("trace")(cane.trace)
app.command("correct")(cane.correct)
app.command("addresses")(mill.addresses)
app.command("openings")(openings.openings)
app.command("check")(checks.check)
app.command("work")(checks.work)
app.command("schema")(schema.schema)
app.command("doctor")(mill.doctor)
app.command("mill")(mill.mill_file)
app.add_typer(people.app, name="people")
app.command("backup")(backup.backup)
app.command("restore")(backup.restore)


def _version(shown: bool) -> None:
    if shown:
        from ratoon import __version__

        say.answer([f"ratoon {__version__}"])
        raise typer.Exit


@app.callback()
def ratoon(
    version: bool = typer.Option(
        False, "--version", help="Print the version.", callback=_version, is_eager=True
    ),
) -> None:
    """What all commands share."""


def run(arguments: Sequence[str] | None = None) -> int:
    """Run a command and give its exit code; never a traceback, unless RATOON_TRACE is set."""
    os.umask(0o077)  # records, sheets and exports are for nobody's eyes but the owner's
    try:
        given = list(sys.argv[1:] if arguments is None else arguments)
        code = app(args=given, prog_name="ratoon", standalone_mode=False)
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
