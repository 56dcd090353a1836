"""Heat-transfer coefficients over the days: an effect's, each vessel's, smoothed since cleans."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from ratoon.account.since_clean import DayFigure, since_clean
from ratoon.account.vessel_trend import (
    PARTLY,
    TOLD,
    VesselDay,
    assumed_variance,
    cleans_of,
    day_figures,
    left_assumed,
)
from ratoon.reports.numbers import COVERAGE
from ratoon.web.plant.trend_drawing import Point

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.settings.records import EffectRow

Runs = tuple[tuple[Point, ...], ...]


@dataclass(frozen=True, slots=True)
class VesselTrend:
    """A vessel's coefficient over the days, smoothed run by run; what its uncertainty rests on."""

    address: str
    name: str
    points: tuple[Point, ...]
    smooth: Runs
    note: str


def effect_of(mill: Mill, address: str) -> int:
    """Number of the effect whose coefficient the address is; 0 for any other quantity."""
    known = mill.roles.keyed("coefficient of effect")
    return next((int(key) for key, a in known.items() if a == address), 0)


def smoothed_effect(mill: Mill, address: str, points: Sequence[Point]) -> Runs:
    """An effect's coefficient smoothed over the days since each clean of any of its surface."""
    if not (number := effect_of(mill, address)):
        return ()
    e = mill.settings.effects[number - 1]
    known = [DayFigure(date.fromisoformat(p.date), p.value, p.sigma)
             for p in points if p.value is not None and p.sigma]  # fmt: skip
    return _runs(mill, known, cleans_of(e.cleaned, e.vessels_cleaned, 0, False))


def vessel_trends(
    mill: Mill,
    address: str,
    effect: Sequence[Point],
    trends: Mapping[str, Sequence[Point]],
) -> Iterator[VesselTrend]:
    """Each vessel of the effect whose coefficient is `address`; an effect of one vessel is itself.

    Parameters
    ----------
    effect : the effect's own points. trends : points of each vessel's address in `addresses_of`.
    """
    number = effect_of(mill, address)
    e = mill.settings.effects[number - 1]
    for vessel, vessel_address in enumerate(addresses_of(mill, address), 1):
        points = tuple(trends[vessel_address])
        days = list(_days(points, effect))
        if not days:
            continue
        sigmas = [_ratio_sigma(mill, a) for a in addresses_of(mill, address)[1:]]
        assumed = assumed_variance(e.vessels, sigmas, vessel)
        left = left_assumed(days, assumed)
        cleans = cleans_of(e.cleaned, e.vessels_cleaned, vessel, left < TOLD)
        runs = _runs(mill, day_figures(days, left), cleans)
        yield VesselTrend(vessel_address, f"Coefficient of vessel {vessel}", points, runs,
                          _note(e, vessel, left, assumed))  # fmt: skip


def addresses_of(mill: Mill, address: str) -> tuple[str, ...]:
    """Coefficients of the vessels of the effect whose own coefficient is `address`."""
    if not (number := effect_of(mill, address)):
        return ()
    vessels = mill.roles.keyed("coefficient of vessel")
    return tuple(a for key, a in vessels.items() if key.split()[0] == str(number))


def _ratio_sigma(mill: Mill, coefficient: str) -> float:
    """Doubt of what is assumed of a vessel's coefficient over that of the first."""
    return float(mill.plant.equations.variables[f"{coefficient}_ratio"].sigma or 0.0)


def _days(points: Sequence[Point], effect: Sequence[Point]) -> Iterator[VesselDay]:
    whole = {p.date: p for p in effect}
    for p in points:
        e = whole.get(p.date)
        if e and p.value and p.sigma and e.value and e.sigma:
            yield VesselDay(date.fromisoformat(p.date), p.value, p.sigma, e.value, e.sigma)


def _runs(mill: Mill, known: Sequence[DayFigure], cleaned: Sequence[date]) -> Runs:
    if known:  # a clean of the season before says nothing of this one's scale
        last, same = known[-1].day, mill.calendar.same_season
        known = [f for f in known if same(f.day, last)]
        cleaned = [c for c in cleaned if same(c, last)]
    return tuple(
        tuple(Point(d.day.isoformat(), d.value, d.sigma) for d in run.days)
        for run in since_clean(known, cleaned)
    )


def _note(e: EffectRow, vessel: int, left: float, assumed: float) -> str:
    half = f"{100.0 * COVERAGE * (left * assumed) ** 0.5:.0f} %"
    if left < TOLD:
        return f"Readings of a single vessel tell vessel {vessel} from the others."
    if left < PARTLY:
        return (
            f"What is read of a single vessel tells vessel {vessel} from the others in part: "
            f"give or take {half} it rests on assumptions, which no number of days makes smaller."
        )
    note = (
        f"Nothing read tells the vessels apart: each square metre is taken to pass heat alike, "
        f"give or take {half} a vessel. The bands hold that uncertainty, which no number of days "
        "makes smaller; the brix that leaves one vessel, or the condensate of its chest, would."
    )
    if any(e.vessels_cleaned):
        note += " A clean of one vessel alone is seen in all of them alike."
    return note
