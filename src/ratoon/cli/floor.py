"""``ratoon floor``: which strike starts when in which pan, of the mill or of a problem's file."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ratoon.base.as_json import to_json
from ratoon.base.errors import BadInput
from ratoon.cli import say

if TYPE_CHECKING:
    from ratoon.plans.floor.result import FloorResult, HighestRate


def floor(
    case: Annotated[
        Path | None, typer.Option("--case", metavar="FILE", help="A problem, a TOML file.")
    ] = None,
    start: Annotated[
        str, typer.Option("--from", metavar="TIME", help="Mill's time; the newest strike's else.")
    ] = "",
    hours: Annotated[float, typer.Option(metavar="N", help="How far ahead, to 72.")] = 48.0,
    rate: Annotated[
        float | None, typer.Option(metavar="TPH", help="Cane crushed; mill.toml's else.", min=1.0)
    ] = None,
    lost: Annotated[
        list[str] | None,
        typer.Option(metavar="PAN[=HOURS]", help="A pan out of use, to the end or for so long."),
    ] = None,
    highest: Annotated[
        bool, typer.Option("--highest-rate", help="The most cane that the floor takes.")
    ] = False,
    limit: Annotated[
        float, typer.Option(metavar="SECONDS", help="Longest to search.", min=0.1, max=86_400.0)
    ] = 60.0,
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:
    """Which pan next? The strikes that keep pans, tanks and steam within their limits."""
    from ratoon.plans.floor.reading import read_case
    from ratoon.plans.floor.search import plan_floor
    from ratoon.plans.floor.words import slows_words

    if case is not None:
        result = plan_floor(read_case(say.case_text(case), case.name), limit)
        told, begins, likely = to_json(result), "", None
    else:
        from ratoon.jobs.mills import open_mill
        from ratoon.jobs.strikes.floor import (
            FloorAsked,
            highest_rate,
            plan_of,
            slows_of,
            with_clock,
        )

        with open_mill(mill) as opened:
            calendar = opened.mill.calendar
            at = calendar.read(start) if start else None
            asked = FloorAsked(at, hours, rate, _lost(lost or [], hours), limit)
            if highest:
                return _highest(highest_rate(opened, asked), json)
            result, at = plan_of(opened, asked)
            told = with_clock(opened.mill, result, at)
            likely = None if json else slows_of(opened, replace(asked, at=at), result)
            begins = f"Hours count from {calendar.to_local(at):%Y-%m-%d %H:%M}."
    if json:
        say.answer_json(told)
    else:
        chance = ["", f"Chance of holding liquor back: {slows_words(likely)}."] if likely else []
        say.answer([*([begins] if begins else []), *_in_words(result), *chance])
    return say.DONE if result.status in ("optimal", "feasible") else say.REFUSED


def _lost(given: list[str], hours: float) -> dict[str, float]:
    """Pans out of use, and for how long."""
    found = {}
    for one in given:
        name, _, length = one.partition("=")
        try:
            found[name] = float(length) if length else hours
        except ValueError:
            found[name] = -1.0
        if not 0.0 < found[name] <= hours:
            raise BadInput("is no number of hours", where="--lost", value=one,
                           allowed=f"PAN, or PAN=HOURS up to {hours:g}")  # fmt: skip
    return found


def _highest(found: HighestRate, json: bool) -> int:
    if json:
        say.answer_json(to_json(found))
        return say.DONE
    lines = [f"The floor takes {found.rate:.0f} t/h without holding liquor back."]
    if found.refused is not None:
        names = ", ".join(found.without) or "(it was not settled what)"
        lines.append(f"At {found.refused:.0f} t/h there is no plan: {names}")
    if not found.settled:
        lines.append("At some rate time ran out: allow more with --limit.")
    say.answer(lines)
    return say.DONE


def _in_words(result: FloorResult) -> list[str]:
    if result.status == "unknown":
        return [f"No plan was found in {result.seconds:.0f} s, nor that there is none."
                " Allow more with --limit, or a coarser step."]  # fmt: skip
    if result.status == "infeasible":
        names = ", ".join(result.without) or "(time ran out before it was settled which)"
        return ["There is no plan. These limits contradict one another, and without any one of"
                f" them there would be one: {names}"]  # fmt: skip
    proved = "proved best" if result.status == "optimal" else "not proved best"
    lines = [f"A plan, {proved}, in {result.seconds:.1f} s", ""]
    if result.aims:
        rows = [(a.aim, a.value, a.bound, a.status) for a in result.aims]
        lines += [*say.table(("aim", "reached", "no plan passes", ""), rows, right="12"), ""]
    rows_ = [(s.pan, s.task, f"{s.start:g}", f"{s.end:g}") for s in result.strikes]
    lines += say.table(("pan", "strike", "from h", "to h"), rows_, right="23")
    levels = [
        (name, min(x for _, x in line), max(x for _, x in line), line[-1][1])
        for name, line in result.stores.items()
    ]
    lines += ["", *say.table(("store", "least", "most", "at the end"), levels, right="123")]
    if result.chokes:
        touched = ", ".join(f"{c.what} at {c.at:g} h" for c in result.chokes)
        lines += ["", f"Limits reached: {touched}"]
    return [*lines, "", "Advice only: the site's procedures decide what is started and when."]
