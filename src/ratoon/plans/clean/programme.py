"""When to clean: days ahead, what scale costs on each, and the cleans that leave the most money.

Nothing here knows a mill: surfaces that are cleaned together have a time since their clean, money
an hour follows from those times, and a clean costs money and hours. Times are days of crushing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Money = Callable[[Sequence[Floats], Sequence[Floats], bool], Floats]
"""Money an hour by the scale on each set of surfaces: days of crushing since a clean that is still
to come (1), or since the start of the days with the scale there then (0). All pairings of the sets'
times, one axis a set; or, where the last is true, one after the other along one axis, the last."""


@dataclass(frozen=True, slots=True)
class Way:
    """A way to clean: which sets of surfaces, the hours that the mill stands, the cost."""

    sets: tuple[int, ...]
    hours: float
    cost: float = 0.0


@dataclass(frozen=True)
class Days:
    """The days ahead.

    Parameters
    ----------
    crush : hours that each day crushes when nothing is cleaned. stands : hours that the mill
        stands on it anyway, in which a clean costs no crushing. rain : chance that rain stops the
        mill for the whole day; a clean then costs no crushing either.
    """

    crush: Floats
    stands: Floats
    rain: Floats

    def __len__(self) -> int:
        return len(self.crush)

    @property
    def expected(self) -> Floats:
        """Hours that each day crushes, rain counted by its chance."""
        return self.crush * (1.0 - self.rain)

    @property
    def clock(self) -> Floats:
        """Days of crushing from the start to the beginning of each day, and to the end."""
        return np.concatenate([[0.0], np.cumsum(self.expected)]) / 24.0

    def lost(self, way: Way, day: int) -> float:
        """Hours of crushing that a clean costs on a day without rain."""
        return float(min(max(way.hours - self.stands[day], 0.0), self.crush[day]))


Plan = tuple[tuple[int, int], ...]
"""Cleans in order: day from the start, and number of the way."""


@dataclass(frozen=True)
class Question:
    """When to clean what; `sets` is how many sets of surfaces there are."""

    money: Money
    ways: Sequence[Way]
    days: Days
    sets: int

    def times(self, day: int) -> tuple[Floats, Floats]:
        """Days of crushing since each clean in the middle of a day; whether it is one to come.

        Position 0 is the start with the scale there then, position k a clean on day k - 1.
        """
        clock = self.days.clock
        middle = clock[day] + self.days.expected[day] / 48.0
        since = middle - np.concatenate([[0.0], clock[: day + 1]])
        return since, np.concatenate([[0.0], np.ones(day + 1)])

    def money_on(self, day: int) -> Floats:
        """Money an hour in the middle of a day, whenever each set of surfaces was cleaned last."""
        since, new = self.times(day)
        return self.money([since] * self.sets, [new] * self.sets, False)


@dataclass(frozen=True)
class Programme:
    """What is best on each day in each state, dry and wet: the number of a way, -1 for none.

    A state is the position of each set of surfaces in `Question.times`.
    """

    question: Question
    money: float
    dry: tuple[Any, ...]
    wet: tuple[Any, ...]

    def way(self, day: int, state: Sequence[int], wet: bool) -> int:
        """What to do on a day."""
        return int((self.wet if wet else self.dry)[day][tuple(state)])

    def after(self, day: int, state: Sequence[int], way: int) -> list[int]:
        """The state when it is done."""
        cleaned = self.question.ways[way].sets if way >= 0 else ()
        return [day + 1 if s in cleaned else at for s, at in enumerate(state)]

    def plan(self) -> tuple[Plan, dict[int, int]]:
        """The cleans where no rain comes; by day, as the plan stands then, the way should it."""
        plan, in_rain, state = [], {}, [0] * self.question.sets
        for day in range(len(self.dry)):
            if (k := self.way(day, state, True)) >= 0:
                in_rain[day] = k
            if (k := self.way(day, state, False)) >= 0:
                plan.append((day, k))
                state = self.after(day, state, k)
        return tuple(plan), in_rain


def programme(question: Question) -> Programme:
    """The most money that the days leave, by dynamic programme.

    Notes
    -----
    Method: backward induction, exact on the days: a state is the day of the last clean of each set
    of surfaces. Rain is not known ahead: on each day what is worth most is done on either kind.
    """
    days, ways, sets = question.days, question.ways, question.sets
    after: Floats = np.zeros((len(days) + 1,) * sets)
    dry: list[Any] = []
    wet: list[Any] = []
    for day in reversed(range(len(days))):
        money, size = question.money_on(day), day + 1
        here = (slice(size),) * sets
        dry_best = after[here] + money[here] * days.crush[day]
        wet_best = after[here].copy()
        dry_way, wet_way = (np.full((size,) * sets, -1) for _ in range(2))
        for k, way in enumerate(ways):
            there = tuple(slice(size, size + 1) if s in way.sets else slice(size)
                          for s in range(sets))  # fmt: skip
            hours = days.crush[day] - days.lost(way, day)
            for best, which, earned in ((dry_best, dry_way, money[there] * hours),
                                        (wet_best, wet_way, 0.0)):  # fmt: skip
                gives = np.broadcast_to(after[there] + earned - way.cost, best.shape)
                better = gives > best
                best[better], which[better] = gives[better], k
        after = (1.0 - days.rain[day]) * dry_best + days.rain[day] * wet_best
        dry.append(dry_way)
        wet.append(wet_way)
    return Programme(question, float(after[(0,) * sets]), tuple(dry[::-1]), tuple(wet[::-1]))


def earned_by(question: Question, plan: Iterable[tuple[int, int]]) -> Any:
    """What a plan of cleans leaves in all, rain counted by its chance alone."""
    days, by_day, at = question.days, dict(plan), [0] * question.sets
    hours, costs = days.crush.copy(), 0.0
    ages, new = (np.zeros((question.sets, len(days))) for _ in range(2))
    for day in range(len(days)):
        if (k := by_day.get(day)) is not None:
            way = question.ways[k]
            at = [day + 1 if s in way.sets else a for s, a in enumerate(at)]
            hours[day] -= days.lost(way, day)
            costs += way.cost
        since, to_come = question.times(day)
        ages[:, day], new[:, day] = since[at], to_come[at]
    return question.money(list(ages), list(new), True) @ (hours * (1.0 - days.rain)) - costs


def without_each(plan: Plan) -> Iterator[tuple[tuple[int, int], Plan]]:
    """Each clean of a plan, and the plan with it left out."""
    for k, one in enumerate(plan):
        yield one, plan[:k] + plan[k + 1 :]


@dataclass(frozen=True, slots=True)
class Cycle:
    """A clean at the same time each round: that time, and what it brings for each of `per`."""

    time: float
    ratio: float


def best_cycle(
    earns: Callable[[Floats], Floats], clean: float, step: float, most: float,
    per: Callable[[Floats], Floats] = np.ones_like, clean_per: float = 0.0,
) -> Cycle:  # fmt: skip
    """The time between cleans that brings the most in the long run.

    Parameters
    ----------
    earns : what a unit of time brings, at times since the clean. clean : what a clean brings
        (a cost is below zero). per : what it is brought for: time itself, unless something else is
        to be had dear, such as heat passed. clean_per : of that in a clean: its length.
    step, most : times are whole steps up to `most`.

    Notes
    -----
    Method: the greatest ratio of what a round brings to what it is brought for is the price at
    which a round that is ended at its best time leaves nothing; found by trying that ratio, ending
    the round where it leaves most, and taking the ratio there (Dinkelbach's steps, exact on the
    steps of time).
    """
    times = np.arange(step, most + step / 2.0, step)
    middle = times - step / 2.0
    brings = clean + np.cumsum(earns(middle)) * step
    spent = clean_per + np.cumsum(per(middle)) * step
    ratio, at = brings[0] / spent[0], -1
    while at != (best := int(np.argmax(brings - ratio * spent))):
        at, ratio = best, brings[best] / spent[best]
    return Cycle(float(times[at]), float(ratio))
