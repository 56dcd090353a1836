"""``ratoon new``: begin a mill, with a short mill file and all that it takes for granted."""

from __future__ import annotations

from dataclasses import asdict, replace
from pathlib import Path
from typing import Annotated, Any

import typer

from ratoon.base.errors import BadInput
from ratoon.cli import say


def new(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder to make for the mill.")],
    name: Annotated[str | None, typer.Option("--name", help="Name of the mill.")] = None,
    zone: Annotated[
        str | None, typer.Option("--zone", help="Time zone, such as Australia/Brisbane.")
    ] = None,
    altitude: Annotated[
        float | None, typer.Option("--altitude", metavar="M", help="Height above the sea.")
    ] = None,
    day_start: Annotated[
        str | None, typer.Option("--day-start", metavar="HH:MM", help="When the mill day starts.")
    ] = None,
    season_start: Annotated[
        str | None,
        typer.Option("--season-start", metavar="DATE", help="First mill day of the season."),
    ] = None,
    rate: Annotated[
        float | None, typer.Option("--rate", metavar="T/H", help="Usual crushing rate.")
    ] = None,
    mills: Annotated[
        int | None, typer.Option("--mills", metavar="N", help="Mills of the tandem.")
    ] = None,
    diffuser: Annotated[
        bool, typer.Option("--diffuser", help="A diffuser; --mills are those that dewater.")
    ] = False,
    effects: Annotated[
        int | None, typer.Option("--effects", metavar="N", help="Effects of the evaporator.")
    ] = None,
    grades: Annotated[
        str | None, typer.Option("--grades", metavar="A,B,C", help="Massecuites that are boiled.")
    ] = None,
    drives: Annotated[
        str | None, typer.Option("--drives", metavar="steam|electric", help="Drives of the mills.")
    ] = None,
    condensing: Annotated[
        bool, typer.Option("--condensing", help="There is a condensing set.")
    ] = False,
    no_ask: Annotated[
        bool, typer.Option("--no-ask", help="Take the default of what is not given.")
    ] = False,
    json: say.AsJson = False,
) -> int:
    """Begin a mill: write its folder with a short mill file, the rest by rule from its rate."""
    from ratoon.account.by_rate import Beginning
    from ratoon.jobs.keep.new import QUESTIONS, day_of, new_mill

    if folder.exists() or folder.is_symlink():  # before anything is asked
        raise BadInput("is there already", where=str(folder),
                       todo="Name a folder that is not there yet.")  # fmt: skip
    usual = Beginning(folder.resolve().name, "UTC")
    if diffuser or (not no_ask and mills is None and _yes("A diffuser in place of the first mills",
                                                          False)):  # fmt: skip
        usual = replace(usual, diffuser=True, mills=2)
    given: dict[str, Any] = {
        "name": name, "zone": zone, "altitude": altitude, "day_start": day_start, "rate": rate,
        "mills": mills, "effects": effects, "drives": drives, "season_start": season_start,
        "grades": grades,
    }  # fmt: skip
    asked = QUESTIONS | ({"mills": "Mills that dewater"} if usual.diffuser else {})
    for key, words in asked.items():
        default = getattr(usual, key)
        default = ",".join(default) if key == "grades" else "" if default is None else default
        if given[key] is None and not no_ask:
            given[key] = typer.prompt(words, default=default, err=True)
    if not condensing and not no_ask:
        condensing = _yes("A condensing set", False)
    said = {k: v for k, v in given.items() if v not in (None, "")}
    if "grades" in said:
        said["grades"] = "".join(x.strip() for x in str(said["grades"]).split(","))
    if "season_start" in said:
        said["season_start"] = day_of(str(said["season_start"]))
    made = new_mill(folder, replace(usual, condensing=condensing, **said))
    if json:
        say.answer_json(asdict(made))
        return say.DONE
    rows = [(t.address, f"{t.value:.4g} +- {t.sigma:.2g}", t.unit, t.why) for t in made.assumed]
    say.answer([
        f"{folder / 'mill.toml'}: {len(made.keys)} keys stated, {len(rows)} figures taken:", "",
        *say.table(("address or key", "value +- sigma", "unit", "why"), rows), "",
        "Next:",
        f"  ratoon book readings.xlsx --mill {folder}     a workbook to write a day's readings in",
        f"  ratoon import readings.xlsx --mill {folder}   then the day's account: ratoon day DATE",
        f"  ratoon missing DATE --mill {folder}           which reading to add next",
        f"  ratoon serve --mill {folder}                  the same in the browser",
    ])  # fmt: skip
    return say.DONE


def _yes(words: str, default: bool) -> bool:
    return typer.confirm(words, default=default, err=True)
