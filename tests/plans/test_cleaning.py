"""The plan of cleans: equal to exhaustive search, and what must hold of it whatever the numbers."""

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from ratoon.plans.clean.programme import Days, Plan, Question, Way, best_cycle, earned_by, programme

Floats = NDArray[np.float64]
DAYS = 20
WAYS = (Way((0,), 9.0, 900.0), Way((0, 1), 14.0, 1600.0))


def money(ages: Sequence[Floats], new: Sequence[Floats], along: bool) -> Floats:
    """Two sets of surfaces in line: scale takes rate only once both together take enough."""
    (a, b), (a_new, b_new) = ages, new
    one = (0.3 + 0.10 * (a + 5.0 * (1.0 - a_new))) ** 0.5
    two = (0.2 + 0.02 * (b + 9.0 * (1.0 - b_new))) ** 0.5
    drop = one + two if along else one[:, None] + two[None, :]
    return 1000.0 * np.minimum(1.0, 1.4 / drop)


def question(seed: int, rain: float = 0.0, days: int = DAYS) -> Question:
    rng = np.random.default_rng(seed)
    crush, stands = rng.uniform(19.0, 24.0, days), np.zeros(days)
    for day in rng.choice(days, 2, replace=False):
        crush[day], stands[day] = 11.0, 12.0
    return Question(money, WAYS, Days(crush, stands, np.full(days, rain)), 2)


def every(days: int, most: int) -> Iterator[Plan]:
    for n in range(most + 1):
        for on in itertools.combinations(range(days), n):
            for ways in itertools.product(range(len(WAYS)), repeat=n):
                yield tuple(zip(on, ways))


@pytest.mark.parametrize("seed", [20310610, 20310611])
def test_equal_to_exhaustive_search(seed: int) -> None:
    """Twenty days, every plan of up to three cleans; cleans dear enough that no more pay."""
    asked = question(seed)
    asked = replace(asked, ways=[replace(w, cost=8.0 * w.cost) for w in WAYS])
    value, (plan, _) = programme(asked).money, programme(asked).plan()
    assert 0 < len(plan) <= 3
    by_day = [asked.money_on(day).tolist() for day in range(DAYS)]
    crush = asked.days.crush.tolist()
    lost = [[asked.days.lost(w, day) for w in asked.ways] for day in range(DAYS)]

    def earned(tried: Plan) -> float:
        one, two, at, total = 0, 0, dict(tried), 0.0
        for day in range(DAYS):
            hours = crush[day]
            if (k := at.get(day)) is not None:
                one, two = day + 1, day + 1 if k else two
                hours -= lost[day][k]
                total -= asked.ways[k].cost
            total += by_day[day][one][two] * hours
        return total

    tried = [(earned(p), p) for p in every(DAYS, 3)]
    assert len(tried) == 1 + 40 + 190 * 4 + 1140 * 8
    most, which = max(tried)
    assert value == pytest.approx(most, rel=1e-12)
    assert plan == which


def test_what_it_says_it_earns_is_what_the_plan_earns() -> None:
    asked = question(3)
    value, (plan, _) = programme(asked).money, programme(asked).plan()
    assert plan and value == pytest.approx(float(earned_by(asked, plan)), rel=1e-12)
    for day, k in plan:
        moved = [(d + (d == day), w) for d, w in plan]
        if day + 1 < DAYS and len({d for d, _ in moved}) == len(plan):
            assert float(earned_by(asked, moved)) <= value + 1e-9, k


def test_with_rain_equal_to_trying_every_choice_on_every_kind_of_day() -> None:
    """Five days, each dry or wet by chance; what is done may follow what came."""
    asked = question(5, rain=0.3, days=5)
    days = asked.days

    def most(day: int, at: tuple[int, ...]) -> float:
        if day == len(days):
            return 0.0
        since, new = asked.times(day)
        worth = []
        for wet in (False, True):
            tried = []
            for way in (None, *WAYS):
                to = tuple(day + 1 if way and s in way.sets else a for s, a in enumerate(at))
                hours = 0.0 if wet else days.crush[day] - (days.lost(way, day) if way else 0.0)
                an_hour = money([since[[a]] for a in to], [new[[a]] for a in to], True)[0]
                tried.append(an_hour * hours - (way.cost if way else 0.0) + most(day + 1, to))
            worth.append(max(tried))
        return float(0.7 * worth[0] + 0.3 * worth[1])

    assert programme(asked).money == pytest.approx(most(0, (0, 0)), rel=1e-12)


def test_a_planned_stop_is_used_and_a_dear_clean_is_not_made() -> None:
    asked = question(8)
    stops = set(np.flatnonzero(asked.days.stands))
    plan, _ = programme(asked).plan()
    assert stops & {day for day, _ in plan}
    dear = replace(asked, ways=[replace(w, cost=1e6) for w in WAYS])
    assert programme(dear).plan()[0] == ()


def test_rain_to_come_puts_a_clean_off() -> None:
    """A stop that costs nothing may come: the first stop of the mill's own comes later for it."""
    asked = question(8)
    open_days = replace(asked.days, stands=np.zeros(DAYS), crush=np.full(DAYS, 22.0))
    dry, wet = (replace(asked, days=replace(open_days, rain=np.full(DAYS, p))) for p in (0.0, 0.25))
    first, later = (programme(q).plan()[0][0][0] for q in (dry, wet))
    assert later > first
    assert set(programme(wet).plan()[1]) >= {first}  # rain that does come is used


def test_clocks_count_days_crushed() -> None:
    asked = question(11, rain=0.1)
    since, to_come = asked.times(4)
    assert list(to_come) == [0.0, 1.0, 1.0, 1.0, 1.0, 1.0]
    crushed = 0.9 * asked.days.crush / 24.0
    assert since[0] == pytest.approx(crushed[:4].sum() + crushed[4] / 2.0)
    assert since[5] == pytest.approx(crushed[4] / 2.0)


def test_the_best_cycle_beats_every_other() -> None:
    def earns(t: Floats) -> Floats:
        return np.asarray(1.0 - 0.004 * t)

    best = best_cycle(earns, -0.2, 0.01, 60.0, clean_per=0.5)
    for time in (5.0, 10.0, 15.0, 20.0, 30.0):
        mean = (time - 0.002 * time**2 - 0.2) / (time + 0.5)
        assert best.ratio >= mean
