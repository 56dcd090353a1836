"""How likely a mill's plan holds liquor back when strikes take longer or shorter than planned.

Many futures side by side, in short steps, by plain rules: a strike starts when it was planned, or
as soon as its pan is free and its first feed is there; it waits where its feed runs out, and holds
its massecuite while the receiver has no room. Centrifugals cure what there is as fast as they can,
as long as the tank of their molasses takes it. Nobody plans again meanwhile, so that a plan made
again when a pan is late does better.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ratoon.plans.floor.case import FloorCase, Move, Task
from ratoon.plans.floor.result import FloorSlows, FloorStrike

Floats = NDArray[np.float64]
SPREAD = 0.08
"""Standard deviation of a strike's hours, on its hours: common practice."""
PARTS = 6
"""Short steps in a step of the case."""
LITTLE = 0.002
"""Of the inflow: as much is not missed, and is less than amounts were rounded by."""
Z95 = 1.96
FOREVER = 1e12


@dataclass
class _Pan:
    """A pan in all futures: which strike of its list, how far it is, how slow it is.

    `spare` is for how long of the last short step the pan was free, then what its strike is ahead.
    """

    tasks: list[Task]
    starts: list[float]
    factors: Floats
    at: NDArray[np.int64]
    runs: NDArray[np.bool_]
    done: Floats
    spare: Floats


def slows(
    case: FloorCase, strikes: Sequence[FloorStrike], futures: int = 500,
    spread: float = SPREAD, seed: int = 20310815,
) -> FloorSlows:  # fmt: skip
    """The chance that a plan holds liquor back, and how much.

    Parameters
    ----------
    case : of a mill: a strike draws at its start and evenly, and gives when it is dropped.
    """
    drawn = np.random.default_rng(seed)
    floor = _Floor(case, futures)
    width = float(np.sqrt(np.log(1.0 + spread**2)))
    pans = [_pan(case, name, strikes, width, futures, drawn) for name in case.pans]
    for k in range(case.steps * PARTS):
        for pan in pans:
            floor.start(pan, k / PARTS)
            floor.boil(pan)
            floor.drop(pan)
        floor.flow(k // PARTS)
    asked = sum(float(sum(s.inflow)) for s in case.stores.values() if s.cut and not s.spills)
    share = float((floor.held > LITTLE * asked).mean())
    return FloorSlows(share, *_wilson(share, futures), float(floor.held.mean()))


def _wilson(share: float, count: int) -> tuple[float, float]:
    """The 95 % interval of a share that was counted [Wilson 1927]."""
    z2 = Z95**2 / count
    half = Z95 * (share * (1.0 - share) / count + z2 / (4.0 * count)) ** 0.5
    middle = share + z2 / 2.0
    return max((middle - half) / (1.0 + z2), 0.0), min((middle + half) / (1.0 + z2), 1.0)


def _pan(
    case: FloorCase, name: str, strikes: Sequence[FloorStrike], width: float, futures: int,
    drawn: np.random.Generator,
) -> _Pan:  # fmt: skip
    own = sorted((s for s in strikes if s.pan == name), key=lambda s: s.start)
    starts = [s.start / float(case.step) for s in own]
    normal = drawn.standard_normal((len(own) + 1, futures))
    factors = np.exp(width * normal - width**2 / 2.0)
    begun = bool(starts) and starts[0] < 0.0
    return _Pan([case.tasks[s.task] for s in own], starts, factors,
                np.zeros(futures, np.int64), np.full(futures, begun),
                -starts[0] / factors[0] if begun else np.zeros(futures),
                np.zeros(futures))  # fmt: skip


def _fed(move: Move, done: Floats, goes: Floats) -> Floats:
    """Steps of a feed that fall into what a strike boils on."""
    end: Floats = np.minimum(done + goes, move.at + move.over)
    return np.maximum(end - np.maximum(done, move.at), 0.0)


class _Floor:
    """The tanks in all futures."""

    def __init__(self, case: FloorCase, futures: int) -> None:
        self.case = case
        self.level = {n: np.full(futures, float(s.open)) for n, s in case.stores.items()}
        self.least = {n: float(s.min or 0) for n, s in case.stores.items()}
        self.most = {n: FOREVER if s.max is None else float(s.max) for n, s in case.stores.items()}
        self.held = np.zeros(futures)

    def start(self, pan: _Pan, now: float) -> None:
        """Begin the next strike of a pan where its time has come and its first feed is there."""
        lead = np.zeros(len(pan.done))
        for k, (task, planned) in enumerate(zip(pan.tasks, pan.starts)):
            may = (pan.at == k) & ~pan.runs if planned <= now + 1e-9 else np.zeros(0, bool)
            if not may.any():
                continue
            first = [m for m in task.moves if not m.over and not m.at]
            for m in first:
                may &= self.level[m.store] + float(m.amount) >= self.least[m.store] - 1e-9
            for m in first:
                self.level[m.store] += float(m.amount) * may
            pan.runs |= may
            pan.done[may] = 0.0
            lead[may] = np.minimum(pan.spare, now - planned)[may]
        pan.spare = lead

    def boil(self, pan: _Pan) -> None:
        """Boil on for a short step, slower where a feed runs out."""
        for k, task in enumerate(pan.tasks):
            on = pan.runs & (pan.at == k) & (pan.done < task.steps)
            if not on.any():
                continue
            goes = on * (1.0 / PARTS + pan.spare) / pan.factors[k]
            fed = [m for m in task.moves if m.over]
            for m in fed:
                there = np.maximum(self.level[m.store] - self.least[m.store], 0.0)
                asked = float(-m.each) * _fed(m, pan.done, goes)
                goes = goes * np.minimum(there / np.maximum(asked, 1e-12), 1.0)
            for m in fed:
                self.level[m.store] += float(m.each) * _fed(m, pan.done, goes)
            pan.done += goes

    def drop(self, pan: _Pan) -> None:
        """Drop what is boiled where its receiver has room."""
        for k, task in enumerate(pan.tasks):
            boiled = pan.runs & (pan.at == k) & (pan.done >= task.steps - 1e-9)
            may = boiled.copy()
            given = [m for m in task.moves if not m.over and m.at]
            for m in given if may.any() else ():
                may &= self.level[m.store] + float(m.amount) <= self.most[m.store] + 1e-9
            if may.any():
                for m in given:
                    self.level[m.store] += float(m.amount) * may
                pan.runs &= ~may
                pan.at = pan.at + may
                pan.spare[may] = ((pan.done - task.steps) * pan.factors[k])[may]
            pan.done[boiled & ~may] = task.steps

    def flow(self, step: int) -> None:
        """What comes and goes without a strike; inflow that finds no room is held back."""
        for name, store in self.case.stores.items():
            if store.drain is not None:
                share, into = float(store.drain.share), store.drain.into
                room = (self.most[into] - self.level[into]) / max(share, 1e-9)
                gone = np.minimum(float(store.drain.most) / PARTS, self.level[name])
                gone = np.maximum(np.minimum(gone, room), 0.0)
                self.level[name] -= gone
                self.level[into] += share * gone
        for name, store in self.case.stores.items():
            level = np.maximum(self.level[name] + float(store.inflow[step]) / PARTS, 0.0)
            over = np.maximum(level - self.most[name], 0.0) if store.inflow[step] > 0 else 0.0
            self.level[name] = level - over
            if store.cut and not store.spills:
                self.held += over
