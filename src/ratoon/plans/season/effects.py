"""What each cause makes of the spread, and what a change is worth, from blocks of futures.

Shares: a set of causes is kept and the others drawn anew; half the mean square of the difference is
the variance that the others make with all they do together. Shapley's mean over the orders in which
causes may be kept gives each its share: they add up to one. Each set is used with its complement,
so no draw is wasted. Worth: the same futures once with the change and once without.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import combinations
from math import factorial
from typing import Literal

import numpy as np

from ratoon.plans.season.answer import CauseShare, Worth, WorthSigma
from ratoon.plans.season.draws import Array
from ratoon.plans.season.futures import (
    CAUSES,
    Change,
    Crushed,
    Draws,
    Fit,
    Outcome,
    crushed,
    run,
    valued,
)

WORTH: tuple[tuple[str, str, Change], ...] = (
    ("hours lost", "1 h", Change(lost=1.0)),
    ("a day lost", "24 h", Change(lost=24.0)),
    ("rate", "10 t/h", Change(rate=10.0)),
    ("extraction", "1 point", Change(extraction=1.0)),
    ("crop", "1 %", Change(crop=0.01)),
)


def shapley(values: Mapping[frozenset[str], float], names: Sequence[str]) -> dict[str, float]:
    """Shapley's share of each name in a worth given for every set of names.

    Shares add up to the worth of all less that of none.
    """
    count = len(names)
    made = {}
    for name in names:
        rest = [n for n in names if n != name]
        total = 0.0
        for size in range(count):
            weight = factorial(size) * factorial(count - size - 1) / factorial(count)
            for some in combinations(rest, size):
                kept = frozenset(some)
                total += weight * (values[kept | {name}] - values[kept])
        made[name] = total
    return made


def subsets(names: Sequence[str]) -> list[frozenset[str]]:
    """Every set of names, the empty one first."""
    return [frozenset(some) for n in range(len(names) + 1) for some in combinations(names, n)]


Squares = dict[frozenset[str], list[float]]


def squares(
    names: Sequence[str], given: Callable[[frozenset[str]], Sequence[Array]]
) -> Squares:  # fmt: skip
    """Half the mean squares of each figure's differences, the causes of each set kept.

    Parameters
    ----------
    given : figures of the futures (an array each) with the causes of a set as in the first draw
        and the others as in the second.
    """
    every, sets = frozenset(names), subsets(names)
    seen = {kept: given(kept) for kept in sets}
    return {
        kept: [
            float(np.mean((whole - one) ** 2) + np.mean((none - other) ** 2)) / 4
            for whole, one, none, other in zip(
                seen[every], seen[kept], seen[frozenset()], seen[every - kept]
            )
        ]
        for kept in sets
    }


def of_block(fit: Fit, first: Draws, second: Draws) -> Squares:
    """Squares of the finish and the sugar in one block of futures."""

    known: dict[frozenset[str], Crushed] = {}

    def given(kept: frozenset[str]) -> Sequence[Array]:
        draws = {c: (first if c in kept else second)[c] for c in CAUSES}
        tonnes = kept - {"ccs"}
        if tonnes not in known:
            known[tonnes] = crushed(fit, draws)
        out = valued(fit, known[tonnes], draws)
        return out.until, out.sugar

    return squares(CAUSES, given)


def split(parts: Sequence[Squares], names: Sequence[str], figure: int) -> dict[str, float]:
    """Each cause's part of a figure's variance, from the squares of several blocks."""
    worth = {s: -float(np.mean([p[s][figure] for p in parts])) for s in parts[0]}
    return shapley(worth, names)


def shares(parts: Sequence[Squares]) -> list[CauseShare]:
    """Shares of each cause in the variance of finish and sugar."""
    made: list[CauseShare] = []
    of: tuple[Literal["finish", "sugar"], ...] = ("finish", "sugar")
    for n, figure in enumerate(of):
        found = split(parts, CAUSES, n)
        whole = sum(found.values())
        made += [CauseShare(figure, name, found[name] / whole if whole > 0 else 0.0,
                            float(np.sqrt(max(found[name], 0.0)))) for name in CAUSES]  # fmt: skip
    return made


def moved(fit: Fit, draws: Draws, base: Outcome, change: Change) -> Array:
    """Differences that a change makes in each future: days, sugar, money; shape (3, futures)."""
    other = run(fit, draws, change)
    return np.stack([other.until - base.until, other.sugar - base.sugar, other.money - base.money])


def worth(what: str, unit: str, differences: Sequence[Array]) -> Worth:
    """What a change is worth, from the differences in several blocks."""
    all_ = np.concatenate(differences, axis=1)
    mean = all_.mean(axis=1)
    error = all_.std(axis=1) / np.sqrt(all_.shape[1])
    sigma = WorthSigma(float(error[0]), float(error[1]), float(error[2]))
    return Worth(what, unit, float(mean[0]), float(mean[1]), float(mean[2]), sigma)
