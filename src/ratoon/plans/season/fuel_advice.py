"""From the store's futures to words: does the fuel last, what is a tonne worth, what to do."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import get_args

import numpy as np

from ratoon.plans.season.draws import Array
from ratoon.plans.season.forecast import spread
from ratoon.plans.season.fuel import Fuel, FuelBlock, block
from ratoon.plans.season.fuel_answer import (
    Burn,
    Case,
    FuelAdvice,
    FuelAnswer,
    FuelCase,
    FuelNet,
    FuelStore,
)
from ratoon.plans.season.futures import BLOCK, Fit

FUTURES = 4_000
CALM = 0.05
"""Chance of being short that is taken: what may be spared leaves no more (mill's choice)."""
SHORT = 0.5
"""A case that lacks less than this lasts [t]."""
USUAL: Burn = "low"


@dataclass(frozen=True)
class FuelPrices:
    """Money a tonne of bagasse: for other fuel in its place, sold, and made into power."""

    other: float | None
    sold: float
    power: float | None
    other_rate: float | None
    currency: str


def fuel_answer(
    at: date, fit: Fit, fuel: Fuel, surveyed: date | None, prices: FuelPrices,
    lacking: Sequence[str], seed: int = 0, futures: int = FUTURES,
) -> FuelAnswer:  # fmt: skip
    """Whether the fuel lasts, over futures of the season."""
    blocks = [block(fit, fuel, seed, n // BLOCK, min(BLOCK, futures - n))
              for n in range(0, futures, BLOCK)]  # fmt: skip
    cases = tuple(_cases(blocks))
    burn = USUAL if USUAL in fuel.burns else next(iter(fuel.burns))
    last: Case = "start" if fuel.start is not None else "end"
    short = next(1.0 - c.lasts for c in cases if (c.case, c.burn) == (last, burn))
    worth = None if prices.other is None else short * prices.other
    spare = np.concatenate([b.spare[burn] for b in blocks])
    full = np.concatenate([b.full[burn] for b in blocks])
    advice = tuple(_advice(at, fuel, burn, short, worth, spare, full, prices))
    found = {c.case for c in cases}
    more = [words for case, words in NOT_SEEN.items() if case not in found]
    return FuelAnswer(
        at.isoformat(), FuelStore(float(np.clip(fuel.value, 0.0, fuel.room)), fuel.sigma,
                                  surveyed.isoformat() if surveyed else None),
        FuelNet(fuel.net.level, fuel.net.sigma, "t/h"), cases, worth, advice, prices.currency,
        (*lacking, *more),
    )  # fmt: skip


NOT_SEEN: Mapping[Case, str] = {
    "rain": "a wet spell: no future has one before the finish",
    "stop": "a planned stop of six hours or more ([[planned_stops]]) before the finish",
    "start": "what the next start burns (fuel.start)",
}


WAYS = {"sell": "sold", "make power": "made into power"}


def _tonnes(value: float) -> str:
    """Three digits: no store is known better."""
    if value <= 0.0:
        return "0 t"
    digits = 2 - int(np.floor(np.log10(value)))
    return f"{round(value, min(digits, 0)):,.0f} t"


def _cases(blocks: Sequence[FuelBlock]) -> Iterator[FuelCase]:
    for case in get_args(Case):
        for burn in get_args(Burn):
            if (case, burn) not in blocks[0].told:
                continue
            fed, short, asks = (np.concatenate([b.told[case, burn][k] for b in blocks])
                                for k in range(3))  # fmt: skip
            known = ~np.isnan(short)
            if known.any():
                lasts = float(np.mean(short[known] <= SHORT))
                yield FuelCase(case, burn, lasts, spread(fed), spread(short), spread(asks))


def _advice(
    at: date, fuel: Fuel, burn: Burn, short: float, worth: float | None, spare: Array, full: Array,
    prices: FuelPrices,
) -> Iterator[FuelAdvice]:  # fmt: skip
    sign, upto = prices.currency, "next start" if fuel.start is not None else "finish"
    left, chance = float(np.quantile(spare, CALM)), 100 * short
    tell = "" if worth is None else f"; a tonne kept is worth {sign}{worth:.2f}"
    rate = fuel.burns[burn][0]
    if left < 0.0:
        words = (f"Save {_tonnes(-left)}: the chance of being short by the {upto} is {chance:.0f} %"
                 f" and would be {100 * CALM:.0f} %{tell}")  # fmt: skip
        yield FuelAdvice("save", -left, None, words)
        if prices.other_rate is not None and prices.other_rate < rate:
            words = (f"Other fuel stands in for {prices.other_rate:.1f} t/h of bagasse at most:"
                     f" less than the {rate:.1f} t/h burnt while the mill stands")  # fmt: skip
            yield FuelAdvice("save", None, None, words)
    else:
        yield _spare(left, upto, worth, tell, prices)
    chance = float(np.mean(np.isfinite(full)))
    if chance > CALM:
        day = float(np.median(full[np.isfinite(full)]))
        until = at + timedelta(days=int(day))
        words = (f"The store is full before the finish in {100 * chance:.0f} % of the futures, in"
                 f" the middle of them by {until}: what comes after is lost unless it is sold or"
                 " made into power")  # fmt: skip
        yield FuelAdvice("store fills", None, until.isoformat(), words)


def _spare(
    left: float, upto: str, worth: float | None, tell: str, prices: FuelPrices
) -> FuelAdvice:
    """What may go while the chance of being short by the next start stays small."""
    sign = prices.currency
    ways = [("sell", prices.sold), *([("make power", prices.power)] if prices.power else [])]
    what, gets = max(ways, key=lambda way: way[1])
    some = (f"{_tonnes(left)} could go, and the chance of being short by the {upto} would be"
            f" {100 * CALM:.0f} %")  # fmt: skip
    if gets <= (worth or 0.0):
        return FuelAdvice("keep", left, None, f"Keep it: {some}{tell}, and no use pays more")
    paid = ", ".join(f"{WAYS[name]} it brings {sign}{money:.2f} a tonne" for name, money in ways)
    words = f"{some}: {paid}{tell}"
    return FuelAdvice("sell" if what == "sell" else "make power", left, None, words)
