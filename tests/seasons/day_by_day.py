"""One future drawn and played day by day in plain Python: no arrays of futures.

Written apart from the program's, which never steps through days: hours are used up one stretch
after another, as a clock would.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import exp, inf, log1p, sqrt
from random import Random
from typing import Any

from ratoon.plans.season.ccs import WASH_KEEPS, WASH_MM
from ratoon.plans.season.futures import Draws, Fit
from ratoon.plans.season.rain import TRACE

Future = dict[str, float]


def play(fit: Fit, draws: Draws, n: int) -> Future:
    """What comes of the `n`-th future: finish [days from now], cane [t], sugar [t], money."""
    return played(fit, _column(draws, n))


def played(fit: Fit, one: Mapping[str, Any]) -> Future:
    """What comes of one future's draws."""
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


def drawn(fit: Fit, rng: Random) -> dict[str, Any]:
    """One future's causes, number by number, by the same laws with its parameters at their means.

    Only for its time: a future draws as many numbers here as the program draws for each of its own,
    but for those of the parameters, which are one in a hundred.
    """
    r, g, m, c, stops = fit.rain, fit.ground, fit.rate, fit.curve, fit.stops
    after_dry, after_wet, mean = (a.tolist() for a in r.months.chances())
    shape, wet, washed, wetness = r.months.shape, r.wet_now, c.wash_now, 0.0
    point = g.points[rng.randrange(len(g.points))].tolist()
    level, often = (exp(one.centre()[0]) for one in (stops.share, stops.often))
    pace, slope = m.level.centre()[0], m.drift.centre()[0] / 150.0
    gamma, daily, keeps = rng.gammavariate, 1.0 / max(stops.daily**2, 1e-6), exp(-1.0 / m.memory)
    own, wander, new = rng.gauss(0.0, 0.2), m.last, m.wander * sqrt(1.0 - keeps**2)
    error, fresh = 0.0, c.noise * sqrt(1.0 - c.rho**2)
    figures, waited = c.mean.tolist(), m.no_cane.tolist()
    lists: dict[str, list[float]] = {k: [] for k in ("lost", "wash", "share", "rate", "waits",
                                                     "ccs")}  # fmt: skip
    for day, (month, basis) in enumerate(zip(r.month_of.tolist(), c.basis.tolist())):
        wet = rng.random() < (after_wet if wet else after_dry)[month]
        fell = TRACE + gamma(shape, mean[month] / shape) if wet else 0.0
        wetness = wetness * point[0] + fell
        lost = min(max((wetness - point[1]) / point[2], 0.0), 1.0)
        lost = lost * exp(own) + (rng.gauss(0.0, g.noise) if lost > 0 else 0.0)
        washed = WASH_KEEPS * washed + fell
        wander = keeps * wander + rng.gauss(0.0, new)
        if day % 7 == 0:
            error = c.rho * error + rng.gauss(0.0, fresh)
        lists["lost"].append(min(max(lost, 0.0), 1.0))
        lists["wash"].append(log1p(washed / WASH_MM))
        lists["share"].append(gamma(daily, level / daily))
        lists["rate"].append(exp(pace + wander + rng.gauss(0.0, m.scatter)
                                 + slope * (day + m.since)))  # fmt: skip
        lists["waits"].append(waited[rng.randrange(len(waited))])
        lists["ccs"].append(sum(a * b for a, b in zip(basis, figures)) + error)
    number = int(often * 24.0 * fit.days + 5 * sqrt(often * 24.0 * fit.days + 1)) + 2
    gaps = [rng.expovariate(often) for _ in range(number)]
    lengths = [rng.choice(stops.lengths) * exp(rng.gauss(0.0, 0.15)) for _ in range(number)]
    z = fit.zones
    crop = sum(max(e * exp(rng.gauss(0.0, 0.07)) - cut, 0.0)
               for e, cut in zip(z.estimate.tolist(), z.cut.tolist())) - z.since  # fmt: skip
    return lists | {"gaps": gaps, "lengths": lengths, "crop": max(crop, 0.0),
                    "tail": m.tail.centre()[0], "fall": c.fall[0],
                    "recovery": c.recovery.centre()[0]}  # fmt: skip


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
