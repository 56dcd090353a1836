"""Where the purity of molasses was lost or won, from the accounted days of a season."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ratoon.account.figures.exhaustion import cooling, mixtures, recirculation, unit_worth, washed
from ratoon.account.figures.purity_falls import (
    Change,
    Falls,
    Figures,
    changes,
    falls,
    figure_at,
    lost_words,
)
from ratoon.account.money.earned import terms
from ratoon.account.results.exhaustion import Exhaustion, ExhaustionDay, StepFall, Washed
from ratoon.base.errors import BadInput, RatoonError
from ratoon.base.strikes import StrikeFigure
from ratoon.jobs.mills import open_mill
from ratoon.jobs.sheet.history import DayFacts, History
from ratoon.jobs.strikes.purity_falls import steps_of
from ratoon.plant.cautions import CONFINED, DEFER, ROTATING

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.equations import Solution
    from ratoon.plant.boiled import Curing, Step

WASHED = 7  # days shown of wash and pol
NOTES = (
    "A step is wide by itself where the purity between was not read: see the line of both.",
    "A unit is worth what the day's own plant earns by it, with stocks standing still; what the "
    "pans leave to the last massecuite its crystallisers take up there, so that costs little.",
    "Not told: a reheater, stirrer load, colour. Nothing here reads them.",
)


def exhaustion_of(history: History, day: date | None = None) -> Exhaustion:
    """Falls of purity by step on a day and through its season, and what a unit is worth.

    Parameters
    ----------
    day : an accounted mill day with cane; the newest when left out.

    Raises
    ------
    BadInput : no such day, or no purity of a massecuite and its mother liquor on it.
    """
    facts, mill = history.days(), history.mill
    on = _day(facts, day)
    same, until = mill.calendar.same_season, on.isoformat()
    works = history.works(until)
    figures: Figures = works.get("figures", {})
    season = {d: f.works.get("figures", {}) for d, f in facts.items()
              if d <= until and same(date.fromisoformat(d), on)} | {until: figures}  # fmt: skip
    steps = steps_of(mill)
    by_day = {d: falls(steps, f) for d, f in season.items() if f}
    if not by_day.get(until):
        raise BadInput("no fall of purity can be told", where=until,
                       todo="Read purities of massecuites, nutsches and molasses.")  # fmt: skip
    beside = changes(list(by_day.values()))
    own = _own(mill, works)
    hours = facts[until].result.period.crushing_hours or 0.0
    told_steps = tuple(_step(mill, s, figures, by_day[until], beside, own, hours)
                       for s in steps if s.name in by_day[until])  # fmt: skip
    stations = mill.plant.works.stations
    curing = [c for station in stations for c in station.curing()]
    cool = next((c for station in stations for c in station.cools()), None)
    return Exhaustion(
        until, mill.settings.mill.currency, told_steps,
        tuple(_of_day(d, f, by_day[d]) for d, f in season.items() if d in by_day),
        recirculation(mill.plant, own, curing[-1]) if own is not None and curing else None,
        tuple(_washed(mill, curing, season)),
        cooling(cool, figures) if cool is not None else None,
        mixtures(mill.plant, works["state"]) if works.get("state") else (),
        lost_words(steps, beside) or "No step lost more than the days scatter.",
        NOTES, (ROTATING, CONFINED, DEFER),
    )  # fmt: skip


def exhaustion_in(folder: str, day: str) -> Exhaustion:
    """`exhaustion_of` in a process of its own."""
    with open_mill(Path(folder)) as opened:
        return exhaustion_of(History(opened.folder, lambda: opened.store),
                             date.fromisoformat(day))  # fmt: skip


def _day(facts: Mapping[str, DayFacts], day: date | None) -> date:
    ran = [d for d, f in facts.items() if f.result.period.crushing_hours]
    if day is None and not ran:
        raise BadInput("no mill day with cane is accounted yet", todo="ratoon day DATE")
    on = day or date.fromisoformat(ran[-1])
    if on.isoformat() not in facts:
        raise BadInput("is not accounted", where="DATE", value=on.isoformat(),
                       todo="ratoon day --list names the days that are.")  # fmt: skip
    if on.isoformat() not in ran:
        raise BadInput(f"no cane was crushed on {on.isoformat()}: there is no plant to ask",
                       where="DATE", todo="Choose a day with cane.")  # fmt: skip
    return on


def _own(mill: Mill, works: Mapping[str, Any]) -> Solution | None:
    """The day's own plant; None where it does not solve."""
    try:
        return mill.plant.solve(works["given"], works["state"])
    except (KeyError, RatoonError):
        return None


def _step(
    mill: Mill, step: Step, figures: Figures, today: Falls,
    beside: Mapping[str, Change], own: Solution | None, hours: float,
) -> StepFall:  # fmt: skip
    before, after = figure_at(figures, step.before), figure_at(figures, step.after)
    assert before is not None and after is not None
    found = beside.get(step.name)
    sold = terms(mill.roles, mill.settings.prices)
    worth = unit_worth(mill.plant, own, step, sold) if own is not None and sold else None
    return StepFall(
        step.grade, step.what, before, after, StrikeFigure(*today[step.name][:2], "%", "found"),
        found.usual if found else None, found.recent if found else None,
        found.change if found else None, bool(found and found.lost),
        None if worth is None else worth * hours, step.look,
    )  # fmt: skip


def _of_day(day: str, figures: Figures, fallen: Falls) -> ExhaustionDay:
    purity, expected, apart = (
        figure_at(figures, f"account.{name}")
        for name in ("molasses_purity", "target_purity", "purity_difference")
    )
    return ExhaustionDay(
        day,
        purity,
        expected,
        apart,
        {n: StrikeFigure(v, s, "%", "found") for n, (v, s, _) in fallen.items()},
    )


def _washed(
    mill: Mill, curing: Iterable[Curing], season: Mapping[str, Figures]
) -> Iterator[Washed]:
    """Wash of the grades that are shipped, the newest day first."""
    materials = mill.roles.materials("massecuite")
    for one in curing:
        if not mill.settings.pans[one.grade].shipped:
            continue
        stem = materials[one.grade].stem
        for d in [d for d in season if season[d]][: -WASHED - 1 : -1]:
            found = washed(d, one, season[d], f"{stem}.temperature", f"{stem}.crystal")
            if found is not None:
                yield found
