"""``ratoon refinery``: the year's case from mill file, sheds, forecast, sister mills and orders."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from ratoon.base import units
from ratoon.base.as_json import to_json
from ratoon.base.errors import BadInput, RatoonError
from ratoon.base.sugar import Lot
from ratoon.base.sugar import Order as OrderRow
from ratoon.jobs.cane.files import record_of
from ratoon.jobs.mills import OpenMill
from ratoon.jobs.season.forecast import day_of, keep, kept_of
from ratoon.jobs.sister_mills import DAYS, FUTURES, UNNAMED, binned, mill_told, sister_mills
from ratoon.jobs.sugar.shed import kept_shed, make_ahead, make_shed, shed_of, stops_ahead
from ratoon.plans.refinery.case import (
    Brand,
    Buyer,
    Case,
    Limit,
    Order,
    Product,
    Shed,
    Side,
    Ways,
    told_apart,
)
from ratoon.plans.refinery.plan import solve
from ratoon.plans.refinery.result import RefineryAnswer
from ratoon.plans.shed import keeping
from ratoon.store.cane import kept as stored
from ratoon.store.chain.digest import digest

if TYPE_CHECKING:
    from ratoon.plans.shed.answer import ShedAnswer
    from ratoon.settings.records import Settings

KIND = "refinery"
KG, TPH = 1000.0, units.to_inside(1.0, "t/h")
LATELY = timedelta(weeks=8)
"""Lots by which it is told how a brand is now."""
LEFT = 0.9
"""Of the least price, what sugar is worth that is kept into the next year (mill's choice)."""


def refinery_of(
    opened: OpenMill, day: date | None = None, *, prices: bool = True
) -> RefineryAnswer:  # fmt: skip
    """The refinery's year from the morning of a mill day; with its prices it is kept.

    Raises
    ------
    BadInput : no refinery or no shed in the mill file, no records yet.
    """
    at = day_of(opened, day)
    settings = opened.mill_on(at).settings
    made = solve(case_of(opened, at), prices=prices, currency=settings.mill.currency)
    if prices:
        keep(opened, KIND, at, digest(to_json(made)), to_json(made))
    return made


def kept_refinery(opened: OpenMill, at: date) -> RefineryAnswer | None:
    """What is kept of a morning's year."""
    return kept_of(opened, KIND, at, RefineryAnswer)


def make_refinery(opened: OpenMill, at: date) -> None:
    """Make and keep a morning's year: the job of a worker."""
    refinery_of(opened, at)


def keep_sugar(opened: OpenMill, day: date) -> None:
    """Keep the sheds and the refinery's year of the morning after a mill day, where none are kept
    and the mill has them."""
    at = day + timedelta(days=1)
    for kept, make in ((kept_shed, make_shed), (kept_refinery, make_refinery)):
        with suppress(RatoonError):
            if kept(opened, at) is None:
                make(opened, at)


def case_of(opened: OpenMill, at: date) -> Case:
    """The year's case as the records have it: whole weeks from a morning to the next season."""
    settings = opened.mill_on(at).settings
    if settings.refinery is None:
        raise BadInput("no refinery", where="mill.toml: refinery",
                       todo="Write [refinery] with its products.")  # fmt: skip
    sheds = kept_shed(opened, at) or shed_of(opened, at)
    lots = [record_of(r) for r in opened.store.ask(stored.records, "lot")]
    lacking = [words for words in sheds.lacking if not words.startswith(("sales", "movements"))]
    starts, make = make_ahead(opened, at, FUTURES, lacking)
    weeks = max(starts[-1] // DAYS, 1)
    own = settings.mill.name
    brands = _brands(settings, lots, own, at, opened)
    first = next((lot.brand for lot in reversed(lots) if lot.mill in ("", own)), "") or UNNAMED
    mills = {own: mill_told(first, binned(starts, make, weeks).T, Ways(0.0))}
    mills |= sister_mills(opened, at, weeks, lacking)
    orders = _orders(opened, at, weeks, settings, lacking)
    of = settings.refinery
    if of.spill_cost is None:
        lacking.append("refinery.spill_cost: taken as the price of sugar")
    left = of.left_value
    if left is None:
        left = LEFT * min((b.price for b in settings.buyers), default=settings.prices.sugar)
        lacking.append(f"refinery.left_value: sugar that is there at the end is taken as worth"
                       f" {settings.mill.currency}{left:,.0f} a tonne")  # fmt: skip
    lacking.append("what is packed at the start: taken as none")
    stops = stops_ahead(opened.mill_on(at), at, tuple(range(0, DAYS * weeks + 1, DAYS)))
    held = _sheds(settings, sheds, lots, first)
    known = dict.fromkeys([*(b for m in mills.values() for b in m.make),
                           *(b for s in held.values() for b in s.stock)])  # fmt: skip
    return told_apart(Case(
        at, weeks, mills, held, _products(settings), _buyers(settings, list(known)), orders,
        {b: brands.get(b, Brand()) for b in known}, 1.0 - np.array(stops),
        _limits(settings, sheds, brands, list(known), weeks, lacking), of.hire_cost,
        settings.prices.sugar if of.spill_cost is None else of.spill_cost, left,
        tuple(dict.fromkeys(lacking)),
    ))  # fmt: skip


def _brands(
    settings: Settings, lots: Sequence[Lot], own: str, at: date, opened: OpenMill
) -> dict[str, Brand]:
    """How brands are as made lately, and how they keep by the mill's law at the warmth it is told
    for."""
    since = opened.mill.calendar.period(at).start - LATELY
    found = {}
    for name in {lot.brand or UNNAMED for lot in lots}:
        all_ = [lot for lot in lots if (lot.brand or UNNAMED) == name]
        some = [lot for lot in all_ if lot.end >= since] or all_
        pol, moisture, colour = (_mean(some, k) for k in ("pol", "moisture", "colour"))
        usual = replace(some[-1], pol=pol, moisture=moisture, colour=colour)
        after = keeping.kept(usual, keeping.MONTH, settings.keeping)
        found[name] = Brand(
            pol, colour, 0.0 if pol is None or after.pol is None else pol - after.pol,
            100.0 * (after.colour / colour - 1.0) if colour and after.colour else 0.0)  # fmt: skip
    return found


def _mean(lots: Sequence[Lot], figure: str) -> float | None:
    """A figure of lots weighed by their tonnes; None where none has it."""
    told = [(lot.tonnes, getattr(lot, figure)) for lot in lots if getattr(lot, figure) is not None]
    return sum(t * v for t, v in told) / sum(t for t, _ in told) if told else None


def _sheds(settings: Settings, sheds: ShedAnswer, lots: Sequence[Lot], own: str) -> dict[str, Shed]:
    """Stocks by brand as the sheds' cells have them, together what survey and book say."""
    brand = {lot.lot: lot.brand or UNNAMED for lot in lots}
    made = {}
    for one in sheds.sheds:
        stock: dict[str, float] = {}
        age = weight = 0.0
        for cell in one.cells:
            age, weight = age + cell.t * (cell.oldest_days or 0.0), weight + cell.t
            for part in cell.lots:
                name = brand.get(part.lot, own)
                stock[name] = stock.get(name, 0.0) + part.t
        whole, held = sum(stock.values()), min(max(one.stock.value, 0.0), one.room)
        if not whole:
            stock, whole = {own: held}, held
        share = held / whole if whole else 1.0
        made[one.shed] = Shed({b: share * t for b, t in stock.items()},
                              age / weight / DAYS if weight else 0.0, Ways(0.0), 0.0)  # fmt: skip
    return made


def _products(settings: Settings) -> dict[str, Product]:
    assert settings.refinery is not None
    return {p.name: Product(p.pack / KG, p.yield_, p.value, p.short_cost, 0.0, 0.0)
            for p in settings.refinery.products}  # fmt: skip


def _buyers(settings: Settings, brands: list[str]) -> dict[str, Buyer]:
    return {b.name: Buyer((b.brand,) if b.brand else tuple(brands), b.price)
            for b in settings.buyers if not b.brand or b.brand in brands}  # fmt: skip


def _orders(
    opened: OpenMill, at: date, weeks: int, settings: Settings, lacking: list[str]
) -> tuple[Order, ...]:
    """Orders still due within the year; after the last of them, as much a week as they ask."""
    products = _products(settings)
    rows: list[OrderRow] = [record_of(r) for r in opened.store.ask(stored.records, "order")]
    made = []
    for row in rows:
        due = (row.due - at).days // DAYS
        if row.product in products and 0 <= due < weeks:
            first = max((row.earliest - at).days // DAYS, 0)
            made.append(Order(row.order, row.product, row.packs * products[row.product].pack,
                              first, due))  # fmt: skip
    if not made:
        lacking.append("orders: none is due, so nothing is melted for any")
        return ()
    begin, end = min(o.last for o in made), max(o.last for o in made)
    if end + 1 < weeks:
        told = (at + timedelta(DAYS * (end + 1))).isoformat()
        lacking.append(f"orders from {told} on: as many are taken to come as are on record")
    for name in products:
        usual = sum(o.tonnes for o in made if o.product == name) / (end + 1 - begin)
        made += [Order(f"{name}, week {w + 1}", name, usual, w, w) for w in range(end + 1, weeks)]
    return tuple(made)


def _limits(
    settings: Settings, sheds: ShedAnswer, brands: Mapping[str, Brand], known: list[str],
    weeks: int, lacking: list[str],
) -> dict[str, Limit]:  # fmt: skip
    """The mill file's limits by name."""
    made: dict[str, Limit] = {}
    rooms = {s.shed: s.room for s in sheds.sheds}

    def put(name: str, side: Side, unit: str, value: float | None, inside: float = KG) -> None:
        if value is not None:
            made[name] = Limit(side, unit, np.full(weeks, value / inside))

    for sister in settings.sister_mills:
        put(f"mills.{sister.name}.most", "most", "t a week", sister.most)
    for shed in settings.sheds:
        put(f"sheds.{shed.name}.tonnes", "most", "t", rooms[shed.name], 1.0)
        put(f"sheds.{shed.name}.heel", "least", "t", shed.heel)
        put(f"sheds.{shed.name}.in_rate", "most", "t/h", shed.in_rate, TPH)
        put(f"sheds.{shed.name}.out_rate", "most", "t/h", shed.out_rate, TPH)
    of = settings.refinery
    assert of is not None
    if of.melt_most is None:
        lacking.append("refinery.melt_most: the melt has no limit")
    put("refinery.melt_least", "least", "t a week", of.melt_least)
    put("refinery.melt_most", "most", "t a week", of.melt_most)
    put("refinery.heel", "least", "t", of.heel)
    put("refinery.hire_most", "most", "t", of.hire_most)
    for key, figure, value in (("pol_least", "pol", of.pol_least),
                               ("colour_most", "colour", of.colour_most)):  # fmt: skip
        unknown = [b for b in known if getattr(brands.get(b, Brand()), figure) is None]
        if value is not None and unknown:
            lacking.append(f"{figure} of lots of {', '.join(unknown)}: refinery.{key} is left out")
        elif figure == "pol":
            put(f"refinery.{key}", "least", "%", value, 0.01)
        else:
            put(f"refinery.{key}", "most", "IU", value, 1.0)
    for product in of.products:
        put(f"products.{product.name}.store", "most", "t", product.store)
    for buyer in settings.buyers:
        put(f"buyers.{buyer.name}.most", "most", "t a week", buyer.most)
    return made
