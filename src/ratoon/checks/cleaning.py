"""Textbook and trade cases of cleaning, put to the planner of cleans itself."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ratoon.checks.registry import choice, formula
from ratoon.plans.clean.programme import Cycle, Days, Question, Way, best_cycle, programme

Q = float
Floats = NDArray[np.float64]
LONGEST = 200e3  # s of boiling that are looked through
A_HUNDREDTH = 0.01  # of a day
MOST_HALVES = 200 * 48  # half hours that are looked ahead

_CASE = {
    "a": "", "b": "", "area": "m2", "dT": "K", "latent": "kJ/kg", "clean_s": "s",
    "shutdown_cost": "money", "boil_cost_per_ks": "money", "output": "text",
}  # fmt: skip


@formula("cleaning_cycle", "", **_CASE)
def _cycle(
    a: Q, b: Q, area: Q, dT: Q, latent: Q, clean_s: Q, shutdown_cost: Q, boil_cost_per_ks: Q,
    output: str,
) -> Q:  # fmt: skip
    """Scale by 1/U2 = a t + b [kW/m2.K, s] and cleaning: times, heat [kJ], mass, rates, costs.

    The boiling time is the one of most throughput, or of least cost for outputs that begin with
    "cheapest:"; both as the planner finds them, second by second.
    """

    def heat(t: Floats) -> Floats:
        return np.asarray((a * t + b) ** -0.5 * area * dT)

    if not (a > 0.0 and b > 0.0):
        return float("nan")
    boil = boil_cost_per_ks / 1000.0

    def costs(t: Floats) -> Floats:
        return np.full_like(t, -boil)

    cheap, _, what = output.rpartition(":")
    if cheap == "cheapest":
        found = best_cycle(costs, -shutdown_cost, 1.0, LONGEST, per=heat)
    else:
        found = best_cycle(heat, 0.0, 1.0, LONGEST, clean_per=clean_s)
    passed = float(heat(np.arange(0.5, found.time)).sum())
    kilojoules = latent / 1e3  # J/kg inside
    answers = {
        "time": found.time,
        "heat": passed,
        "mass": passed / kilojoules,
        "boiling_rate": passed / kilojoules / found.time,
        "mean_rate": passed / kilojoules / (found.time + clean_s),
        "cost": shutdown_cost + boil * found.time,
        "cost_per_mass": (shutdown_cost + boil * found.time) / (passed / kilojoules),
    }
    return float(choice("output", what, answers))


def _falling(loss_per_day: Q, clean_days: Q) -> Cycle:
    return best_cycle(lambda t: np.asarray(1.0 - loss_per_day * t), 0.0, A_HUNDREDTH,
                      1.0 / loss_per_day, clean_per=clean_days)  # fmt: skip


@formula("days_between_cleans", "", loss_per_day="", clean_days="")
def _days(loss_per_day: Q, clean_days: Q) -> Q:
    """Best days between cleans when the rate falls in a straight line."""
    return _falling(loss_per_day, clean_days).time


@formula("mean_rate_between_cleans", "%", loss_per_day="", clean_days="")
def _mean(loss_per_day: Q, clean_days: Q) -> Q:
    """Mean rate at the best interval between cleans."""
    return _falling(loss_per_day, clean_days).ratio


@formula("days_that_pay_a_stop", "", stop_h="", shortfall="")
def _days_that_pay(stop_h: Q, shortfall: Q) -> Q:
    """Fewest days, stop and all, in which the planner stops to clean a shortfall of rate away."""

    def money(ages: Sequence[Floats], new: Sequence[Floats], along: bool) -> Floats:
        return np.asarray(1.0 - shortfall * (1.0 - new[0]))

    def pays(halves: int) -> bool:
        whole, rest = divmod(halves / 2.0, 24.0)
        crush = np.array([24.0] * int(whole) + ([rest] if rest else []))
        days = Days(crush, np.zeros(len(crush)), np.zeros(len(crush)))
        return bool(programme(Question(money, [Way((0,), stop_h)], days, 1)).plan()[0])

    found = bisect_left(range(MOST_HALVES), True, key=pays)
    return found / 48.0 if 0 < found < MOST_HALVES else float("nan")
