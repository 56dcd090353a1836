"""``ratoon stops`` and ``ratoon fuel``: which day to stop, and whether the fuel lasts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from ratoon.base.clock import parse_date
from ratoon.cli import say

if TYPE_CHECKING:
    from ratoon.plans.season.fuel_answer import FuelAnswer
    from ratoon.plans.season.stops_answer import StopsAnswer

Morning = Annotated[
    str | None,
    typer.Argument(metavar="DATE", help="Morning of a mill day; after the newest if left out."),
]


def stops(
    date: Morning = None,
    fault: Annotated[
        str, typer.Option(metavar="STATION", help="A fault at a station: run, slow or stop?")
    ] = "",
    slow: Annotated[
        float | None, typer.Option(metavar="T/H", help="What the mill crushes if it runs slowly.")
    ] = None,
    repair: Annotated[
        float | None, typer.Option(metavar="H", help="Hours that the repair takes.")
    ] = None,
    worse: Annotated[
        str, typer.Option(metavar="CHANCE:H", help="Chance each day of waiting that it fails, and "
                          "the hours then: 2%:40.")
    ] = "",
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:  # fmt: skip
    """Which day to stop? The next planned stop on each day, by rules, and what a fault asks."""
    when = parse_date(date) if date is not None else None
    from ratoon.jobs.mills import open_mill
    from ratoon.jobs.season.stop_days import FaultAsked, stops_of

    with open_mill(mill) as opened:
        answer = stops_of(opened, when, FaultAsked(fault, slow, repair, worse))
    return say.result(answer, json, _stops)


def fuel(
    date: Morning = None, mill: say.MillDir = say.HERE, json: say.AsJson = False
) -> int:  # fmt: skip
    """Does the fuel last? The bagasse store through rain, stop, finish and the next start."""
    when = parse_date(date) if date is not None else None
    from ratoon.jobs.mills import open_mill
    from ratoon.jobs.season.fuel import fuel_of

    with open_mill(mill) as opened:
        answer = fuel_of(opened, when)
    return say.result(answer, json, _fuel)


def _stops(answer: StopsAnswer) -> list[str]:
    sign = answer.currency
    lines = [f"{answer.from_}  {answer.advice.what[:1].upper()}{answer.advice.what[1:]}"
             + (f": gains {sign}{answer.advice.gain:,.0f} +- {1.96 * answer.advice.sigma:,.0f}"
                if answer.advice.gain else "")]  # fmt: skip
    if answer.stop is not None:
        lines += [
            f"{answer.stop.cause}, {answer.stop.hours:g} h, planned for {answer.stop.date}",
            "",
        ]
        lines += say.table(
            ("day", "hours lost", "scale", "failure", "cane ages", "crew", f"money, {sign}", "+-"),
            [(d.date, f"{d.hours_lost:.1f}", _money(d.fouling), _money(d.risk), _money(d.age),
              _money(d.crew), f"{d.money:+,.0f}", f"{1.96 * d.sigma:,.0f}") for d in answer.days],
            right="1234567")  # fmt: skip
    if answer.rules:
        lines += ["", *say.table(("rule", f"money, {sign}", "+-"), [
            (r.rule, f"{r.money:+,.0f}", f"{1.96 * r.sigma:,.0f}") for r in answer.rules],
            right="12")]  # fmt: skip
    if answer.fault is not None:
        lines += ["", *say.table(("with the fault", f"money, {sign}", "+-"), [
            (c.choice, f"{c.money:+,.0f}", f"{1.96 * c.sigma:,.0f}") for c in answer.fault],
            right="12")]  # fmt: skip
    return [*lines, *(f"Lacking: {words}" for words in answer.lacking)]


def _money(value: float | None) -> str:
    return "-" if value is None else f"{value:,.0f}"


def _fuel(answer: FuelAnswer) -> list[str]:
    s = answer.store
    lines = [f"{answer.from_}  {s.value:,.0f} t in store, +- {1.96 * s.sigma:,.0f}, surveyed "
             f"{s.surveyed or 'never'}; an hour of crushing leaves {answer.net.value:.1f}"
             f" +- {1.96 * answer.net.sigma:.1f} {answer.net.unit}", "",
             *say.table(("case", "boilers", "lasts", "feeds, h", "stands, h", "short, t (95 %)"), [
                 (c.case, c.burn, f"{100 * c.lasts:.0f} %", _money(c.hours.q50),
                  _money(c.asks.q50), _money(c.short.q95)) for c in answer.cases],
                 right="2345"), ""]  # fmt: skip
    if answer.worth_t is not None:
        lines.append(f"Another tonne in store is worth {answer.currency}{answer.worth_t:.2f}.")
    return [*lines, *(f"{a.words}." for a in answer.advice),
            *(f"Lacking: {words}" for words in answer.lacking)]  # fmt: skip
