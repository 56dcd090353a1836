"""``ratoon ledger``: the molasses tanks, and what was spread on each block."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

from ratoon.account.readings.rolled import book_of, stores_of
from ratoon.base.records import Period
from ratoon.jobs.cane.files import record_of
from ratoon.jobs.season.forecast import day_of
from ratoon.jobs.season.fuel import rows_of_stores
from ratoon.plans.recall.by_products import (
    ByProducts,
    TankLine,
    full_days,
    on_blocks,
    watch_words,
)
from ratoon.plant.stations.stocks import WEIGHED
from ratoon.store.answers import newest_parts
from ratoon.store.cane import kept as stored
from ratoon.store.entries import readings_in

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.jobs.mills import OpenMill

KG = 1000.0
LATELY = 14
"""Days by which the make to come is told (mill's choice)."""
CYCLE = timedelta(days=5 * 365)
"""Loads of so long count together: a plant crop and its ratoons (common practice)."""
TEMPERATURE = "temperature"


def ledger_of(opened: OpenMill, day: date | None = None) -> ByProducts:
    """The ledger of by-products on the morning of a mill day.

    Raises
    ------
    BadInput : no records yet.
    """
    at = day_of(opened, day)
    mill = opened.mill_on(at)
    now = mill.calendar.period(at).start
    lacking: list[str] = []
    ask = opened.store.ask
    loads = [record_of(r) for r in ask(stored.records, "spread load", Period(now - CYCLE, now))]
    areas = {b.block: b.area for b in map(record_of, ask(stored.records, "block")) if b.area}
    blocks = on_blocks(loads, areas, mill.settings.spread_products)
    if not loads:
        lacking.append("spread_loads: no load of mud or ash on record")
    if missing := sorted({b.block for b in blocks if b.t_ha is None}):
        lacking.append(f"the area of {', '.join(missing[:5])}"
                       f"{f' and {len(missing) - 5} more' if len(missing) > 5 else ''} (blocks):"
                       " no t/ha")  # fmt: skip
    return ByProducts(at.isoformat(), tuple(_tanks(opened, mill, at, lacking)), blocks,
                      tuple(lacking))  # fmt: skip


def _tanks(opened: OpenMill, mill: Mill, at: date, lacking: list[str]) -> list[TankLine]:
    """The stores of what is dipped and weighed out: molasses, all its tanks together."""
    now = mill.calendar.period(at).start
    found = [one for one in stores_of(mill) if one.dip in WEIGHED]
    if not found:
        lacking.append("mill.toml: stores.molasses: what the tanks of molasses hold")
    rows = rows_of_stores(opened, mill, at)
    span = Period(now - timedelta(days=LATELY), now)
    accounted = [f for _, _, f in opened.store.ask(newest_parts, "works", "figures", span) if f]
    made = []
    for one in found:
        name = one.dip.replace("_", " ")
        held = book_of(mill, one, rows, now)
        if held is None:
            lacking.append(f"{one.held}: {name} was never dipped or surveyed")
            continue
        _, value, sigma, _ = held
        lately = [sum(float(f[a][0]) for a in one.comes if f.get(a)) for f in accounted]
        made.append(TankLine(name, min(max(value, 0.0), one.room) / KG,
                             full_days(value / KG, sigma / KG, one.room / KG, lately),
                             _watch(opened, mill, one.dip, at)))  # fmt: skip
    return made


def _watch(opened: OpenMill, mill: Mill, stock: str, at: date) -> str:
    """By the warmest reading of the last fortnight that is noted of it."""
    noted = [a for a in mill.settings.noted if stock in a and a.endswith(TEMPERATURE)]
    now = mill.calendar.period(at).start
    read = opened.store.ask(readings_in, Period(now - timedelta(days=LATELY), now), None, noted)
    if not noted or not read:
        return watch_words(None)
    warmest = max(read, key=lambda r: r.value)
    moment = warmest.start or warmest.end
    return watch_words(warmest.value, f"{mill.calendar.to_local(moment):%Y-%m-%d}" if moment
                       else "")  # fmt: skip
