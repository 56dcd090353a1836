"""From scale and its price to advice: cleans that pay whichever law of scale holds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from ratoon.account.figures.since_clean import LAWS, Fitted, Floats, SinceClean
from ratoon.account.figures.surfaces import TOLD, Season
from ratoon.base.errors import BadInput
from ratoon.plans.best.scale import MoneyByScale
from ratoon.plans.clean.programme import (
    Days,
    Money,
    Plan,
    Question,
    Way,
    earned_by,
    programme,
    without_each,
)
from ratoon.plans.clean.result import (
    ByLaw,
    Clean,
    CleanResult,
    CoefficientOn,
    DayAhead,
    EffectScale,
    LawFit,
    VesselScale,
    Waiting,
)
from ratoon.settings.cleaning import CleaningGroupRow, CleaningSettings
from ratoon.settings.season import PlannedStop

DRAWS = 200
SURE = 1.96  # standard uncertainties that a gain must exceed
BEYOND = 30
"""Days after the last that is shown, so that a clean near it is not judged by too few."""
MOST_SETS = 3
CAUTIONS = (
    "Chemical cleaning: caustic and acid are never mixed; rinse and prove between them. Hot "
    "caustic burns: eye and skin protection, showers tried before the start.",
    "Isolate, drain, vent and prove before opening: steam, vapour, juice, condensate, chemicals.",
    "A vessel is a confined space: permit, gas test, standby and rescue before anybody enters.",
    "This advises a date and nothing else. Local codes, the site's procedures and licensed people "
    "decide how it is done.",
)  # fmt: skip


@dataclass(frozen=True)
class Ahead:
    """The days to plan: the first, hours and chances of each, and what the mill file lacks."""

    first: date
    shown: int
    days: Days
    stated: CleaningSettings

    def date(self, day: int) -> date:
        return self.first + timedelta(day)


def days_ahead(
    first: date, shown: int, crushes: float, stated: CleaningSettings,
    planned: Sequence[PlannedStop] = (),
) -> Ahead:  # fmt: skip
    """The days from the first on, and some beyond those shown.

    Parameters
    ----------
    crushes : hours that an ordinary day crushes. planned : the season's stops.
    """
    every = [first + timedelta(k) for k in range(shown + BEYOND)]
    rain = stated.rain
    stands = np.array([_stands(d, planned) for d in every])
    chance = np.array([(rain.chance(d) or 0.0) if rain else 0.0 for d in every])
    crush = np.maximum(crushes * (1.0 - stands / 24.0), 0.0)
    return Ahead(first, shown, Days(crush, np.minimum(stands, 24.0), chance), stated)


def _stands(day: date, planned: Sequence[PlannedStop]) -> float:
    """Hours that the mill stands by plan on a day."""
    since = [((day - s.first).days, s) for s in planned]
    mine = [s.hours / 3600.0 for days, s in since
            if days == 0 or (s.every and days > 0 and days % s.every == 0)]  # fmt: skip
    return max(mine, default=0.0)


def sets_of(groups: Sequence[CleaningGroupRow], effects: Sequence[int]) -> list[tuple[int, ...]]:
    """Effects that are always cleaned together, the oftenest cleaned first; all as one without
    groups.

    Raises
    ------
    BadInput : an effect that is not there, or too many sets for a plan.
    """
    for k, row in enumerate(groups, 1):
        where = f"mill.toml: cleaning.groups[{k}].effects"
        if not row.effects:
            raise BadInput("names no effect", where=where)
        for effect in row.effects:
            if effect not in effects:
                raise BadInput("no such effect", where=where, value=effect,
                               allowed=", ".join(map(str, effects)))  # fmt: skip
    found: dict[tuple[bool, ...], list[int]] = {}
    for effect in effects:
        found.setdefault(tuple(effect in row.effects for row in groups), []).append(effect)
    if len(found) > MOST_SETS:
        raise BadInput(
            f"effects are cleaned apart in {len(found)} ways", where="mill.toml: cleaning.groups",
            allowed=f"up to {MOST_SETS} sets of effects that are always cleaned together",
        )  # fmt: skip
    return [tuple(e) for _, e in sorted(found.items(), key=lambda item: -sum(item[0]))]


def ways_of(groups: Sequence[CleaningGroupRow], sets: Sequence[tuple[int, ...]]) -> list[Way]:
    """The mill file's groups as ways to clean sets of effects."""
    return [
        Way(tuple(k for k, effects in enumerate(sets) if effects and effects[0] in row.effects),
            row.hours / 3600.0 * (1.0 - row.by_pass), row.cost)
        for row in groups
    ]  # fmt: skip


@dataclass(frozen=True)
class Judged:
    """A clean of a plan with draws of what it gains under each law."""

    day: int
    way: int
    draws: Mapping[str, Floats]

    @property
    def by_law(self) -> dict[str, ByLaw]:
        return {name: _gain(draws) for name, draws in self.draws.items()}

    def over_all(self, weights: Sequence[float]) -> ByLaw:
        """Over the laws by their weights."""
        every = np.concatenate(list(self.draws.values()))
        return _gain(every, np.repeat(weights, len(every) // len(weights)))

    @property
    def sureness(self) -> float:
        """The least over the laws of gain over its uncertainty."""
        return min(g.gain / max(g.sigma, 1e-9) for g in self.by_law.values())


def advised(question: Question, money: MoneyByScale) -> tuple[list[Judged], dict[int, int]]:
    """The best plan, less what is not sure to gain under every law; and by day what to clean should
    rain stop the mill.

    Notes
    -----
    The gain of a clean is the money of the plan less that of the plan with it left out, the others
    on their days. The least sure is left out first, and the rest are judged anew.
    """
    plan, in_rain = programme(question).plan()
    by_law = {law.name: money.by_law(k, DRAWS) for k, law in enumerate(LAWS)}
    while True:
        judged = [_judged(question, by_law, plan, *pair) for pair in without_each(plan)]
        least = min(judged, key=lambda j: j.sureness, default=None)
        if least is None or least.sureness > SURE:
            return judged, _sure_in_rain(question, by_law, plan, in_rain)
        plan = tuple(p for p in plan if p != (least.day, least.way))


def _sure_in_rain(
    question: Question, by_law: Mapping[str, Money], plan: Plan, in_rain: Mapping[int, int]
) -> dict[int, int]:
    """Cleans in rain, which cost no crushing, from the first day on that is sure to gain.

    Scale only grows: what is sure on a day is sure until the next clean of the plan.
    """
    stood = replace(question, ways=[replace(way, hours=0.0) for way in question.ways])
    asked = [replace(stood, money=money) for money in by_law.values()]
    without = [earned_by(one, plan) for one in asked]
    found, sure = {}, False
    planned = {day for day, _ in plan}
    for day in range(len(question.days)):
        way = in_rain.get(day)
        if way is not None and question.days.rain[day] > 0.0 and day not in planned:
            if not sure:
                more = (*plan, (day, way))
                gains = (_gain(earned_by(one, more) - rest) for one, rest in zip(asked, without))
                sure = all(g.gain > SURE * g.sigma for g in gains)
            if sure:
                found[day] = way
        sure = sure and day not in planned
    return found


def _judged(
    question: Question, by_law: Mapping[str, Money], plan: Plan, one: tuple[int, int], rest: Plan
) -> Judged:
    gains = {}
    for name, money in by_law.items():
        asked = replace(question, money=money)
        gains[name] = earned_by(asked, plan) - earned_by(asked, rest)
    return Judged(*one, gains)


def _gain(draws: Floats, weights: Floats | None = None) -> ByLaw:
    """The middle of the draws, and how uncertain that is on the low side.

    What a clean gains is lopsided: scale that grows faster than thought gains much more. So the
    standard uncertainty is the one by which 1.96 of them reach down to the lowest 2.5 %.
    """
    order = np.argsort(draws)
    chance = (np.ones(len(draws)) if weights is None else weights)[order]
    chance = (np.cumsum(chance) - 0.5 * chance) / chance.sum()
    low, middle = np.interp((0.025, 0.5), chance, draws[order])
    return ByLaw(float(middle), float(middle - low) / SURE)


def told(
    start: date, currency: str, season: Season, scales: Mapping[int, SinceClean], ahead: Ahead,
    question: Question | None, money: MoneyByScale | None, lacking: Sequence[str],
    notes: Sequence[str],
) -> CleanResult:  # fmt: skip
    """The answer of `ratoon clean`."""
    plan: list[Clean] = []
    in_rain: dict[int, int] = {}
    waiting: tuple[Waiting, ...] = ()
    groups = ahead.stated.groups
    if question is not None and money is not None:
        waiting = tuple(_waiting(question, ahead))
        if question.ways:
            judged, in_rain = advised(question, money)
            weights = money.scale.weights().tolist()
            plan = [_clean(j, question, ahead, groups, j.over_all(weights)) for j in judged
                    if j.day < ahead.shown]  # fmt: skip
    rain = ahead.stated.rain
    days = tuple(
        DayAhead(ahead.date(k).isoformat(), float(ahead.days.stands[k]),
                 rain.chance(ahead.date(k)) if rain else None,
                 groups[in_rain[k]].name if k in in_rain else "")
        for k in range(ahead.shown)
    )  # fmt: skip
    effects = tuple(_effect(season, e, s, ahead, start) for e, s in scales.items())
    return CleanResult(start.isoformat(), currency, effects, waiting, tuple(plan), tuple(lacking),
                       days, tuple(notes), CAUTIONS)  # fmt: skip


def _waiting(question: Question, ahead: Ahead) -> list[Waiting]:
    since = np.array([question.times(day)[0][0] for day in range(ahead.shown)])
    none, sets = np.zeros(ahead.shown), question.sets
    clean = question.money([none] * sets, [none + 1.0] * sets, True)
    hours = ahead.days.expected[: ahead.shown]
    a_day, fresh = (
        (clean - question.money([since] * sets, [none + new] * sets, True)) * hours
        for new in (0.0, 1.0)
    )
    return [Waiting(k + 1, ahead.date(k).isoformat(), float(m), float(f))
            for k, (m, f) in enumerate(zip(a_day, fresh))]  # fmt: skip


def _clean(
    judged: Judged, question: Question, ahead: Ahead, groups: Sequence[CleaningGroupRow],
    gain: ByLaw,
) -> Clean:  # fmt: skip
    row, way = groups[judged.way], question.ways[judged.way]
    lost, stands = ahead.days.lost(way, judged.day), float(ahead.days.stands[judged.day])
    stop = "planned stop" if stands else "a stop of its own"
    if stands and lost:
        stop = f"planned stop, and {lost:.0f} h more"
    elif row.by_pass and not stands:
        stop = f"crushing on at {100.0 * row.by_pass:.0f} % by a by-pass"
    return Clean(ahead.date(judged.day).isoformat(), row.name, row.effects, lost, gain.gain,
                 gain.sigma, stop, row.cost, judged.by_law)  # fmt: skip


def _laws(laws: Sequence[Fitted]) -> tuple[LawFit, ...]:
    return tuple(
        LawFit(f.law.name, f.slope, float(f.spread[0, 0]) ** 0.5, f.chi2, f.weight) for f in laws
    )


def _effect(
    season: Season, effect: int, since: SinceClean, ahead: Ahead, start: date
) -> EffectScale:
    forecast = []
    for day in range(ahead.shown):
        age = since.crushed + float(ahead.days.clock[day + 1])
        forecast.append(_on(day + 1, ahead.date(day), since.at(age)))
    found = [_on((f.day - start).days, f.day, (f.value, f.sigma)) for f in since.figures]
    smoothed = tuple(tuple(_on((d.day - start).days, d.day, (d.value, d.sigma)) for d in run.days)
                     for run in since.runs)  # fmt: skip
    return EffectScale(
        effect, _cleaned(since), since.crushed, *since.at(since.crushed), since.clean()[0],
        season.usual_brix(effect), tuple(forecast), _laws(since.laws),
        tuple(_vessels(season, effect)), tuple(found), smoothed,
    )  # fmt: skip


def _on(day: int, when: date, figure: tuple[float, float]) -> CoefficientOn:
    return CoefficientOn(day, when.isoformat(), *figure)


def _cleaned(since: SinceClean) -> str:
    last = since.runs[-1].cleaned
    return last.isoformat() if last else ""


def _vessels(season: Season, effect: int) -> list[VesselScale]:
    found = []
    for vessel, _ in enumerate(season.vessels(effect), 1):
        told = season.vessel(effect, vessel)
        if told is None or told[0] >= TOLD or told[2] is None:
            continue
        since = told[2]
        now = since.at(since.crushed)
        found.append(VesselScale(vessel, _cleaned(since), since.crushed, *now, since.clean()[0],
                                 _laws(since.laws)))  # fmt: skip
    return found
