"""Whether the bagasse store lasts: what is left over in each hour run, what is burnt in each other.

What an ordinary day leaves over is a small difference of large flows. Its uncertainty does not
average away: it is drawn once for a whole future. What was counted into the store since the last
survey carries the same error, so both are drawn together. What differs truly from day to day
wanders and scatters besides. A day on which the mill stands for six hours or more burns by what the
boilers do meanwhile, and once more while the boiling house is worked off.

Days are the season forecast's; inside a day the mill stands in one piece at any hour of it, and for
a planned stop from its beginning. What the store cannot give is short, what it has no room for is
lost, and after the finish nothing burns.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ratoon.base.errors import BadInput
from ratoon.plans.season.draws import Array, Rng, wandering
from ratoon.plans.season.fuel_answer import Burn, Case
from ratoon.plans.season.futures import BLOCK, CAUSES, Crushed, Fit, crushed, draw
from ratoon.plans.season.stops import LONG

USUAL_BURN = 15.0
"""Where no day without cane is on record [t/h]: 30 t/h of steam for boiling house and power of a
stopped mill, at two tonnes of steam a tonne of bagasse (common practice)."""
BURN_SIGMA, USUAL_SIGMA = 0.10, 0.30
"""Relative, of a burn that is stated or on record, and of the usual one (mill's choice)."""
MEMORY = 10.0
"""Days over which what a day leaves over is remembered (mill's choice)."""
STANDS = 0.5
"""Share of a day lost to wet ground from which it belongs to a wet spell (mill's choice)."""


@dataclass(frozen=True)
class FuelDay:
    """A mill day of the store: day number, net into it [t], hours run, hours stood in long stops,
    and whether the mill began to stand on it."""

    day: int
    net: float
    run: float
    stood: float
    began: bool


@dataclass(frozen=True)
class Net:
    """What a crushing hour leaves over, fitted [t/h], and what standing burns.

    Parameters
    ----------
    common : its uncertainty that all days share. error : that of the days' mean. wander, scatter :
        standard deviations from day to day, slow and by themselves. last : how far the last days
        were from the level.
    burnt : t/h burnt while standing, as days without cane did; None where none is on record.
    worked_off : t burnt besides, each time the mill begins to stand.
    """

    level: float
    common: float
    error: float
    wander: float
    scatter: float
    last: float
    burnt: float | None
    worked_off: float
    days: int

    @property
    def sigma(self) -> float:
        return float(np.hypot(self.common, self.error))


def fit_net(days: Sequence[FuelDay], common: float) -> Net:
    """What the days on record leave over and burn.

    Parameters
    ----------
    common : uncertainty of their mean, by the account of them together [t/h].

    Raises
    ------
    BadInput : no day that ran tells what it left over.
    """
    ran = [d for d in days if d.stood < LONG and d.run > LONG]
    if not ran:
        raise BadInput("no day with cane tells what it left over", where="the bagasse store",
                       todo="Give net bagasse to the store by mill day.")  # fmt: skip
    hourly = np.array([d.net / d.run for d in ran])
    level = sum(d.net for d in ran) / sum(d.run for d in ran)
    off = hourly - level
    variance = float(off.var()) if len(ran) > 2 else 0.25 * level**2
    place = {d.day: x for d, x in zip(ran, off)}
    pairs = [x * place[day + k] for day, x in place.items() for k in (1, 2, 3) if day + k in place]
    slow = float(np.clip(np.mean(pairs) * np.exp(2 / MEMORY), 0.0, variance)) if pairs else 0.0
    scatter = variance - slow
    near = off[-5:]
    held = slow / (slow + scatter / len(near)) if slow else 0.0
    error = slow * min(2 * MEMORY / len(ran), 1.0) + scatter / len(ran)
    burnt, worked_off = _standing([d for d in days if d.stood >= LONG], level)
    return Net(level, common, float(np.sqrt(error)), float(np.sqrt(slow)), float(np.sqrt(scatter)),
               float(near.mean() * held), burnt, worked_off, len(ran))  # fmt: skip


def _standing(days: Sequence[FuelDay], level: float) -> tuple[float | None, float]:
    """t/h burnt while standing, and t besides each time it begins: means of the days."""
    whole = [d for d in days if not d.began and d.run < 1.0]
    if not whole:
        return None, 0.0
    burnt = max(float(np.mean([(level * d.run - d.net) / d.stood for d in whole])), 0.0)
    begins = [level * d.run - burnt * d.stood - d.net for d in days if d.began]
    return burnt, max(float(np.mean(begins)), 0.0) if begins else 0.0


@dataclass(frozen=True)
class Fuel:
    """The store and what changes it; tonnes, t/h.

    Parameters
    ----------
    value, sigma : what its book says, which may be less than nothing where other fuel was burnt.
    counted : of each day that was counted into it since its survey, oldest first, net [t] and
        hours run. room : what the store takes, and dead : what of it cannot be fed. burns : t/h
        while the mill stands, with sigma.
    start : t that the next start needs; None where it is not stated.
    """

    value: float
    sigma: float
    counted: Sequence[tuple[float, float]]
    room: float
    dead: float
    net: Net
    burns: Mapping[Burn, tuple[float, float]]
    start: float | None

    def drawn(self, rng: Rng, days: int, count: int) -> tuple[Array, Array]:
        """What can be fed from the store now [t], and what an hour run of each day leaves [t/h].

        The store is drawn as its survey found it and runs through the days counted since: it is
        never less than empty nor more than full, whatever the book says.
        """
        n, z = self.net, rng.standard_normal((3, count))
        since = sum(run for _, run in self.counted)
        carried = min(n.common * since, self.sigma)
        surveyed = self.value - sum(net for net, _ in self.counted)
        store: Array = surveyed + np.sqrt(self.sigma**2 - carried**2) * z[1]
        can = (store >= 0.0) & (store <= self.room)
        if can.any():  # no survey finds what cannot be there: another draw stands in
            store = np.where(can, store, rng.choice(store[can], count))
        least = np.clip(store, 0.0, self.dead)
        for net, run in self.counted:
            store = np.clip(store + net - carried * run / since * z[0], least, self.room)
        gain = wandering(rng, float(np.exp(-1 / MEMORY)), n.wander, n.last, (days, count))
        gain += n.scatter * rng.standard_normal((days, count))
        gain += n.level - n.common * z[0] + n.error * z[2]
        return np.clip(store - self.dead, 0.0, self.room - self.dead), gain


@dataclass(frozen=True)
class StorePath:
    """The store through the days of each future.

    Parameters
    ----------
    store, short : by day and future [t]: at the day's beginning, and lacking on it.
    end : at the finish. low : most that could be taken from it now without lacking it later: what
        overflows need not be there. wasted : what overflowed. full : day on which it first does,
        infinite if never.
    """

    store: Array
    short: Array
    end: Array
    low: Array
    wasted: Array
    full: Array


@dataclass(frozen=True)
class Hours:
    """Hours run and stood before the finish, by day and future, and where in it the mill stands."""

    run: Array
    stood: Array
    place: Array


def path(
    store: Array, gain: Array, hours: Hours, burn: Array, once: float, room: float
) -> StorePath:  # fmt: skip
    """The store through the days.

    Parameters
    ----------
    gain : t an hour run. burn : t an hour stood. once : t burnt when the mill begins to stand.
    """
    days, count = hours.run.shape
    held, short = np.empty((days, count)), np.zeros((days, count))
    low, full = store.copy(), np.full(count, np.inf)
    was, lacked, wasted = np.zeros(count, dtype=bool), np.zeros(count), np.zeros(count)
    for day in range(days):
        held[day] = store
        stands = hours.stood[day] >= LONG
        came = gain[day] * hours.run[day]
        need = stands * burn * hours.stood[day] + once * (stands & ~was)
        for amount in (came * hours.place[day], -need, came * (1.0 - hours.place[day])):
            level = store + amount
            short[day] += np.maximum(-level, 0.0)
            wasted += np.maximum(level - room, 0.0)
            full[(level > room) & np.isinf(full)] = day
            store = np.clip(level, 0.0, room)
            low = np.minimum(low, store + wasted - lacked - short[day])
        lacked += short[day]
        was = stands
    return StorePath(held, short, store, low, wasted, full)


def hours_of(c: Crushed, rng: Rng) -> Hours:
    """Hours of a block of futures, to the finish of each."""
    days = np.arange(c.days)[:, None]
    part = np.clip(c.until[None, :] - days, 0.0, 1.0)
    run = c.hours_run * part
    place = rng.random(run.shape) * (c.planned < LONG)[:, None]
    return Hours(run, np.maximum(24.0 * part - run, 0.0), place)


Told = Mapping[tuple[Case, Burn], tuple[Array, Array, Array]]


@dataclass(frozen=True)
class FuelBlock:
    """What came of a block: for each case and burn hours fed, short and hours asked, NaN where a
    future has no such case; by burn what can be spared and when the store is full."""

    told: Told
    spare: Mapping[Burn, Array]
    full: Mapping[Burn, Array]


def block(fit: Fit, fuel: Fuel, seed: int, number: int, count: int) -> FuelBlock:
    """A block of the season's futures with the store in each."""
    draws = {c: draw(fit, seed, number, c, 0, count) for c in CAUSES if c != "ccs"}
    c = crushed(fit, draws)
    key = (number * BLOCK, len(CAUSES), 0)
    rng = np.random.default_rng(np.random.SeedSequence(seed, spawn_key=key))
    store, gain = fuel.drawn(rng, c.days, count)
    hours, z = hours_of(c, rng), rng.standard_normal(count)
    wet = (draws["rain"][0][: c.days] >= STANDS) & (hours.run + hours.stood > 0)
    stop = (c.planned >= LONG)[:, None] & (hours.run + hours.stood > 0)
    windows = {"rain": _first(wet), "stop": _first(stop)}
    told: dict[tuple[Case, Burn], tuple[Array, Array, Array]] = {}
    spare: dict[Burn, Array] = {}
    full: dict[Burn, Array] = {}
    for name, (rate, sigma) in fuel.burns.items():
        burn = np.maximum(rate + sigma * z, 0.0)
        went = path(store, gain, hours, burn, fuel.net.worked_off, fuel.room - fuel.dead)
        feeds = 1.0 / np.maximum(burn, 1e-6)
        told["rain", name] = _window(windows["rain"], went, hours, feeds)
        told["stop", name] = _window(windows["stop"], went, hours, feeds)
        told["end", name] = (store * feeds, went.short.sum(axis=0), hours.stood.sum(axis=0))
        spare[name], full[name] = went.low, went.full
        if fuel.start is not None:
            lacks = went.short.sum(axis=0) + np.maximum(fuel.start - went.end, 0.0)
            told["start", name] = (went.end * feeds, lacks, np.full(count, np.nan))
            over = went.end + went.wasted - fuel.start - went.short.sum(axis=0)
            spare[name] = np.minimum(went.low, over)
    return FuelBlock(told, spare, full)


def _first(days: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The first run of days that are so, in each future."""
    begun = np.logical_or.accumulate(days, axis=0)
    ended = np.logical_or.accumulate(begun & ~days, axis=0)
    return np.asarray(begun & ~ended)


def _window(
    days: NDArray[np.bool_], went: StorePath, hours: Hours, feeds: Array
) -> tuple[Array, Array, Array]:
    first, columns = days.argmax(axis=0), np.arange(days.shape[1])
    has = np.where(days.any(axis=0), 1.0, np.nan)
    return (went.store[first, columns] * feeds * has, (went.short * days).sum(axis=0) * has,
            (hours.stood * days).sum(axis=0) * has)  # fmt: skip
