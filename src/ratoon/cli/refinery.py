"""``ratoon refinery``: the refinery's year, of the mill's own records or of a problem's file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ratoon.base.clock import parse_date
from ratoon.cli import say
from ratoon.cli.ahead import Morning

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ratoon.plans.refinery.result import PricedLimit, RefineryAnswer, RefineryWeek


def refinery(
    date: Morning = None,
    case: Annotated[
        Path | None, typer.Option("--case", metavar="FILE", help="A problem, a JSON file.")
    ] = None,
    prices: Annotated[
        bool, typer.Option("--prices/--no-prices", help="Whether limits are priced.")
    ] = True,
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:
    """Will the refinery run? Make, haul, melt, pack and sell week by week, and limits' prices."""
    if case is not None:
        from ratoon.plans.refinery.plan import solve
        from ratoon.plans.refinery.reading import read_case

        answer = solve(read_case(say.case_text(case), case.name), prices=prices)
    else:
        when = parse_date(date) if date is not None else None
        from ratoon.jobs.mills import open_mill
        from ratoon.jobs.sugar.refinery import refinery_of

        with open_mill(mill) as opened:
            answer = refinery_of(opened, when, prices=prices)
    say.result(answer, json, _in_words)
    return say.DONE if answer.status == "best" else say.REFUSED


def _in_words(answer: RefineryAnswer) -> list[str]:
    if answer.money is None:
        return ["There is no plan. These limits contradict one another, and without any one of"
                " them there would be one:",
                *say.table(("limit", "holds", "is", "unit"), [
                    (x.name, f"at {x.side}", x.limit, x.unit) for x in answer.why_not],
                    right="2")]  # fmt: skip
    head = ("week", "made", "no room", "melted", "packed", "sold raw", "short", "raw in sheds")
    lines = [f"The best plan earns {answer.currency}{answer.money:,.0f}", "",
             *say.table(head, [_week(w) for w in answer.weeks], right="1234567")]  # fmt: skip
    if answer.limits:
        lines += ["", *_limits(answer.limits, answer.currency)]
    if answer.chance is not None and answer.spill is not None and answer.shortage is not None:
        lines += ["", *_chances(answer)]
    return [*lines, *(f"Lacking: {words}" for words in answer.lacking),
            "Advice only: contracts, local codes and licensed people decide."]  # fmt: skip


def _week(week: RefineryWeek) -> tuple[str, ...]:
    spilt = sum(h.t for h in week.haul if h.to == "no room")
    raw = sum(t for place, of in week.stock.items() if place != "refinery" for t in of.values())
    made = sum(t for of in week.make.values() for t in of.values())
    flows = (made, spilt, *(sum(of.values()) for of in (week.melt, week.pack, week.sell,
                                                        week.short)), raw)  # fmt: skip
    return week.start, *(f"{t:,.0f}" for t in flows)


def _limits(limits: Sequence[PricedLimit], currency: str) -> list[str]:
    return say.table(
        ("limit", "week", "is", "unit", f"{currency} gained by more room", "lost by less",
         "holds to"),
        [(x.name, x.week or "all", x.limit, x.unit, _money(x.price), _money(x.other_side),
          x.holds_to) for x in limits], right="2456")  # fmt: skip


def _money(value: float | None) -> str:
    return "no plan" if value is None else f"{value:,.2f}"


def _chances(answer: RefineryAnswer) -> list[str]:
    assert answer.chance is not None and answer.spill is not None and answer.shortage is not None
    rows = [("with the rule", answer.chance, answer.spill, answer.shortage)]
    if answer.rule and answer.without_rule is not None:
        plain = answer.without_rule
        rows.append(("plan as it is", plain.chance, plain.spill, plain.shortage))
    return say.table(
        ("", "full", "empty", "short", "spilt, t (95 %)", "short, t (95 %)"),
        [(name, *(f"{100 * c:.0f} %" for c in (chance.full, chance.empty, chance.short)),
          f"{spilt.q95:,.0f}", f"{short.q95:,.0f}") for name, chance, spilt, short in rows],
        right="12345")  # fmt: skip
