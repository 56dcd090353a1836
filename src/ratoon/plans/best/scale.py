"""What scale on the evaporator costs: money at the best settings, by how far each effect is scaled.

The plant is asked for its best settings at a few states of scale, from clean to very dirty; all
others are read off between those. A state is told by the drop of temperature that its effects need
to pass the day's heat: that is what scale takes, and it puts all laws and all draws on one scale.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ratoon.account.figures.since_clean import LAWS, Fitted, Floats, SinceClean
from ratoon.base import units
from ratoon.base.errors import NotSolved
from ratoon.plans.best.asked import Found
from ratoon.plans.best.search import MillSearch, NoBestFound

if TYPE_CHECKING:
    from ratoon.plans.clean.programme import Money

FEW, MANY = 5, 8  # states of scale of the sets that are cleaned less, and most, often
DIRTIEST = 45.0  # days of crushing without a clean up to which the plant is asked
LEAST_RISE = 1.1  # of the drop, from clean to dirtiest
SEED = 20310610


@dataclass(frozen=True)
class Surface:
    """An effect: how it scales, and what brings its coefficient to the day's plant.

    Parameters
    ----------
    setting : address of its coefficient in a simulation. since : its scale, at its usual brix.
    unit : of its coefficient there. to_day : coefficient at the day's brix over that at the
        usual one. flux : heat passed by a square metre on the day [W/m2].
    """

    effect: int
    setting: str
    since: SinceClean
    unit: str
    to_day: float
    flux: float


@dataclass(frozen=True)
class Parameters:
    """A law's slope, level now and level after a clean; one of each, or as many as were drawn."""

    fitted: Fitted
    slope: Floats
    level: Floats
    fresh: Floats

    def coefficient(self, age: Floats, new: Floats) -> Floats:
        """Coefficients, draws by ages: days of crushing since a clean to come, or since now."""
        rise = self.slope[:, None] * age
        level = np.where(new > 0.5, self.fresh[:, None], self.level[:, None])
        found: Floats = self.fitted.law.back(self.fitted_inside(level + rise))
        return found

    def fitted_inside(self, y: Floats) -> Floats:
        """Kept where the law has a coefficient: a draw may not pass zero or infinity."""
        return y if self.fitted.law.name == "ln U" else np.maximum(y, 1e-3)


@dataclass(frozen=True)
class Scale:
    """How sets of effects scale. `sets` hold positions in `surfaces`; `recovery` is how clean a
    clean leaves them, of what earlier ones left, and its standard deviation."""

    surfaces: tuple[Surface, ...]
    sets: tuple[tuple[int, ...], ...]
    recovery: tuple[float, float] = (1.0, 0.0)

    def parameters(self, surface: Surface, law: int, draws: int = 0) -> Parameters:
        """Of one law: what was fitted, or draws of its uncertainty."""
        fitted = surface.since.laws[law]
        clean, apart = surface.since.clean()
        share, spread = self.recovery
        if not draws:
            slope, level = fitted.found[:1], fitted.found[-1:]
            fresh = fitted.law.of(np.array([clean * share]))
            return Parameters(fitted, slope, level + slope * surface.since.crushed, fresh)
        rng = np.random.default_rng([SEED, surface.effect])
        ends = np.ix_([0, -1], [0, -1])
        found = rng.multivariate_normal(fitted.found[[0, -1]], fitted.spread[ends], draws,
                                        method="svd")  # fmt: skip
        left = clean * share * np.exp(
            np.hypot(apart / clean, spread) * rng.standard_normal(draws)
        )  # fmt: skip
        now = found[:, 1] + found[:, 0] * surface.since.crushed
        return Parameters(fitted, np.maximum(found[:, 0], 0.0), now, fitted.law.of(left))

    def weights(self) -> Floats:
        """Chance of each law, all effects together."""
        found = np.array([np.prod([s.since.laws[k].weight for s in self.surfaces])
                          for k in range(len(LAWS))])  # fmt: skip
        weights: Floats = found / found.sum()
        return weights

    def every(self, law: int, draws: int = 0) -> list[Parameters]:
        """Of one law, for each surface."""
        return [self.parameters(s, law, draws) for s in self.surfaces]

    def drop(self, of: int, by: Sequence[Parameters], age: Floats, new: Floats) -> Floats:
        """Drop of temperature of a set of effects at the day's heat [K], draws by ages."""
        parts = [self.surfaces[k].flux / (by[k].coefficient(age, new)
                                          * units.to_inside(1.0, self.surfaces[k].unit))
                 for k in self.sets[of]]  # fmt: skip
        return np.asarray(np.add.reduce(parts))


@dataclass(frozen=True)
class MoneyByScale:
    """Money an hour at the best settings, by each set's drop of temperature [K]; see `_worth`."""

    scale: Scale
    knots: tuple[Floats, ...]
    table: Floats

    def at(self, drops: Sequence[Floats], along: bool = False) -> Floats:
        """Money by drops, draws by ages each; straight between what was asked.

        At all pairings, one axis a set, or `along` one axis of ages.
        """
        weights = [_between(k, d) for k, d in zip(self.knots, drops)]
        asked = "abc"[: len(weights)]
        told = "x" * len(asked) if along else "xyz"[: len(asked)]
        each = ",".join(f"d{y}{x}" for x, y in zip(asked, told))
        out = told[:1] if along else told
        found: Floats = np.einsum(f"{asked},{each}->d{out}", self.table, *weights, optimize=True)
        return found

    def by_law(self, law: int, draws: int = 0) -> Money:
        """Money by days of crushing since the clean, under one law."""
        by = self.scale.every(law, draws)

        def money(ages: Sequence[Floats], new: Sequence[Floats], along: bool) -> Floats:
            pairs = enumerate(zip(ages, new, strict=True))
            found = self.at([self.scale.drop(k, by, a, n) for k, (a, n) in pairs], along)
            return found if draws else found[0]

        return money

    def expected(self) -> Money:
        """The same over all laws by their weights."""
        each = [(w, self.by_law(k)) for k, w in enumerate(self.scale.weights())]

        def money(ages: Sequence[Floats], new: Sequence[Floats], along: bool) -> Floats:
            return np.asarray(np.add.reduce([w * of(ages, new, along) for w, of in each]))

        return money


def _between(knots: Floats, drop: Floats) -> Floats:
    """Weights of the knots for each drop: of the two beside it, or the last two beyond the end."""
    k = np.clip(np.searchsorted(knots, drop) - 1, 0, len(knots) - 2)
    part = (drop - knots[k]) / (knots[k + 1] - knots[k])
    weights = np.zeros((*drop.shape, len(knots)))
    np.put_along_axis(weights, k[..., None], 1.0 - part[..., None], -1)
    np.put_along_axis(weights, k[..., None] + 1, part[..., None], -1)
    return weights


def money_by_scale(search: MillSearch, asked: Found, scale: Scale, ahead: float) -> MoneyByScale:
    """Ask the plant for its best settings at a grid of states of scale.

    Parameters
    ----------
    asked : what may be set and what limits hold, from the day's account. ahead : days of crushing
        to come without a clean.

    Raises
    ------
    NotSolved : no best settings with clean effects, or none with any scale on a set of them: what
        scale costs cannot be told then.
    """
    states = [_states(scale, k, ahead, MANY if k == 0 else FEW) for k in range(len(scale.sets))]
    table = np.full([len(p) for p in states], np.nan)
    start = asked.best
    for place in itertools.product(*(range(len(p)) for p in states)):
        given = dict(asked.given)
        for state, k in zip(states, place):
            given |= {s.setting: u * s.to_day for s, u in state[k]}
        try:
            found = search.again(replace(asked, given=given), start)
        except NoBestFound:
            continue  # so dirty that nothing was found; what is beyond is read on from what was
        table[place], start = _worth(search, asked, found.best.values), found.best
    if not np.isfinite(table.flat[0]):
        raise NotSolved("no best settings were found even with clean effects",
                        todo="Choose another day, or widen a limit.")  # fmt: skip
    for of, state in enumerate(states):
        if not np.isfinite(table[tuple(int(k == of) for k in range(table.ndim))]):
            named = ", ".join(str(s.effect) for s, _ in state[0])
            raise NotSolved(f"no settings were found with any scale on effects {named}: what it "
                            "costs cannot be told", todo="Choose another day to go from, or widen "
                            "a limit.")  # fmt: skip
    knots = tuple(np.array([sum(s.flux / u for s, u in of) for of in state]) for state in states)
    return MoneyByScale(scale, knots, _filled(table, knots))


def _worth(search: MillSearch, asked: Found, values: Mapping[str, float]) -> float:
    """Money an hour; with a crop to finish, less what its cane would earn another day.

    Cane that waits is crushed later, for what a tonne earns at the day's best settings net of the
    hours it takes. So an hour without cane loses what an hour of the season costs, and no more.
    """
    money = float(search.money(values))
    if not asked.aim.crop:
        return money
    best = asked.best.values
    later = (search.money(best) - 3600.0 * asked.aim.cost) / search.crop(best)
    return money - float(later * search.crop(values))


State = list[tuple[Surface, float]]
"""Each effect of a set with its coefficient at usual brix [W/m2.K]."""


def _states(scale: Scale, of: int, ahead: float, count: int) -> list[State]:
    """From clean on, evenly by drop, at which the plant is asked."""
    mine = [scale.surfaces[k] for k in scale.sets[of]]
    most = min(ahead + max(s.since.crushed for s in mine), DIRTIEST)
    ages = np.linspace(0.0, most, 200)
    found = [scale.parameters(s, 0).coefficient(ages, np.ones(200))[0]
             * units.to_inside(1.0, s.unit) for s in mine]  # fmt: skip
    drop = np.add.reduce([s.flux / u for s, u in zip(mine, found)])
    if drop[-1] < LEAST_RISE * drop[0]:  # no scale to be seen: asked all the same
        found = [u / (1.0 + (LEAST_RISE - 1.0) * ages / most) for u in found]
        drop = np.add.reduce([s.flux / u for s, u in zip(mine, found)])
    at = [np.interp(d, drop, ages) for d in np.linspace(drop[0], drop[-1], count)]
    return [[(s, float(np.interp(age, ages, u))) for s, u in zip(mine, found)] for age in at]


def _filled(table: Floats, knots: Sequence[Floats]) -> Floats:
    """Where nothing was found, on from the last two along the dirtier way of each set."""
    table = table.copy()
    for place in np.ndindex(table.shape):
        if np.isfinite(table[place]):
            continue
        guesses = []
        for of, k in enumerate(place):
            before, second = ((*place[:of], k - n, *place[of + 1 :]) for n in (1, 2))
            if k >= 2:
                along = (knots[of][k] - knots[of][k - 1]) / (knots[of][k - 1] - knots[of][k - 2])
                guesses.append(table[before] + along * (table[before] - table[second]))
            elif k == 1:
                guesses.append(table[before])
        table[place] = min(guesses)
    return table
