"""What a unit of purity is worth in each step, and what else moves the exhaustion of molasses."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from ratoon.account.figures.purity_falls import Figures, figure_at
from ratoon.account.money.earned import Term, earned
from ratoon.account.results.exhaustion import (
    Cooling,
    Mixture,
    Part,
    Recirculation,
    VolumePoint,
    Washed,
)
from ratoon.base import units
from ratoon.base.errors import RatoonError
from ratoon.properties.massecuite import cooling_course
from ratoon.properties.solution import sucrose_water_ratio

if TYPE_CHECKING:
    from ratoon.equations import Solution
    from ratoon.plant.boiled import Cools, Curing, Feed, Step
    from ratoon.plant.plant import Plant

UNIT = 0.01  # of purity, as people count it
FOLLOWS = 1e-5  # least move of a step by which it is priced
AROUND, POINTS = 0.04, 9  # purity of the last sugar on each side of the day's
COURSES = {"even": 1.0, "slow at first": 3.0, "fast at first": 1.0 / 3.0}
COURSE = 24  # parts of a drawn course


def unit_worth(plant: Plant, own: Solution, step: Step, sold: tuple[Term, ...]) -> float | None:
    """Money an hour of one unit more fall over a step; None where the plant does not answer."""
    point = plant.set_point_of(step.moved)
    here = own.given.get(point, own.values.get(point))
    if here is None:
        return None
    seen = []
    for by in (-step.by, step.by):
        try:
            there = plant.solve({**own.given, point: here + by}, own.values)
        except RatoonError:
            return None
        seen.append((there[step.before] - there[step.after], 3600.0 * earned(sold, there.values)))
    (low, less), (high, more) = seen
    return None if abs(high - low) < FOLLOWS else UNIT * float(more - less) / float(high - low)


def recirculation(plant: Plant, own: Solution, last: Curing) -> Recirculation | None:
    """Volume of the last massecuite at several purities of its sugar, all else as on the day."""
    at, points = own.given.get(last.purity, own.values[last.purity]), []
    for k in range(POINTS):
        purity = at + AROUND * (2.0 * k / (POINTS - 1) - 1.0)
        try:
            there = plant.solve({**own.given, last.purity: purity}, own.values)
        except RatoonError:
            continue
        molasses = plant.works.roles.stream("final molasses", there.values)
        points.append(VolumePoint(
            100.0 * purity, float(units.from_inside(there[last.volume], "m3/h")),
            float(units.from_inside(molasses.mass, "t/h")),
        ))  # fmt: skip
    return Recirculation(last.grade, 100.0 * at, tuple(points)) if points else None


def washed(date: str, one: Curing, figures: Figures, warm: str, crystal: str) -> Washed | None:
    """What a grade's wash did on a day.

    Parameters
    ----------
    warm, crystal : addresses of the temperature and the crystal content of its massecuite.
    """
    wash, pol, lost = (figure_at(figures, a) for a in (one.wash, one.pol, one.lost))
    if wash is None or pol is None or lost is None:
        return None
    t, held = figure_at(figures, warm, "degC"), figure_at(figures, crystal)
    most = (100.0 * wash.value * float(sucrose_water_ratio(t.value)) / held.value
            if t and held and held.value > 0.0 else None)  # fmt: skip
    return Washed(date, one.grade, wash, pol, lost, most)


def cooling(one: Cools, figures: Figures) -> Cooling | None:
    """The crystallisers' cooling with its hours, and courses between its two temperatures."""
    hours, down = figure_at(figures, one.time, "h"), figure_at(figures, one.in_an_hour, "K/h")
    first, last = (figure_at(figures, a, "degC") for a in (one.dropped, one.leaves))
    if hours is None or down is None or first is None or last is None:
        return None
    courses = {
        name: tuple((hours.value * k / COURSE,
                     float(cooling_course(first.value, last.value, k / COURSE, n)))
                    for k in range(COURSE + 1))
        for name, n in COURSES.items()
    }  # fmt: skip
    return Cooling(hours, first, last, down, courses)


def mixtures(plant: Plant, state: Mapping[str, float]) -> tuple[Mixture, ...]:
    """What each massecuite was boiled from, by a day's state."""
    by_grade: dict[str, list[Feed]] = {}
    for station in plant.works.stations:
        for feed in station.boiled_from(state):
            by_grade.setdefault(feed.grade, []).append(feed)
    return tuple(_mixture(grade, feeds) for grade, feeds in by_grade.items())


def _mixture(grade: str, feeds: Sequence[Feed]) -> Mixture:
    whole = sum(f.dry for f in feeds)
    parts = [Part(f.name, float(units.from_inside(f.dry, "t/h")), f.dry / whole, 100.0 * f.purity)
             for f in feeds]  # fmt: skip
    parts.sort(key=lambda p: -p.purity)
    return Mixture(grade, tuple(parts), sum(p.share * p.purity for p in parts))
