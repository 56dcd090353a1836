"""``ratoon bridge``: are we on plan, and if not, what cost us what?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from ratoon.base.as_json import to_json
from ratoon.base.clock import parse_date
from ratoon.cli import say

if TYPE_CHECKING:
    from ratoon.plans.bridge.result import BridgeMade

Z95 = 1.96  # standard normal, 97.5 %


def bridge(
    from_: Annotated[
        str | None,
        typer.Option("--from", metavar="DATE", help="First mill day; the season's if left out."),
    ] = None,
    to: Annotated[
        str | None, typer.Option(metavar="DATE", help="Last mill day; the newest if left out.")
    ] = None,
    mill: say.MillDir = say.HERE,
    json: say.AsJson = False,
) -> int:
    """Are we on plan? From planned to actual sugar and money, cause by cause."""
    first, last = (None if d is None else parse_date(d) for d in (from_, to))
    from ratoon.jobs.mills import open_mill
    from ratoon.jobs.season.bridge import bridge_of

    with open_mill(mill) as opened:
        found = bridge_of(opened, first, last)
    if json:
        say.answer_json(to_json(found.bridge))
    else:
        say.answer(_in_words(found))
    return say.DONE


def _in_words(made: BridgeMade) -> list[str]:
    from ratoon.plans.bridge.result import MARGIN

    b = made.bridge
    rows = [("planned", f"{b.sugar.plan:,.0f}", "", f"{b.money.plan:,.0f}", "", "")]
    rows += [
        (s.cause, f"{s.sugar:+,.0f}", f"{Z95 * sigma:,.0f}", f"{s.money:+,.0f}",
         f"{Z95 * s.sigma:,.0f}", f"{s.shapley:+,.0f}")
        for s, sigma in zip(b.steps, made.sugar_sigma)
    ]  # fmt: skip
    rows.append(("actual", f"{b.sugar.actual:,.0f}", "", f"{b.money.actual:,.0f}", "", ""))
    lines = [f"{b.from_} to {b.to}, against the plan of {b.plan}; ± is 95 %", ""]
    lines += say.table(("cause", "sugar, t", "±", f"{MARGIN}, {b.currency}", "±", "by Shapley"),
                       rows, right="12345")  # fmt: skip
    costs = [(c.account, _money(c.plan), _money(c.actual), _money(c.per_t_cane, 2))
             for c in b.costs]  # fmt: skip
    lines += ["", *say.table((f"costs, {b.currency}", "plan", "actual", "per t cane"), costs,
                             right="123")]  # fmt: skip
    for of, (plan, actual) in (("cane", made.per_cane), ("sugar", made.per_sugar)):
        lines.append(f"All costs per tonne of {of}: planned {_money(plan, 2)},"
                     f" actual {_money(actual, 2)} {b.currency}")  # fmt: skip
    if made.ahead is not None:
        low, plan, middle, high = made.ahead.sugar
        against = "" if plan is None else f", planned {plan:,.0f} t"
        lines += ["", f"The whole season, forecast of {made.ahead.made}: sugar {middle:,.0f} t"
                      f" (90 %: {low:,.0f} to {high:,.0f}){against}"]  # fmt: skip
    else:
        lines += ["", "No forecast of the season is kept: ratoon season makes one."]
    return [*lines, "", *(f"{words[0].upper()}{words[1:]}." for words in made.words)]


def _money(value: float | None, decimals: int = 0) -> str:
    return "-" if value is None else f"{value:,.{decimals}f}"
