"""What each cause makes of the spread, and what a change is worth, from blocks of futures.

Shares: a set of causes is kept and the others drawn anew; half the mean square of the difference is
the variance that the others make with all they do together. Shapley's mean over the orders in which
causes may be kept gives each its share: they add up to one. Each set is used with its complement,
so nothing is drawn for nought. Worth: the same futures once with the change and once without.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations
from math import factorial

import numpy as np

from ratoon.plans.season.answer import Cause, CauseShare, Worth, WorthSigma
from ratoon.plans.season.draws import Array
from ratoon.plans.season.futures import CAUSES, Change, Draws, Fit, Outcome, run

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


def squares(
    fit: Fit, first: Draws, second: Draws, base: Outcome
) -> dict[frozenset[str], tuple[float, float]]:
    """Half the mean squares of the finish's and the sugar's differences, causes of a set kept."""
    sets = subsets(CAUSES)
    seen: dict[frozenset[str], tuple[Array, Array]] = {}
    for kept in sets:
        if len(kept) == len(CAUSES):
            seen[kept] = _both(fit, base)
        else:
            seen[kept] = _both(fit, run(fit, {c: (first if c in kept else second)[c]
                                              for c in CAUSES}))  # fmt: skip
    every, none = seen[frozenset(CAUSES)], seen[frozenset()]
    made = {}
    for kept in sets:
        other = seen[frozenset(CAUSES) - kept]
        made[kept] = tuple(
            float(np.mean((every[k] - seen[kept][k]) ** 2) + np.mean((none[k] - other[k]) ** 2)) / 4
            for k in (0, 1)
        )
    return made  # type: ignore[return-value]


def _both(fit: Fit, outcome: Outcome) -> tuple[Array, Array]:
    return np.minimum(outcome.finish, fit.days), outcome.sugar


def shares(parts: Sequence[Mapping[frozenset[str], tuple[float, float]]]) -> list[CauseShare]:
    """Shares of each cause from the squares of several blocks."""
    made: list[CauseShare] = []
    of: tuple[str, str] = ("finish", "sugar")
    for k in (0, 1):
        worth = {s: -float(np.mean([p[s][k] for p in parts])) for s in parts[0]}
        whole = worth[frozenset(CAUSES)] - worth[frozenset()]
        found = shapley(worth, CAUSES)
        for name in CAUSES:
            share = found[name] / whole if whole > 0 else 0.0
            cause: Cause = name  # type: ignore[assignment]
            made.append(CauseShare(of[k], cause, share,  # type: ignore[arg-type]
                                   float(np.sqrt(max(share * whole, 0.0)))))  # fmt: skip
    return made


def moved(fit: Fit, draws: Draws, base: Outcome, change: Change) -> Array:
    """Differences that a change makes in each future: days, sugar, money; shape (3, futures)."""
    other = run(fit, draws, change)
    days = np.minimum(other.finish, fit.days) - np.minimum(base.finish, fit.days)
    return np.stack([days, other.sugar - base.sugar, other.money - base.money])


def worth(what: str, unit: str, differences: Sequence[Array]) -> Worth:
    """What a change is worth, from the differences in several blocks."""
    all_ = np.concatenate(differences, axis=1)
    mean = all_.mean(axis=1)
    error = all_.std(axis=1) / np.sqrt(all_.shape[1])
    sigma = WorthSigma(finish_days=float(error[0]), sugar=float(error[1]), money=float(error[2]))
    return Worth(what, unit, float(mean[0]), float(mean[1]), float(mean[2]), sigma)
