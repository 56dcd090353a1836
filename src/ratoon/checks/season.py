"""Registered formulas of the season: futures with nothing left to chance, and figures of crops."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import numpy as np

from ratoon.account.figures import formulas as account
from ratoon.base.errors import BadInput
from ratoon.checks.registry import choice, formula
from ratoon.plans.season.ccs import Curve
from ratoon.plans.season.crop import Zones
from ratoon.plans.season.draws import Level
from ratoon.plans.season.futures import Costs, Fit, run
from ratoon.plans.season.ground import Ground
from ratoon.plans.season.rain import (
    TRACE,
    WET,
    Months,
    Rain,
    counted,
    dry_share,
    wet_share,
    wet_spell,
)
from ratoon.plans.season.rate import Rate
from ratoon.plans.season.stops import Stops

FREE = Costs(0.0, 0.0, 0.0, 0.0, 0.0, 0)
NONE = Level((), 0.0, 0.0, 0.0)
FEW, MOST_DAYS = 8, 4000


def fit(days: int, so_far: tuple[float, float, float] = (0.0, 0.0, 0.0), **more: Any) -> Fit:
    """A fit of which `run` uses only its numbers: draws are given by hand.

    Parameters
    ----------
    so_far : cane [t], sugar [t], and cane times CCS [t.%]. more : `tail_share`, `costs`.
    """
    if not 0 < days <= MOST_DAYS:
        raise ValueError(days)
    month = np.ones(1)
    none = np.zeros(1)
    return Fit(
        days, Rain(Months(month, none, month, none, none, none, 1.0),
                   np.zeros(days, dtype=np.int64), False, (), 0.0, 0.5),
        Ground(np.ones((1, 3)), np.ones(1), np.zeros(1), NONE, 0.0, True),
        Stops(NONE, 0.0, NONE, (8.0,), 1),
        Rate(NONE, NONE, 0.0, 1.0, 0.0, 0.0, NONE, np.zeros(1), NONE, 0.0),
        Zones(("Z",), month, month, none, none, NONE, ((), 0.0), NONE, ((), 0.0), 0.0),
        Curve(np.zeros(3), np.zeros(3), 0, np.zeros((3, 3)), np.zeros(3), np.zeros(3), (0.0, 0.0),
              0.0, 0.0, None, 0.0, np.zeros(days, dtype=np.int64), np.zeros((days, 3)), NONE),
        np.zeros(days), more.get("tail_share", 0.0), more.get("costs", FREE), *so_far,
        tuple(range(0, days, 7)),
    )  # fmt: skip


def draws(
    days: int, *, crop: float, rate: float, wet: float = 0.0, short: float = 0.0,
    gaps: Any = None, lengths: Any = None, ccs: Any = 14.0, tail: float = 1.0,
) -> dict[str, Any]:  # fmt: skip
    """Draws of every cause, the same in each future."""
    every = np.ones((days, FEW))
    one = np.ones(FEW)
    content = np.broadcast_to(np.asarray(ccs, dtype=float).reshape(-1, 1), (days, FEW))
    return {
        "rain": (wet * every, 0.0 * every),
        "stops": (short * every, np.full((2, FEW), 1e6) if gaps is None else gaps,
                  np.ones((2, FEW)) if lengths is None else lengths),
        "rate": (rate * every, 0.0 * every, tail * one),
        "crop": (crop * one, crop * np.ones((1, FEW))),
        "ccs": (content, 0.0 * one, one),
    }  # fmt: skip


@formula("season_weeks", "weeks", crop="t", rate="t/h", availability="", dry_fraction="")
def _weeks(crop: float, rate: float, availability: float, dry_fraction: float) -> float:
    """Weeks in which a crop is crushed, by futures whose every spread is zero."""
    days = 1 + int(crop / (rate * 86400.0 * availability * dry_fraction))
    drawn = draws(days, crop=crop / 1000.0, rate=3.6 * rate, wet=1 - dry_fraction,
                  short=1 / availability - 1)  # fmt: skip
    return float(run(fit(days), drawn).finish[0]) / 7.0


@formula("chance_of_rain", "", n01="", n0="", n11="", n1="")
def _chance(n01: float = 0, n0: float = 0, n11: float = 0, n1: float = 0) -> float:
    """Chance that a day is wet, counted by the program in pairs of days: n01 of n0 after a dry day,
    or n11 of n1 after a wet one."""
    if not (n0 or n1):
        raise BadInput("needs pairs of days", where="n0, n1", value=0, allowed="one above 0")
    first, second = (TRACE, int(n0 - n01)) if n0 else (WET, int(n1 - n11))
    day, made = date(1900, 6, 1), dict[date, float]()
    for n in range(int(n0 or n1)):
        rain = WET + n % 7  # any, but not the same each time
        made |= {day: first, day + timedelta(days=1): TRACE if n < second else rain}
        day += timedelta(days=3)
    m = counted(made, list(range(1, 13)))
    wet = m.wet_after_dry if n0 else m.wet_after_wet
    return float(wet.sum() / (m.after_dry if n0 else m.after_wet).sum())


@formula("wet_days", "", a="", b="", k="", output="text")
def _wet_days(b: float, output: str, a: float = 0.0, k: float = 1.0) -> float:
    """Of a chain that is wet after a dry day with chance a, after a wet one b: share, spell [d],
    share of days with the last k all dry."""
    answers = {"share": wet_share(a, b), "spell": wet_spell(b), "dry": dry_share(a, b, int(k))}
    return float(choice("output", output, answers))


@formula("mean_ccs_of_season", "", peak="", c="", weeks="", shift="")
def _mean_ccs(peak: float, c: float, weeks: float, shift: float) -> float:
    """Mean CCS of a season crushed at a constant rate, on a parabola of its weeks, by futures."""
    days = int(7 * weeks)
    week = (np.arange(days) + 0.5) / 7
    ccs = peak - c * (week - weeks / 2 - shift) ** 2
    found = run(fit(days), draws(days, crop=24.0 * days, rate=1.0, ccs=ccs))
    return float(found.ccs[0])


@formula("ccs_to_date", "", t0="t", ccs0="", t1="t", ccs1="")
def _to_date(t0: float, ccs0: float, t1: float, ccs1: float) -> float:
    """CCS to date when a week's cane is added to that of the season before it, by futures."""
    so_far = fit(7, (t0, 0.0, t0 * ccs0))
    return float(run(so_far, draws(7, crop=t1, rate=t1, ccs=ccs1)).ccs[0])


_FIVE = {f"{name}{n}": unit for n in range(1, 6)
         for name, unit in (("t", ""), ("yield", "t/ha"), ("ccs", ""))}  # fmt: skip


@formula("region", "", **_FIVE, output="text")
def _region(output: str, **five: float) -> float:
    """Five districts [t] as one region: output area [ha], yield [t/ha] or ccs."""
    rows = [tuple(five[f"{k}{n}"] for k in ("t", "yield", "ccs")) for n in range(1, 6)]
    whole, area = sum(t for t, _, _ in rows), sum(t / y for t, y, _ in rows)
    mean = sum(t * c for t, _, c in rows) / whole
    answers = {"area": area, "yield": whole / area, "ccs": mean}
    return float(choice("output", output, answers))


@formula("industry", "", cane_Mt="", sugar_Mt="", ccs="", output="text")
def _industry(cane_Mt: float, sugar_Mt: float, output: str, ccs: float = 1.0) -> float:
    """Sugar of a whole industry's cane: output sugar_on_cane, cane_per_sugar, share_of_ccs."""
    on_cane = float(account.sugar_on_cane(sugar_Mt, cane_Mt))
    answers = {"sugar_on_cane": 100.0 * on_cane, "share_of_ccs": 100.0 * on_cane / ccs,
               "cane_per_sugar": float(account.cane_per_sugar(cane_Mt, sugar_Mt))}  # fmt: skip
    return float(choice("output", output, answers))
