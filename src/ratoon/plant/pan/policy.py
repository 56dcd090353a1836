"""A strike boiled by a policy that a boiler can set, and the fastest such policy inside a band.

The policy has five numbers: supersaturation at which feed opens when the calandria is just covered
and when the pan is full, in between by level; the share of crystal from which it also opens; the
supersaturation from which steam is cut; the steam allowed. Feed and steam then follow from the
state, so that a strike is two integrations, and hundreds can be tried.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import NotSolved
from ratoon.base.maths import Quantity, maximum, minimum
from ratoon.equations.motion import Motion
from ratoon.plant.pan.batch import (
    GONE,
    HEAT,
    MASS,
    STATES,
    BatchPan,
    boiling_point,
    liquor_of,
    rates,
)
from ratoon.plant.pan.growth import Crystallisation
from ratoon.plant.pan.strike import STIFF, Switches, given_of
from ratoon.properties import crystal

Floats = NDArray[np.float64]
FIGURES = ("supersaturation", "share", "brix", "volume", "evaporation", "feed", "steam")
OPENS, CUTS = 0.02, 0.02
"""Over how much supersaturation feed goes from shut to open, and steam from open to shut."""
OPENS_BY_SHARE, FULL = 0.03, 0.995
"""The same for crystal by volume; level at which feed is shut for good."""
LONGEST = 12.0 * 3600.0
POINTS, PIECE, SHORTEST = 40, 3600.0, 10.0
"""States kept of a piece, its length and the shortest that is tried [s]."""
LITTLE = 1e-3
TOLERANCE = 1e-7
NEVER = 9.0
"""A set point that is never come to."""


@dataclass(frozen=True, slots=True)
class Policy:
    """What a boiler sets: supersaturations, share of crystal by volume, share of the steam."""

    covered: float
    full: float
    crystal: float = NEVER
    cut: float = NEVER
    steam: float = 1.0


@dataclass(frozen=True, slots=True)
class Task:
    """A strike to be boiled.

    Attributes
    ----------
    start : state of the charge. open : switches with feed wide open and full steam. drop : brix at
        which it is dropped [kg/kg]. band : supersaturation that is to be held.
    """

    pan: BatchPan
    law: Crystallisation
    start: Floats
    open: Switches
    drop: float
    band: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Boiled:
    """A strike by a policy: `times` [s] and `FIGURES` against them; `why` it is none, or ""."""

    times: Floats
    figures: Floats
    why: str = ""

    @property
    def seconds(self) -> float:
        return float(self.times[-1])

    def of(self, name: str) -> Floats:
        """One of `FIGURES` against time."""
        return self.figures[:, FIGURES.index(name)]


def _set(
    pan: BatchPan, state: Sequence[Quantity], p: Sequence[Quantity], most: Quantity
) -> tuple[Quantity, Quantity, Quantity, Quantity]:
    """Supersaturation, crystal by volume, feed [10 t/s] and share of the steam."""
    at = liquor_of(state)
    over, volume = at.supersaturation(), at.volume
    share = at.crystal / (crystal.DENSITY * volume)
    level = minimum(maximum((volume / pan.volume - pan.covered) / (1.0 - pan.covered), 0.0), 1.0)
    by_over = (over - p[0] - (p[1] - p[0]) * level) / OPENS
    by_share = (share - p[2]) / OPENS_BY_SHARE
    opened = minimum(maximum(maximum(by_over, by_share), 0.0), 1.0)
    steam = p[4] * minimum(maximum(1.0 - (over - p[3]) / CUTS, 0.0), 1.0)
    return over, share, most * opened, steam


@lru_cache(maxsize=16)
def _motion(pan: BatchPan, law: Crystallisation) -> Motion:
    """Rates of a pan that boils by a policy; given: the five numbers, 1 while feed may open, then
    what `rates` is given."""
    by = rates(pan, law, True, True)

    def asked(state: Sequence[Quantity], given: Sequence[Quantity]) -> list[Quantity]:
        _, _, feed, steam = _set(pan, state, given, given[5] * given[6])
        temperature = state[3] + steam * (given[10] - state[3])
        return [feed, given[7], given[8], given[9], temperature, given[11]]

    def moved(state: Sequence[Quantity], given: Sequence[Quantity]) -> Sequence[Quantity]:
        return by(state, asked(state, given))

    def figures(state: Sequence[Quantity], given: Sequence[Quantity]) -> list[Quantity]:
        over, share, feed, steam = _set(pan, state, given, given[5] * given[6])
        at, gone = liquor_of(state), by(state, asked(state, given))[GONE]
        return [over, share, at.brix, at.volume, gone * MASS, feed * MASS, steam]

    return Motion(moved, figures, STATES, 12, POINTS, TOLERANCE)


def boils(task: Task) -> Floats:
    """The charge, as hot as it boils."""
    state, given = task.start.copy(), given_of(task.open)
    state[3] = boiling_point(liquor_of(state), given[-1] * HEAT) / HEAT
    return state


def boil(task: Task, policy: Policy) -> Boiled:
    """Boil by a policy, from when the charge boils: fed until full, then tightened to the drop."""
    motion = _motion(task.pan, task.law)
    numbers = [policy.covered, policy.full, policy.crystal, policy.cut, policy.steam]
    state, now = boils(task), 0.0
    times: list[Floats] = [np.zeros(1)]
    states: list[Floats] = []
    for feeds in (1.0, 0.0):
        given = np.array([*numbers, feeds, *given_of(task.open)])
        if not states:
            states.append(motion.figures(state[None, :], given))
        name, goal = ("volume", FULL * task.pan.volume) if feeds else ("brix", task.drop)
        try:
            path, moments = _until(motion, state, given, FIGURES.index(name), goal)
        except NotSolved:
            return Boiled(np.concatenate(times), np.vstack(states), "it cannot be followed")
        figures = motion.figures(path, given)
        times.append(now + moments[1:])
        states.append(figures[1:])
        state, now = path[-1], now + float(moments[-1])
        if figures[-1, FIGURES.index(name)] < goal * (1.0 - 1e-3):
            why = "the pan does not fill" if feeds else "the brix of the drop is not come to"
            return Boiled(np.concatenate(times), np.vstack(states), why)
    made = Boiled(np.concatenate(times), np.vstack(states))
    return replace(made, why=_breach(task, made)[1])


def _until(
    motion: Motion, state: Floats, given: Floats, which: int, goal: float
) -> tuple[Floats, Floats]:
    """States until a figure comes to its goal, and the seconds at which they are."""
    path, times, seconds = [state[None, :]], [np.zeros(1)], PIECE
    if motion.figures(state[None, :], given)[0, which] >= goal:
        return path[0], times[0]
    while times[-1][-1] < LONGEST:
        begin, now = path[-1][-1], float(times[-1][-1])
        try:
            piece = motion.run(begin, given, seconds)
        except NotSolved:  # past what the equations bear, often long past the goal
            seconds /= 4.0
            if seconds < SHORTEST:
                raise
            continue
        values = motion.figures(piece, given)[:, which]
        reached = np.argwhere(values >= goal)
        if reached.size:
            k = int(reached[0, 0])
            part = (k - 1 + (goal - values[k - 1]) / (values[k] - values[k - 1])) / POINTS
            piece, seconds = motion.run(begin, given, part * seconds), part * seconds
        path.append(piece[1:])
        times.append(now + seconds * np.arange(1, POINTS + 1) / POINTS)
        if reached.size:
            break
    return np.vstack(path), np.concatenate(times)


def _breach(task: Task, made: Boiled) -> tuple[float, str]:
    """How far a strike passes what it must hold, and which of it."""
    over, (low, high) = made.of("supersaturation"), task.band
    inside = np.argwhere((over >= low) & (over <= high))
    if not inside.size:
        return abs(float(over[-1]) - (low + high) / 2.0), "the strike never comes into the band"
    # a charge outside the band comes into it: only from then on is it held
    over = over[int(inside[0, 0]) :]
    tried = (
        (float(over.max()) - high, f"supersaturation comes to {over.max():.3f}"),
        (low - float(over.min()), f"supersaturation falls to {over.min():.3f}"),
        (float(made.of("share").max()) - STIFF, "the massecuite is too stiff to move"),
        (-float(made.of("evaporation").min()) - LITTLE, "the pan goes off the boil"),
    )
    worst = max(tried)
    return (worst[0], worst[1]) if worst[0] > 1e-6 else (0.0, "")


def score(task: Task, policy: Policy) -> float:
    """Seconds of a strike, far more where it is none: the further past, the more."""
    made = boil(task, policy)
    if made.why and not made.why.startswith(("supersat", "the massec", "the pan goes")):
        return 10.0 * LONGEST - made.seconds
    return made.seconds + (LONGEST + 1e6 * _breach(task, made)[0] if made.why else 0.0)


@dataclass(frozen=True, slots=True)
class Found:
    """The fastest policy and the fastest constant supersaturation; `tried` strikes were boiled.

    `constant` is None where no constant supersaturation holds the band; `boiled.why` says what
    stands in the way where no policy does.
    """

    policy: Policy
    boiled: Boiled
    constant: Policy | None
    constant_seconds: float | None
    tried: int


def fastest(task: Task, most: int = 400) -> Found:
    """The fastest policy inside the band, by a search that begins at the best constant one."""
    from scipy.optimize import minimize

    low, high = task.band
    width = high - low
    seen: dict[tuple[float, ...], float] = {}

    def valued(numbers: Sequence[float]) -> float:
        key = tuple(float(round(x, 5)) for x in numbers)
        if key not in seen:
            inside = all(a <= x <= b for x, (a, b) in zip(key, bounds))
            seen[key] = score(task, Policy(*key)) if inside else 20.0 * LONGEST
        return seen[key]

    bounds = ((low, high), (low, high), (0.05, NEVER), (low, NEVER), (0.2, 1.0))
    flat = [(s, s, NEVER, NEVER, 1.0) for s in np.linspace(low, high, 24)[:-1]]
    best_flat = min(flat, key=valued)
    constant = Policy(*best_flat) if valued(best_flat) < LONGEST else None
    grid = [
        (low + a * width, low + b * width, c, high - d * width - CUTS, e)
        for a in (0.3, 0.6) for b in (0.4, 0.7) for c in (0.38, 0.45) for d in (0.0, 0.3)
        for e in (0.7, 1.0)
    ]  # fmt: skip
    for begin in sorted([*grid, best_flat], key=valued)[:3]:
        left = most - len(seen)
        if left > 10:
            step = np.diag([0.15 * width, 0.15 * width, 0.04, 0.1 * width, -0.1])
            corners = np.vstack([begin, *(np.array(begin) + row for row in step)])
            minimize(valued, begin, method="Nelder-Mead",
                     options={"maxfev": max(left // 2, 10), "initial_simplex": corners,
                              "xatol": 1e-4, "fatol": 1.0})  # fmt: skip
    best = Policy(*min(seen, key=lambda k: seen[k]))
    return Found(best, boil(task, best), constant,
                 valued(best_flat) if constant else None, len(seen))  # fmt: skip
