"""One future played day by day in plain Python, from the draws of its causes: no arrays of futures.

Written apart from the program's, which never steps through days: hours are used up one stretch
after another, as a clock would.
"""

from __future__ import annotations

from math import inf
from typing import Any

from ratoon.plans.season.futures import Draws, Fit

Future = dict[str, float]


def play(fit: Fit, draws: Draws, n: int) -> Future:
    """What comes of the `n`-th future: finish [days from now], cane [t], sugar [t], money."""
    one = _column(draws, n)
    standing = one["crop"]
    whole = fit.cane_now + standing
    slow = min(fit.tail_share * whole, standing)
    to_stop, lasts, kinds = one["gaps"][0], 0.0, iter(range(1, len(one["gaps"])))
    length, cane, sweet, late, finish = one["lengths"][0], 0.0, 0.0, 0.0, inf
    for day in range(fit.days):
        hours = max((24.0 - fit.planned[day]) * (1.0 - one["lost"][day]) - one["waits"][day], 0.0)
        run = 0.0
        while hours > 0.0:
            if lasts > 0.0:  # a stop holds the mill
                used = min(lasts, hours)
                lasts, hours = lasts - used, hours - used
                if lasts <= 0.0:
                    k = next(kinds, None)
                    to_stop, length = (inf, 0.0) if k is None else (
                        one["gaps"][k], one["lengths"][k])  # fmt: skip
                continue
            used = min(to_stop, hours)
            run, to_stop, hours = run + used, to_stop - used, hours - used
            if to_stop <= 0.0:
                lasts = length
        could = run / (1.0 + one["share"][day]) * one["rate"][day]
        quick = min(could, max(standing - cane - slow, 0.0))
        taken = min(quick + one["tail"] * (could - quick), standing - cane)
        if cane + taken >= standing - 1e-6:
            whole_day = quick + one["tail"] * (could - quick)
            finish = day + (taken / whole_day if whole_day > 0 else 0.0) if standing > 0 else 0.0
        cane += taken
        sweet += max(one["ccs"][day] - one["fall"] * one["wash"][day], 4.0) * taken
        late += max(day - fit.costs.ratoon_from, 0) * taken
        if finish < inf:
            break
    sugar = fit.sugar_now + sweet * one["recovery"] / 100.0
    until, c = min(finish, fit.days), fit.costs
    money = (c.sugar * sugar - c.cane * (fit.cane_now + cane) - c.hour * 24.0 * until
             - c.left * (standing - cane) - c.ratoon * late)  # fmt: skip
    return {"finish": finish, "cane": fit.cane_now + cane, "sugar": sugar, "money": money}


def _column(draws: Draws, n: int) -> dict[str, Any]:
    """The draws of one future, as plain numbers and lists of them."""
    lost, wash = draws["rain"]
    share, gaps, lengths = draws["stops"]
    rate, waits, tail = draws["rate"]
    content, fall, recovery = draws["ccs"]
    lists = {"lost": lost, "wash": wash, "share": share, "gaps": gaps, "lengths": lengths,
             "rate": rate, "waits": waits, "ccs": content}  # fmt: skip
    single = {"crop": draws["crop"][0], "tail": tail, "fall": fall, "recovery": recovery}
    return {k: v[:, n].tolist() for k, v in lists.items()} | {
        k: float(v[n]) for k, v in single.items()
    }
