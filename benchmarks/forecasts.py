"""Forecasts of drawn districts' seasons against what came: do the bands hold, is the middle right?

Districts are drawn apart from the program (`tests/truth/districts`), half of them with wild rain.
Each season is forecast at weeks 4, 8, 12 and 16 from what was written by then.

    python benchmarks/forecasts.py [--seasons 200] [--seed 20311126] [--futures 2000]
        [--processes 1] [--without year|draws] [--knowing law|rain|crop ...]

``--without`` leaves out the year's factor of rain, or takes fitted figures as known: bands that
still held would show that the trial cannot fail. ``--knowing`` tells the forecast what nobody can
know: the climate's very law with the rain since 1 May (``law``), the rain to come, the crop. What
is off then is not the program's to mend.
"""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from datetime import date, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "truth"))

WEEKS = (4, 8, 12, 16)
WHAT = ("finish", "sugar", "crop", "rain", "stops")
BANDS = (("q05", "q95"), ("q25", "q75"))
LONGEST, YEARS, ALIKE = 300, 500, 0.2
"""Days ahead; years drawn by the law; how alike their starts count as, in standard deviations of
the root of their rain."""


def season(
    seed: int, number: int, futures: int, without: str, knowing: Sequence[str] = ()
) -> list[dict[str, Any]]:
    """One season's forecasts, each with what came."""
    from districts.district import LATEST, district

    _left_out(without)
    drawn = district(seed, number)
    start, one = drawn.season.start, drawn.season
    end = one.finish or start + timedelta(weeks=LATEST)
    made = []
    for week in WEEKS:
        at = start + timedelta(weeks=week)
        if at >= end:
            continue
        _let_know(knowing, drawn, at, number)
        told = _told(drawn.given(at), futures, number)
        came = {
            "finish": float((end - at).days) if one.finish else float("inf"),
            "sugar": sum(d["sugar"] for d in one.days), "crop": one.crop,
            "rain": sum(d["rain_lost"] for d in one.days if d["date"] >= at.isoformat()),
            "stops": _hours(one.stops, at),
        }  # fmt: skip
        bands = {"sugar": told["sugar"], "crop": told["crop"],
                 "rain": told["hours"]["rain"], "stops": told["hours"]["stops"],
                 "finish": {q: _days(d, at) for q, d in told["finish"].items()}}  # fmt: skip
        crushed = [d["cane"] for d in one.days if d["date"] < at.isoformat()]
        estimate = sum({z["zone"]: z["estimate"] for z in one.zones}.values())
        naive = (estimate - sum(crushed)) / np.mean(crushed)
        made.append({"number": number, "week": week, "came": came, "bands": bands, "naive": naive,
                     "zones": told["zones"], "wild": number % 2 == 0,
                     "truth": dict(zip((z["zone"] for z in one.zones), one.totals))})  # fmt: skip
    return made


def _left_out(what: str) -> None:
    from ratoon.plans.season.draws import Level
    from ratoon.plans.season.rain import Rain

    if what == "year":
        Rain.factor = lambda self, rng, count: np.ones(count)  # type: ignore[method-assign]
    if what == "draws":
        Level.drawn = lambda self, rng, count: np.full(  # type: ignore[method-assign]
            count, self.centre()[0] if self.seen is None else self.seen)  # fmt: skip
        Level.variance = lambda self, rng, count: np.full(  # type: ignore[method-assign]
            count, 1e-6)  # fmt: skip


def _let_know(what: Sequence[str], drawn: Any, at: date, number: int) -> None:
    """Put in place of what a forecast draws what came, or the climate's own draws."""
    from ratoon.plans.season.crop import Zones
    from ratoon.plans.season.rain import Rain

    if "crop" in what:
        whole = np.array(drawn.season.totals)[:, None]
        Zones.drawn = lambda self, rng, count: np.repeat(  # type: ignore[method-assign]
            whole, count, axis=1)  # fmt: skip
    if not {"rain", "law"} & set(what):
        return
    days = [at + timedelta(days=n) for n in range(LONGEST)]
    rest = np.array([[drawn.rain.get(d, 0.0) for d in days]])
    if "law" in what:
        rest = _of_law(drawn, at, days, _years(number, drawn.laws.climate, at.year))

    def fallen(self: Any, rng: Any, count: int, days: int) -> Any:
        return rest[rng.integers(0, len(rest), count), :days].T.copy()

    Rain.drawn = fallen  # type: ignore[method-assign,assignment]


@lru_cache(maxsize=1)
def _years(number: int, climate: Any, year: int) -> list[dict[date, float]]:
    from districts.climate import year_of_rain

    rng = np.random.default_rng([number, 99])
    return [year_of_rain(rng, climate, year) for _ in range(YEARS)]


def _of_law(drawn: Any, at: date, days: list[date], years: list[dict[date, float]]) -> Any:
    """Rain to come in years drawn by the climate's law, as often as they began like this one."""
    from districts.climate import FIRST

    rng, first = np.random.default_rng(len(days)), date(at.year, *FIRST)
    before = [first + timedelta(days=n) for n in range((at - first).days)]
    began = np.sqrt([sum(y[d] for d in before) for y in years])
    off = began - np.sqrt(sum(drawn.rain[d] for d in before))
    weight = np.exp(-0.5 * (off / (ALIKE * began.std())) ** 2) + 1e-12
    picked = rng.choice(YEARS, YEARS, p=weight / weight.sum())
    return np.array([[years[n].get(d, 0.0) for d in days] for n in picked])


def _told(given: dict[str, Any], futures: int, seed: int) -> dict[str, Any]:
    """The forecast without shares and worths, which no bar here asks for."""
    from ratoon.base.as_json import to_json
    from ratoon.plans.season import forecast
    from ratoon.plans.season import given as of_rows
    from ratoon.plans.season.rules import rules

    at = given["at"]
    known = of_rows.given(given["days"], given["stops"], given["rain"], given["zones"],
                          rules(given["settings"], at), at)  # fmt: skip
    return dict(to_json(forecast.forecast(known, futures, seed, explained=False)))


def _days(told: str | None, at: date) -> float:
    return float("inf") if told is None else float((date.fromisoformat(told) - at).days)


def _hours(stops: list[dict[str, Any]], at: date) -> float:
    begin = datetime.combine(at, datetime.min.time()) + timedelta(hours=6)
    made = 0.0
    for stop in stops:
        start, end = (datetime.fromisoformat(stop[k]) for k in ("start", "end"))
        made += max(0.0, (end - max(start, begin)).total_seconds() / 3600.0)
    return made


def inside(found: list[dict[str, Any]], what: str, band: tuple[str, str]) -> list[bool]:
    """Whether what came lies in a band."""
    return [f["bands"][what][band[0]] <= f["came"][what] <= f["bands"][what][band[1]]
            for f in found]  # fmt: skip


def report(found: list[dict[str, Any]]) -> None:
    """Shares of bands that held, biases and errors of the middle."""
    by_week = defaultdict(list)
    for f in found:
        by_week[f["week"]].append(f)
    for band, name in zip(BANDS, ("90 %", "50 %")):
        both = [x for w in ("finish", "sugar") for x in inside(found, w, band)]
        print(f"{name} bands of finish and sugar: {100 * np.mean(both):.1f} %")
        for what in WHAT:
            shares = [100 * np.mean(inside(by_week[w], what, band)) for w in WEEKS if by_week[w]]
            print(f"  {what:<7}", f"{100 * np.mean(inside(found, what, band)):5.1f}", " by week",
                  " ".join(f"{s:5.1f}" for s in shares))  # fmt: skip
        for wild in (True, False):
            some = [f for f in found if f["wild"] is wild]
            both = [x for w in ("finish", "sugar") for x in inside(some, w, band)]
            print(f"  {'wild' if wild else 'steady'} rain: {100 * np.mean(both):.1f}")
    for week in WEEKS:
        some = [f for f in by_week[week] if np.isfinite(f["came"]["finish"])
                and np.isfinite(f["bands"]["finish"]["q50"])]  # fmt: skip
        off = np.array([f["bands"]["finish"]["q50"] - f["came"]["finish"] for f in some])
        naive = np.array([f["naive"] - f["came"]["finish"] - 1 for f in some])
        sugar = np.array([f["bands"]["sugar"]["q50"] / f["came"]["sugar"] - 1 for f in some])
        error, simple = np.abs(off).mean(), np.abs(naive).mean()
        ratio = error / simple
        sure = (np.abs(off) - ratio * np.abs(naive)).std() / simple / np.sqrt(len(some))
        print(f"week {week:2}: n {len(some)} bias {np.median(off):+.1f} d (mean {off.mean():+.1f}),"
              f" mean error {error:.1f} d, of the simple estimate's {ratio:.2f} +- {sure:.2f};"
              f" sugar {100 * sugar.mean():+.2f} %")  # fmt: skip


def main() -> None:
    """Run as asked on the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    for name, usual in (("seasons", 200), ("seed", 20311126), ("futures", 2000), ("processes", 1)):
        parser.add_argument(f"--{name}", type=int, default=usual)
    parser.add_argument("--without", choices=("", "year", "draws"), default="")
    parser.add_argument("--knowing", choices=("law", "rain", "crop"), nargs="+", default=())
    asked = parser.parse_args()
    numbers = range(asked.seasons)
    with ProcessPoolExecutor(asked.processes) as pool:
        found = list(pool.map(season, [asked.seed] * len(numbers), numbers,
                              [asked.futures] * len(numbers),
                              [asked.without] * len(numbers),
                              [asked.knowing] * len(numbers)))  # fmt: skip
    report([f for one in found for f in one])


if __name__ == "__main__":
    main()
