"""The limits of a best state: what each costs, and how far that price holds."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import replace
from itertools import groupby

from ratoon.base import units
from ratoon.equations.prices import NoneFound
from ratoon.plans.best.asked import Bound, Found
from ratoon.plans.best.result import BestLimit, Side
from ratoon.plans.best.search import BOUND, MillSearch
from ratoon.plant.declared import AtWork

FAR = 0.1  # of a limit: it is not asked beyond
HOLDS = 0.05  # of its price, by which the mean over the distance may differ from it
MOST_TRIES = 6


def limits(search: MillSearch, found: Found) -> list[BestLimit]:
    """Limits of settings and stations, dearest first; those that say one thing as one."""
    prices = {(p.address, p.side): p for p in found.best.prices}
    rows = []
    for address, bound in {**found.free, **found.limits}.items():
        if bound.low == bound.high:
            continue
        for side in ("low", "high"):
            price = prices.get((address, side))
            if math.isfinite(bound.end(side)) and (address in found.limits or price):
                asked = 0.0 if price is None or price.own else price.price * 3600.0
                rows.append(_limit(search, found, address, side, bound, asked))
    rows.sort(key=_alike)
    told = [_joined(search, found, list(alike)) for _, alike in groupby(rows, key=_alike)]
    told += surfaces(search, found)
    return sorted(told, key=lambda r: -r.price * max(abs(r.limit), 1e-9))


def _limit(
    search: MillSearch, found: Found, address: str, side: Side, bound: Bound, asked: float
) -> BestLimit:
    """One limit; `asked` is its price in money an hour for one inside unit."""
    info = search.plant.addresses[address]
    at, rated = bound.end(side), bound.rated_low if side == "low" else bound.rated_high
    one = units.spread_to_inside(1.0, info.unit or "1")
    binds = asked * max(abs(at), one) > BOUND * 3600.0
    return BestLimit(address, info.name, info.unit, side, search.trade(address, at),
                     search.trade(address, rated), at != rated,
                     search.trade(address, found.best[address]), binds,
                     asked * one if binds else 0.0, info.unit, None, bound.source)  # fmt: skip


def _alike(row: BestLimit) -> tuple[str, Side, float, float]:
    """Limits that say one thing: of machines that are alike, and at the same value."""
    return family(row.address), row.side, row.limit, round(row.value, 6)


def family(address: str) -> str:
    """An address without numbers: machines that are alike share it, and are lifted together."""
    return ".".join(part for part in address.split(".") if not part.isdigit())


def _joined(search: MillSearch, found: Found, alike: list[BestLimit]) -> BestLimit:
    """One row for limits that say one thing: their prices add up."""
    first, price = alike[0], sum(r.price for r in alike)
    name = first.name
    if len(alike) > 1:
        numbers = [m.group(1) for row in alike if (m := re.search(r"\.(\d+)\.", row.address))]
        name = f"{name} (and {' and '.join(numbers[1:])})"
    one = replace(first, name=name, price=price, binds=any(r.binds for r in alike))
    return replace(one, holds_to=_holds_to(search, found, one, [r.address for r in alike]))


def _holds_to(
    search: MillSearch, found: Found, row: BestLimit, addresses: list[str]
) -> float | None:
    """How far [trade units] a limit can be loosened with each unit worth its price.

    Searched again from the best state: as far as the limit's tenth, then where a price that falls
    would have to do so for that gain; None where no distance was found, or for no price.
    """
    if not row.binds:
        return None
    ranges = {**found.free, **found.limits}
    one = units.spread_to_inside(1.0, row.per or "1")
    far = FAR * max(abs(ranges[addresses[0]].end(row.side)) / one, 1.0)
    for k in range(MOST_TRIES):
        try:
            above = search.again(found, found.best, **{
                a: ranges[a].looser(row.side, far * one) for a in addresses
            })  # fmt: skip
        except NoneFound:
            far /= 4.0
            continue
        gain = (above.best.aim - found.best.aim) * 3600.0
        short = 1.0 - gain / (row.price * far)
        if abs(short) <= HOLDS:
            return far
        then = sum(above.best.price(a, row.side) for a in addresses) * 3600.0 * one
        if k < MOST_TRIES // 2 and short > 0.0 and then < row.price:  # it falls once, or
            far = min((gain - then * far) / (row.price - then), far / 1.1)
        else:  # bit by bit
            far *= 0.9 * HOLDS / abs(short)
    return None


def effects(search: MillSearch) -> list[AtWork]:
    """The vessels of each effect."""
    every = (one for station in search.plant.works.stations for one in station.at_work())
    return [one for one in every if one.effect]


def surfaces(search: MillSearch, found: Found) -> list[BestLimit]:
    """Heating surface of each effect: what a square metre more would earn."""
    every = effects(search)
    worth = search.search.worth_of(found.best, [e.scales for e in every], found.aim.numbers)
    rows = []
    for one in every:
        area = search.plant.works.evaporator.effects[one.effect - 1].area
        price = max(worth[one.scales] * found.best[one.scales] / area * 3600.0, 0.0)
        rows.append(BestLimit(one.address, f"surface of effect {one.effect}", "m2", "high", area,
                              area, False, area, price * area > BOUND * 3600.0, price, "m2", None,
                              "mill.toml: effects"))  # fmt: skip
    return rows


def short_of_surface(search: MillSearch, found: Found) -> bool:
    """Whether the evaporators hold the plant: liquor at its least, or exhaust at its top."""
    roles = search.mill.roles
    ends = [(roles.at("{liquor}.brix"), "low"),
            *((a, "high") for a in roles.named("exhaust pressure"))]  # fmt: skip
    return any(p.price > BOUND / max(abs(p.limit), 1e-9)
               for p in found.best.prices if (p.address, p.side) in ends and not p.own)  # fmt: skip


def notes(rows: list[BestLimit], found: Found) -> Iterator[str]:
    """What a reader must know of limits that the day had passed, and of the program's own."""
    for row in rows:
        if row.raised:
            ran = f"{row.limit:.4g} {row.unit}".rstrip()
            yield (f"{row.name}: the day ran at {ran} where {row.rated:.4g} is stated; the search "
                   "may go as far as the day.")  # fmt: skip
    for price in found.best.prices:
        if price.own and price.price > 0.0 and price.limit != 0.0:  # a flow that is shut is none
            yield (f"{price.address} stands at the end of the program's own range: that is no "
                   "advice; state a limit of the mill for it under [best.limits].")  # fmt: skip
