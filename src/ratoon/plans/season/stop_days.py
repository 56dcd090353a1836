"""Which day to stop: the season's futures once with the stop on its planned day and once moved.

The same futures are used each time, so what they differ by is the move alone. A stop takes the
hours that the day would have run: few where the ground is wet anyway. Waiting may end in a failure,
drawn beforehand day by day, and lets scale grow. Cane on hand when the mill stops ages by as long.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ratoon.plans.season.draws import Array
from ratoon.plans.season.faults import Fault, weighed
from ratoon.plans.season.fuel import STANDS
from ratoon.plans.season.futures import BLOCK, CAUSES, Crushed, Fit, crushed, draw, valued
from ratoon.plans.season.given import Rules
from ratoon.plans.season.rules import planned_ahead
from ratoon.plans.season.stops_answer import (
    NextStop,
    StopAdvice,
    StopDay,
    StopRule,
    StopsAnswer,
)
from ratoon.settings.season import PlannedStop

FUTURES = 2_000
SURE = 2.0
"""Standard errors that a gain must exceed to be advised."""
AGEING, AGEING_SIGMA = 0.75 / 24.0, 0.13 / 24.0
"""Units of CCS that cut billets lose in an hour: half a unit to one a day (common practice)."""
Days = NDArray[np.int64]


@dataclass(frozen=True)
class Waiting:
    """What the futures do not know.

    Parameters
    ----------
    scale : money that scale costs on each day ahead if nothing is cleaned, and on each day after a
        clean; empty where nobody can tell. unsure : relative uncertainty of it.
    on_hand : cane cut and not yet crushed, usually [t]; None where it is not known.
    """

    scale: tuple[tuple[float, float], ...] = ()
    unsure: float = 0.0
    on_hand: float | None = None

    def fouling(self, day: int, until: int) -> float:
        """Money that scale costs until the next stop if it is cleaned on a day [days ahead]."""
        return self._sum(0, day) + self._sum(1, max(until - day, 0))

    def _sum(self, which: int, days: int) -> float:
        """Money of so many days; beyond those told it grows at their mean pace."""
        told = [one[which] for one in self.scale]
        pace = (told[-1] - told[0]) / max(len(told) - 1, 1)
        beyond = range(1, days - len(told) + 1)
        return float(sum(told[:days]) + sum(told[-1] + pace * n for n in beyond))


@dataclass(frozen=True)
class Asked:
    """The stop to be moved, the others, and what is known beside the futures."""

    fit: Fit
    others: Array
    day: int | None
    stop: PlannedStop | None
    until: int
    waiting: Waiting
    fault: Fault | None

    @property
    def hours(self) -> float:
        return self.stop.hours / 3600.0 if self.stop else 0.0

    @property
    def days(self) -> list[int]:
        """Days on which it may be: its own, and later ones of which there is notice enough."""
        if self.day is None or self.stop is None:
            return []
        later = range(self.day + 1, self.day + self.stop.movable + 1)
        last = min(self.until, self.fit.days)
        return [self.day, *(d for d in later if d >= self.stop.notice and d < last)]


def asked(rules: Rules, at: date, fit: Fit, waiting: Waiting, fault: Fault | None) -> Asked:
    """The next planned stop, and the hours of the others."""
    ahead = planned_ahead(rules.planned_stops, at, fit.days)
    first = ahead[0] if ahead else None
    others = np.zeros(fit.days) if rules.planned_stops else fit.planned.copy()
    for n, stop in ahead[1:]:
        others[n] += stop.hours / 3600.0
    until = ahead[1][0] if len(ahead) > 1 else fit.days
    return Asked(fit, others, first[0] if first else None, first[1] if first else None, until,
                 waiting, fault)  # fmt: skip


@dataclass(frozen=True)
class Futures:
    """A block of futures: its draws, and for each day whether waiting ends in a failure."""

    asked: Asked
    draws: Mapping[Any, Any]
    chance: Array

    @property
    def count(self) -> int:
        return int(self.chance.shape[1])

    @cached_property
    def offered(self) -> Array:
        """Hours that each future offers without the stop."""
        return np.asarray(self.run(self.planned())[0].offered.sum(axis=0))

    def planned(self, *stops: tuple[Days | int, float]) -> Array:
        """Hours of planned stops by day and future, with these: their days, their hours."""
        made = np.repeat(self.asked.others[:, None], self.count, axis=1)
        for days, hours in stops:
            day = np.broadcast_to(np.asarray(days, dtype=np.int64), self.count)
            inside = day < len(made)
            made[day[inside], np.arange(self.count)[inside]] += hours
        return made

    def run(self, planned: Array, slow: tuple[float, int] | None = None) -> tuple[Crushed, Array]:
        """Tonnes and money; `slow`: most t/h, up to a day."""
        draws = self.draws
        if slow is not None:
            rate, waits, tail = draws["rate"]
            rate = rate.copy()
            rate[: slow[1]] = np.minimum(rate[: slow[1]], slow[0])
            draws = {**draws, "rate": (rate, waits, tail)}
        c = crushed(self.asked.fit, draws, planned=planned)
        return c, valued(self.asked.fit, c, draws).money

    def failed(self, until: Days | int, chance: float) -> Days:
        """First day from the planned one on, and before another, on which waiting fails; beyond
        all days where none does."""
        first = self.asked.day or 0
        days = np.arange(len(self.chance))[:, None]
        fails = (self.chance < chance) & (days >= first) & (days < until)
        return np.where(fails.any(axis=0), fails.argmax(axis=0), len(self.chance))

    def wet(self, day: Days) -> Array:
        """Share of its hours that a day loses to wet ground."""
        return np.asarray(self.draws["rain"][0][day, np.arange(self.count)])


@dataclass(frozen=True)
class Moved:
    """What a day or rule makes of each future beside the planned day; money but for the hours."""

    hours: Array
    risk: Array
    age: Array
    fouling: Array
    money: Array


def moved(f: Futures, choose: Callable[[Futures], Days], plain: Moved | None = None) -> Moved:
    """The stop on the day that is chosen in each future; `plain`: on its planned day."""
    a = f.asked
    assert a.stop is not None and a.day is not None
    day = choose(f)
    c, money = f.run(f.planned((day, a.hours)))
    lost = f.offered - c.offered.sum(axis=0)
    risk = np.zeros(f.count)
    if a.stop.risk and (day > a.day).any():
        failed = f.failed(day, a.stop.risk)
        also = f.planned((day, a.hours), (failed, a.stop.risk_hours / 3600.0))
        risk = money - f.run(also)[1]
    unit = a.fit.costs.sugar * a.fit.curve.recovery.told()[0] / 100.0
    hand = a.waiting.on_hand or 0.0
    age = hand * (1.0 - f.wet(day)) * a.hours * AGEING * unit
    fouling = np.zeros(f.count)
    if a.waiting.scale:
        cost = {int(d): a.waiting.fouling(int(d), a.until) for d in np.unique(day)}
        fouling = np.array([cost[int(d)] for d in day])
    whole = money - risk - age - fouling
    return Moved(lost, risk, age, fouling, whole - plain.money if plain else whole)


def futures_of(asked_: Asked, seed: int, count: int = FUTURES) -> Iterator[Futures]:
    """Blocks of futures with the failures of waiting."""
    for number, n in enumerate(range(0, count, BLOCK)):
        size = min(BLOCK, count - n)
        key = (number * BLOCK, len(CAUSES), 1)
        rng = np.random.default_rng(np.random.SeedSequence(seed, spawn_key=key))
        draws = {c: draw(asked_.fit, seed, number, c, 0, size) for c in CAUSES}
        yield Futures(asked_, draws, rng.random((asked_.fit.days, size)))


def on_day(day: int) -> Callable[[Futures], Days]:
    """The stop on a day, whatever comes."""
    return lambda f: np.full(f.count, day)


def first_wet(last: int) -> Callable[[Futures], Days]:
    """The stop when the first wet day from the planned one on has had its notice, else on a day."""

    def choose(f: Futures) -> Days:
        a = f.asked
        assert a.day is not None and a.stop is not None
        wet = f.draws["rain"][0][a.day : last + 1] >= STANDS
        day = a.day + wet.argmax(axis=0) + a.stop.notice
        return np.where(wet.any(axis=0), np.minimum(day, last), last)

    return choose


def stops_answer(
    at: date, a: Asked, currency: str, lacking: Sequence[str], seed: int = 0, count: int = FUTURES
) -> StopsAnswer:
    """The next planned stop on each day and by each rule, and a fault's choices."""
    blocks = list(futures_of(a, seed, count))
    fault = tuple(weighed(blocks, a.fault)) if a.fault else None
    if a.stop is None or a.day is None:
        none = StopAdvice("no planned stop ahead", 0.0, 0.0)
        return StopsAnswer(at.isoformat(), None, (), (), none, fault, currency, tuple(lacking))
    plain = [moved(f, on_day(a.day)) for f in blocks]
    base = [replace(p, money=np.zeros_like(p.money)) for p in plain]
    days: dict[int, list[Moved]] = {a.day: base}
    for day in a.days[1:]:
        days[day] = [moved(f, on_day(day), p) for f, p in zip(blocks, plain)]
    rules = {last: [moved(f, first_wet(last), p) for f, p in zip(blocks, plain)]
             for last in a.days[1:]}  # fmt: skip
    text = {last: _rule(a.stop.notice, _day(at, a.day), _day(at, last)) for last in a.days}
    crew, unsure = a.stop.crew_cost, a.waiting.unsure
    told = tuple(
        StopDay(_day(at, day), _mean([m.hours for m in made]),
                _mean([m.fouling for m in made]) if a.waiting.scale else None,
                _mean([m.risk for m in made]),
                _mean([m.age for m in made]) if a.waiting.on_hand is not None else None, crew,
                *_gain(made, base, unsure)) for day, made in days.items()
    )  # fmt: skip
    ruled = tuple(StopRule(text[last], *_gain(made, base, unsure)) for last, made in rules.items())
    every = [(f"stop on {_day(at, day)}", made) for day, made in days.items()]
    every += [(text[last], made) for last, made in rules.items()]
    stop = NextStop(_day(at, a.day), a.stop.cause, a.hours, a.stop.movable, a.stop.notice)
    advice = _advice(every, base, unsure)
    return StopsAnswer(at.isoformat(), stop, told, ruled, advice, fault, currency, tuple(lacking))


def _rule(notice: int, first: str, last: str) -> str:
    told = f" with {notice} {'day' if notice == 1 else 'days'} of notice" if notice else ""
    return f"first wet day from {first} on{told}, else {last}"


def _day(at: date, day: int) -> str:
    return (at + timedelta(days=day)).isoformat()


def _mean(parts: Sequence[Array]) -> float:
    return float(np.concatenate(parts).mean())


def _gain(
    made: Sequence[Moved], base: Sequence[Moved], unsure: float
) -> tuple[float, float]:  # fmt: skip
    """Mean of what is gained and its standard error; how fast cane ages and scale grows is
    uncertain too."""
    money = np.concatenate([m.money for m in made])
    aged, fouled = (
        _mean([getattr(m, name) for m in made]) - _mean([getattr(m, name) for m in base])
        for name in ("age", "fouling")
    )
    error = (money.std() / np.sqrt(len(money)), aged * AGEING_SIGMA / AGEING,
             fouled * unsure)  # fmt: skip
    return float(money.mean()), float(np.linalg.norm(error))


def _advice(
    every: Sequence[tuple[str, Sequence[Moved]]], base: Sequence[Moved], unsure: float
) -> StopAdvice:  # fmt: skip
    """The best by the first futures, its gain by the others: the best of many looks too good."""
    first, rest = (slice(0, 1), slice(1, None)) if len(base) > 1 else (slice(None), slice(None))
    what, made = max(every, key=lambda one: _gain(one[1][first], base[first], unsure)[0])
    gain, sigma = _gain(made[rest], base[rest], unsure)
    if gain <= SURE * sigma or gain <= 0.0:
        return StopAdvice("keep the planned day", 0.0, sigma)
    return StopAdvice(what, gain, sigma)
