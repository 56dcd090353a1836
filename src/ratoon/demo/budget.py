"""Kestrel Point's plan by week, made before the season, and what was booked since; all invented.

The plan knows no stop, shower or fault of the season: it was made from other numbers. A second plan
was made in July, when the crop was seen to be lighter; the first is kept beside it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from ratoon.demo import season, sheets

PLAN = ("week", "cane", "ccs", "fibre", "rate", "hours", "extraction", "recovery", "sugar",
        "sugar_price", "cane_price", "other_cost", "source", "made")  # fmt: skip
COSTS = ("week", "account", "amount", "unit", "note")
MADE, AGAIN = date(2031, 5, 20), date(2031, 7, 14)
WEEKS, SLOW = 21, 2
CROP = {MADE: 1_300_000.0, AGAIN: 1_255_000.0}
HOURS_A_WEEK, PLANNED_STOP, EVERY = 148.0, 12.0, 3
FIBRE, EXTRACTION, RECOVERY, SUGAR_POL = 15.0, 96.2, 88.6, 98.9
POL_PER_CCS = 1.112
WAGES, CHEMICALS, UPKEEP, ADMINISTRATION = 505_000.0, 1.9, 355_000.0, 118_000.0
PRICES = (590.0, 52.0)


def write_budget(folder: Path, cane: Mapping[date, float], seed: int) -> None:
    """`plan.csv`, `plan-july.csv` and, once a week is over, `costs.csv` into `input`.

    Parameters
    ----------
    cane : what each mill day of this season crushed, as weighed [t].
    """
    into = folder / "input"
    sheets.write_csv(into / "plan.csv", PLAN, list(_weeks(MADE)))
    later = [row for row in _weeks(AGAIN) if row[0] >= AGAIN.isoformat()]
    sheets.write_csv(into / "plan-july.csv", PLAN, later)
    rng = np.random.default_rng([seed, 12])
    costs = list(_costs(rng, cane))
    if costs:
        sheets.write_csv(into / "costs.csv", COSTS, costs)


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def _weeks(made: date) -> Iterator[list[str]]:
    first, whole = _monday(season.FIRST), 0.0
    for n in range(WEEKS):
        hours = HOURS_A_WEEK - (PLANNED_STOP if n % EVERY == EVERY - 1 else 0.0)
        if n == 0:
            hours *= 6.0 / 7.0
        rate = 430.0 if n < SLOW else 466.0
        cane = min(rate * hours, CROP[made] - whole)
        whole += cane
        ccs = 14.2 - 0.9 * ((n - 13.0) / 10.0) ** 2
        pol = POL_PER_CCS * ccs / SUGAR_POL
        sugar = cane * pol * EXTRACTION / 100.0 * RECOVERY / 100.0
        other = WAGES + CHEMICALS * cane + UPKEEP + ADMINISTRATION
        yield [(first + timedelta(weeks=n)).isoformat(), f"{cane:.0f}", f"{ccs:.2f}",
               f"{FIBRE:g}", f"{rate:g}", f"{cane / rate:.1f}", f"{EXTRACTION:g}",
               f"{RECOVERY:g}", f"{sugar:.0f}", *(f"{p:g}" for p in PRICES), f"{other:.0f}",
               "budget", made.isoformat()]  # fmt: skip


def _costs(rng: np.random.Generator, cane: Mapping[date, float]) -> Iterator[list[str]]:
    """What was booked for each whole week."""
    week, last = _monday(min(cane)), max(cane)
    while week + timedelta(days=6) <= last:
        noise = rng.standard_normal(3)
        short = 6.0 / 7.0 if week < season.FIRST else 1.0
        for account, amount, unit in (
            ("wages", WAGES * short * (1.02 + 0.02 * noise[0]), "money"),
            ("chemicals", CHEMICALS * (1.05 + 0.05 * noise[1]), "money/t"),
            ("maintenance", UPKEEP * (1.04 + 0.18 * noise[2]), "money"),
            ("administration", ADMINISTRATION, "money"),
        ):
            text = f"{amount:.2f}" if unit == "money/t" else f"{amount:.0f}"
            yield [week.isoformat(), account, text, unit, ""]
        week += timedelta(weeks=1)
