"""Heat-transfer coefficients over the days: an effect's, each vessel's, smoothed since cleans."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ratoon.account.figures.since_clean import SinceClean
from ratoon.account.figures.surfaces import PARTLY, TOLD, Season
from ratoon.reports.numbers import COVERAGE
from ratoon.web.plant.trend_drawing import Point

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.settings.plant import EffectRow

Runs = tuple[tuple[Point, ...], ...]


@dataclass(frozen=True, slots=True)
class Smoothed:
    """A coefficient smoothed run by run since cleans, and what is to be said of it."""

    address: str
    name: str
    smooth: Runs
    note: str


def effect_of(mill: Mill, address: str) -> int:
    """Number of the effect whose coefficient the address is; 0 for any other quantity."""
    known = mill.roles.keyed("coefficient of effect")
    return next((int(key) for key, a in known.items() if a == address), 0)


def smoothed(season: Season, address: str, name: str, since: str) -> Iterator[Smoothed]:
    """An effect's coefficient, then its vessels': nothing for any other quantity.

    Parameters
    ----------
    since : the first day that is drawn; the lines rest on the whole season.
    """
    if not (number := effect_of(season.mill, address)):
        return
    whole = season.effect(number)
    at = f"Lines and bands are at the usual brix, {season.usual_brix(number):.1f} %."
    yield Smoothed(address, name, _runs(whole, since), at if whole else "")
    row = season.mill.settings.effects[number - 1]
    for vessel, vessel_address in enumerate(season.vessels(number), 1):
        if (told := season.vessel(number, vessel)) is not None:
            left, assumed, found = told
            yield Smoothed(vessel_address, f"Coefficient of vessel {vessel}", _runs(found, since),
                           _note(row, vessel, left, assumed))  # fmt: skip


def _runs(found: SinceClean | None, since: str) -> Runs:
    if found is None:
        return ()
    runs = (tuple(Point(d.day.isoformat(), d.value, d.sigma) for d in run.days
                  if d.day.isoformat() >= since) for run in found.runs)  # fmt: skip
    return tuple(run for run in runs if run)


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
