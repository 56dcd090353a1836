"""``ratoon season``: when do we finish, with how much cane and sugar, and what that hangs on."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from ratoon.base.as_json import to_json
from ratoon.base.clock import parse_date
from ratoon.cli import say

if TYPE_CHECKING:
    from ratoon.jobs.season.forecast import Scored
    from ratoon.plans.season.answer import SeasonForecast


def season(
    date: Annotated[
        str | None,
        typer.Argument(metavar="DATE", help="Morning of a mill day; after the newest if left out."),
    ] = None,
    futures: Annotated[
        int, typer.Option(metavar="N", help="Futures drawn, 100 to 1,000,000.")
    ] = 10_000,
    seed: Annotated[int, typer.Option(metavar="S", help="Seed of the draws.")] = 0,
    on: Annotated[
        str, typer.Option(metavar="ADDRESS", help="Scheduler of other machines, tcp:// or tls://.")
    ] = "",
    change: Annotated[
        list[str] | None,
        typer.Option(metavar="WHAT=VALUE", help="rate=+10, extraction=+1, crop=-5%, lost=+24, "
                     "close=DATE, stop=DATE:HOURS; may be repeated."),
    ] = None,
    scored: Annotated[
        bool, typer.Option("--scored", help="Kept forecasts against what came.")
    ] = False,
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:  # fmt: skip
    """When do we finish? Cane, sugar and money to come, with their spread and its causes."""
    when = parse_date(date) if date is not None else None
    from ratoon.jobs.mills import open_mill
    from ratoon.jobs.season.elsewhere import workers
    from ratoon.jobs.season.forecast import Asked, forecast_of
    from ratoon.jobs.season.forecast import scored as scores

    with open_mill(mill) as opened:
        if scored:
            told = scores(opened)
            return say.result(told, json, _scores)
        with workers(on, futures) as executor:
            asked = Asked(futures, seed, tuple(change or ()))
            found = forecast_of(opened, when, asked, executor)
        free = opened.mill.settings.season.hour_cost == 0.0
    if json:
        say.answer_json(to_json(found))
    else:
        say.answer(_in_words(found, free))
    return say.DONE


def _in_words(f: SeasonForecast, free_hours: bool) -> list[str]:
    from ratoon.plans.season.answer import MARGIN

    end = f.finish
    lines = [f"{f.from_}  {f.status}: finish {end.q50 or 'after the latest finish'}"
             f" (50 %: {end.q25 or '-'} to {end.q75 or '-'};"
             f" 90 %: {end.q05 or '-'} to {end.q95 or '-'}),"
             f" chance of cane left {100 * f.left_chance:.0f} %", ""]  # fmt: skip
    rows = [("crop, t", f.crop), ("cane, t", f.cane), ("cane left, t", f.cane_left),
            ("CCS, %", f.ccs), ("sugar, t", f.sugar), (f"{MARGIN}, {f.currency}", f.money),
            ("hours lost to rain from here", f.hours.rain),
            ("hours of stops from here", f.hours.stops)]  # fmt: skip
    lines += say.table(("", "5 %", "25 %", "middle", "75 %", "95 %"),
                       [(name, *(_figure(getattr(q, k), name)
                                 for k in ("q05", "q25", "q50", "q75", "q95")))
                        for name, q in rows], right="12345")  # fmt: skip
    if f.spread:
        lines += ["", "What the spread of the finish comes from: " + ", ".join(
            f"{s.cause} {100 * s.share:.0f} %" for s in f.spread
            if s.of == "finish" and s.share >= 0.005)]  # fmt: skip
    moved = [*f.worth, *([f.compared] if f.compared else [])]
    if moved:
        lines += ["", *say.table(
            ("if there were", "", "finish, d", "sugar, t", f"margin, {f.currency}"),
            [(w.what, w.unit, f"{w.finish_days:+.2f}", f"{w.sugar:+,.0f}", f"{w.money:+,.0f}")
             for w in moved], right="234")]  # fmt: skip
        if free_hours:
            lines += ["", "An hour lost puts off the same crop: its margin is what later CCS, cane"
                      " left and late cutting make of it. What the hour itself costs is not in it:"
                      " the mill file has no hour_cost under [season]."]  # fmt: skip
    return [*lines, *(f"Lacking: {words}" for words in f.lacking)]


def _figure(value: float | None, name: str) -> str:
    if value is None:
        return "-"
    return f"{value:.2f}" if name.lower().startswith("ccs") else f"{value:,.0f}"


def _scores(told: list[Scored]) -> list[str]:
    counted = [s for s in told if not s.hindsight]
    if not counted:
        return ["No kept forecast has a week that came since: each week's first forecast is kept."]
    held = [100 * sum(getattr(s, k) for s in counted) / len(counted) for k in ("held50", "held90")]
    return [f"{len(counted)} figures of weeks: the 50 % bands held {held[0]:.0f} %, the 90 % bands"
            f" {held[1]:.0f} %.", "", *say.table(
        ("forecast of", "week", "", "middle", "came", "in 90 %"),
        [(s.from_, s.week, s.what, _figure(s.q50, s.what), _figure(s.came, s.what),
          "yes" if s.held90 else "no")
         for s in counted], right="34")]  # fmt: skip
