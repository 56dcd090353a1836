"""What a plan by week sets for a span of mill days: amounts added, figures weighted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields
from datetime import date, timedelta

from ratoon.base.season import PlanFigures, PlanWeek

SIX = timedelta(days=6)
AMOUNTS = ("cane", "hours", "sugar", "other_cost")
WEIGHTS = {
    "ccs": ("cane",), "fibre": ("cane",), "rate": ("hours",), "extraction": ("cane", "ccs"),
    "recovery": ("cane", "ccs", "extraction"), "sugar_price": ("sugar",), "cane_price": ("cane",),
}  # fmt: skip
"""What each figure's mean over several weeks is weighted by."""


@dataclass(frozen=True, slots=True)
class Planned(PlanFigures):
    """A plan's figures over a span, in the units of its file.

    Parameters
    ----------
    made : the day on which the plan was made. days : of the span that the plan has.
    partly : figures that some weeks with cane have and others lack: they count as not set.
    """

    made: date
    days: int
    partly: tuple[str, ...] = ()


FIGURES = tuple(f.name for f in fields(PlanFigures))


def planned(
    weeks: Iterable[PlanWeek], first: date, last: date, season_first: date
) -> Planned | None:
    """The plan in force for a span; None where no plan has a day of it.

    Of the plans that were made before it began, those that have most of its days count, and of
    these the newest; where none was made before, the first of all. A week of which the span holds
    a part gives that share of its amounts.

    Parameters
    ----------
    first, last : the span. season_first : first mill day of the season; a week may start before it.
    """
    held = [(w, n) for w in weeks if (n := _share(w, first, last, season_first)[0]) > 0]
    if not held:
        return None
    of: dict[date, int] = {}
    for week, n in held:
        of[week.made] = of.get(week.made, 0) + n
    before = [d for d in of if d <= first]
    most = max(of[d] for d in before or of)
    made = max((d for d in before if of[d] == most), default=min(of))
    mine = [(w, _share(w, first, last, season_first)[1]) for w, _ in held if w.made == made]
    days = of[made]
    found: dict[str, float | None] = {}
    partly = []
    for name in FIGURES:
        told = [(w, s) for w, s in mine if getattr(w, name) is not None]
        # a week without cane needs no analyses
        lacking = [w for w, _ in mine if getattr(w, name) is None and w.cane != 0.0]
        found[name] = None if lacking or not told else _over(name, told)
        if lacking and told:
            partly.append(name)
    return Planned(made, days, **found, partly=tuple(partly))


def _share(week: PlanWeek, first: date, last: date, season_first: date) -> tuple[int, float]:
    """Days of a week that lie in a span, and their share of its days in the season."""
    start, end = week.week, week.week + SIX
    if start < season_first <= end:
        start = season_first
    inside = (min(end, last) - max(start, first)).days + 1
    return max(inside, 0), max(inside, 0) / ((end - start).days + 1)


def _over(name: str, told: list[tuple[PlanWeek, float]]) -> float:
    if name in AMOUNTS:
        return float(sum(s * getattr(w, name) for w, s in told))
    weights = []
    for week, share in told:
        weight = share
        for other in WEIGHTS[name]:
            value = getattr(week, other)
            weight *= 1.0 if value is None else value
        weights.append(weight)
    whole = sum(weights)
    if whole <= 0.0:
        return float(sum(getattr(w, name) for w, _ in told) / len(told))
    return float(sum(x * getattr(w, name) for x, (w, _) in zip(weights, told)) / whole)
