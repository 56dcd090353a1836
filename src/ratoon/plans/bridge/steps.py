"""From plan to actual cause by cause: in one fixed order, and by Shapley beside it.

The order is that of the sugar: cane, rate, hours by cause, CCS, fibre, extraction, losses of the
boiling house, sugar for each CCS, stock; then prices and costs. Each cause moves its factor from
planned to actual with those before it moved and those after it not. Shapley's value of a cause is
the mean of what it moves over all orders of the factors; where a factor is a sum (hours, losses,
costs) its parts share its value in proportion, which is exact as money is linear in each.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ratoon.plans.bridge.factors import (
    LOSSES,
    MEASURED,
    Came,
    Floats,
    both,
    losses_of,
    money_of,
    sugar_of,
)
from ratoon.plans.bridge.planned import Planned
from ratoon.plans.bridge.result import Group, Step

ORDER = ("gap", "rate", "hours", "ccs", "on_fibre", "lost_juice", "lost", "per_ccs", "stock",
         "sugar_price", "cane_price", "other")  # fmt: skip
NAMES = {
    "gap": "cane", "rate": "rate", "ccs": "CCS", "on_fibre": "fibre", "lost_juice": "extraction",
    "per_ccs": "sugar for each CCS", "stock": "stock in process", "sugar_price": "price of sugar",
    "cane_price": "price of cane",
}  # fmt: skip
PARTED = {"hours": "hours: ", "lost": "loss: ", "other": "cost: "}
WHOLE = {"hours": "hours", "lost": "losses of the boiling house", "other": "other costs"}
LOST = {"known": "inversion, entrainment"}
ALLOWED, REST = "allowed in the plan", "not told by cause"
LEAST = 1e-9  # of a factor's part below which there is no step
BITS = 49
"""Steps are told to 2^-49 of the largest sum, so that they add up to the last bit."""
NUDGE = 1e-4
"""Share of an uncertainty by which a figure is moved to see what hangs on it."""

Move = tuple[str, str, float]
"""Cause, factor, and by how much the factor moves."""


@dataclass(frozen=True, slots=True)
class Bridged:
    """Sugar [t] and money, each planned and actual, and the steps that join them exactly.

    `sugar_money`: what the sugar alone brings. `sugar_sigma`: standard uncertainty of the sugar of
    each step [t].
    """

    sugar: tuple[float, float]
    money: tuple[float, float]
    sugar_money: tuple[float, float]
    steps: tuple[Step, ...]
    sugar_sigma: tuple[float, ...]
    groups: tuple[Group, ...]


def bridged(plan: Planned, came: Came) -> Bridged:
    """From plan to actual. What came is as sure as the account tells; plan and prices are exact."""
    before, after = both(plan, came)
    moves = list(_moves(plan, came, before, after))
    sugar, money = (_told(x) for x in _along(before, moves))
    by_shapley = _closed(_shapley(before, after, moves), money)
    slopes = _slopes(plan, came, [m[0] for m in moves])
    sugar_sigma, money_sigma = _sigmas(slopes, came)
    made = tuple(
        Step(cause, float(sugar[n + 1] - sugar[n]), float(money[n + 1] - money[n]),
             money_sigma[n], by_shapley[n])
        for n, (cause, _, _) in enumerate(moves)
    )  # fmt: skip
    (s0, s1), (m0, m1) = ((float(x[0]), float(x[-1])) for x in (sugar, money))
    sold = (before["sugar_price"] * s0, after["sugar_price"] * s1)
    groups = tuple(_groups(made, [m[1] for m in moves], slopes, came))
    return Bridged((s0, s1), (m0, m1), sold, made, tuple(sugar_sigma), groups)


def _groups(
    made: Sequence[Step], factors: Sequence[str], slopes: Floats, came: Came
) -> Iterator[Group]:
    """The steps of each factor together; their uncertainty is not the root of the squares."""
    for factor in dict.fromkeys(factors):
        at = [n for n, own in enumerate(factors) if own == factor]
        mine = [made[n] for n in at]
        (sugar,), (money,) = _sigmas(slopes[:, at].sum(axis=1, keepdims=True), came)
        yield Group(NAMES.get(factor) or WHOLE[factor], at[0], len(at), sum(s.sugar for s in mine),
                    sugar, sum(s.money for s in mine), money,
                    sum(s.shapley for s in mine))  # fmt: skip


def _moves(
    plan: Planned, came: Came, before: Mapping[str, float], after: Mapping[str, float]
) -> Iterator[Move]:
    for factor in ORDER:
        parts = list(_parts(factor, plan, came, before, after))
        whole = after[factor] - before[factor]
        rest = whole - sum(by for _, by in parts)
        least = LEAST * max(abs(before[factor]), abs(after[factor]), 1e-12)
        if not parts and abs(whole) > least:
            yield NAMES.get(factor) or WHOLE[factor], factor, whole
            continue
        for name, by in parts:
            if by:
                yield PARTED[factor] + name, factor, by
        if parts and abs(rest) > least:
            yield PARTED[factor] + REST, factor, rest


def _parts(
    factor: str, plan: Planned, came: Came, before: Mapping[str, float], after: Mapping[str, float]
) -> Iterator[tuple[str, float]]:
    """The parts of a factor that is a sum, as what the plan allows and each that came."""
    if factor == "hours" and before["hours"] != after["hours"]:
        yield ALLOWED, came.gross - before["hours"]
        yield from ((cause, -lost) for cause, lost in came.lost.items())
    elif factor == "lost" and plan.recovery is not None:
        losses = losses_of(came.figures)
        if losses:
            yield ALLOWED, -before["lost"]
            yield from ((LOST.get(name, name), losses[name]) for name in LOSSES)
    elif factor == "other" and came.costs and plan.other_cost is not None:
        yield ALLOWED, -plan.other_cost
        yield from came.costs.items()


def _along(before: Mapping[str, float], moves: Sequence[Move]) -> tuple[Floats, Floats]:
    """Sugar and money before the first move and after each."""
    here, path = dict(before), [dict(before)]
    for _, factor, by in moves:
        here[factor] += by
        path.append(dict(here))
    sugar, money = (np.array([f(x) for x in path]) for f in (sugar_of, money_of))
    return sugar, money


def _told(values: Floats) -> Floats:
    """Values on a grid so fine that no digit of worth is lost and sums of differences are exact."""
    most = float(np.max(np.abs(values)))
    grid = 2.0 ** (math.ceil(math.log2(most)) - BITS) if most > 0.0 else 1.0
    return np.asarray(np.round(values / grid) * grid)


def _shapley(
    before: Mapping[str, float], after: Mapping[str, float], moves: Sequence[Move]
) -> list[float]:
    """Shapley's value of each move [money], over all sets of the factors that move."""
    players = list(dict.fromkeys(factor for _, factor, _ in moves))
    n = len(players)
    inside = (np.arange(2**n)[:, None] >> np.arange(n)) & 1 == 1
    sizes = inside.sum(axis=1)
    weights = np.array([math.factorial(k) * math.factorial(n - k - 1) / math.factorial(n)
                        if k < n else 0.0 for k in range(n + 1)])[sizes]  # fmt: skip
    state = {k: np.full(2**n, before[k]) for k in before}
    for i, player in enumerate(players):
        state[player] = np.where(inside[:, i], after[player], before[player])
    each = {}
    for i, player in enumerate(players):
        out = ~inside[:, i]
        held = {k: v[out] for k, v in state.items()}
        low, high = ({**held, player: held[player] + by} for by in (0.0, 1.0))
        # linear in each factor: what one unit moves, times how far it moves
        slope = money_of(high) - money_of(low)
        each[player] = float(np.sum(weights[out] * slope))
    return [each[factor] * by for _, factor, by in moves]


def _closed(values: list[float], money: Floats) -> list[float]:
    """Shapley's values on the grid of the money; what rounding leaves goes to the largest."""
    if not values:
        return []
    grid = 2.0 ** (math.ceil(math.log2(max(float(np.max(np.abs(money))), 1e-300))) - BITS)
    told = [round(v / grid) * grid for v in values]
    largest = max(range(len(told)), key=lambda n: abs(told[n]))
    told[largest] += float(money[-1] - money[0]) - sum(told)
    return told


def _sigmas(slopes: Floats, came: Came) -> tuple[list[float], list[float]]:
    """Standard uncertainties of sugar and money by the account's covariance."""
    if came.covariance is None:
        return [0.0] * slopes.shape[1], [0.0] * slopes.shape[1]
    variance = np.einsum("kij,jl,kil->ki", slopes, came.covariance, slopes)
    sugar, money = (np.sqrt(np.maximum(v, 0.0)).tolist() for v in variance)
    return sugar, money


def _slopes(plan: Planned, came: Came, causes: Sequence[str]) -> Floats:
    """How sugar and money of each step hang on each figure of the account."""
    slopes = np.zeros((2, len(causes), len(MEASURED)))
    for n, name in enumerate(MEASURED):
        sigma = 0.0 if came.covariance is None else float(came.covariance[n, n]) ** 0.5
        if sigma > 0.0 and name in came.figures:
            up, down = (_plain(plan, came, {name: came.figures[name] + by}, causes)
                        for by in (NUDGE * sigma, -NUDGE * sigma))  # fmt: skip
            slopes[:, :, n] = (up - down) / (2.0 * NUDGE * sigma)
    return slopes


def _plain(plan: Planned, came: Came, other: Mapping[str, float], causes: Sequence[str]) -> Floats:
    """Sugar and money of the steps, with some figures otherwise, not put on a grid."""
    moved = replace(came, figures={**came.figures, **other})
    before, after = both(plan, moved)
    moves = list(_moves(plan, moved, before, after))
    found = np.zeros((2, len(causes)))
    for k, values in enumerate(_along(before, moves)):
        told = dict(zip([m[0] for m in moves], np.diff(values)))
        found[k] = [told.get(cause, 0.0) for cause in causes]
    return found
