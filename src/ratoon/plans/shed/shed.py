"""The whole answer of `ratoon shed`: cells, surveys, the path ahead, and what to do."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np

from ratoon.base.sugar import place
from ratoon.plans.season.answer import DateSpread, Spread
from ratoon.plans.shed import answer as said
from ratoon.plans.shed import path as ahead_of
from ratoon.plans.shed.books import Told, pile_of, shares_of, stock_of, store_of
from ratoon.plans.shed.brands import Brand, brands_of, drawn_by_brand, slowed, undrawn
from ratoon.plans.shed.cells import cautions, cells_of, draws
from ratoon.plans.shed.exchanged import exchanges
from ratoon.plans.shed.ledger import ledger
from ratoon.plans.shed.path import Ahead, Array, Path, Store
from ratoon.plans.shed.survey import TELLING, Book, Stock, Surveyed

WORTH_SAYING = 0.05
"""Chance of being full or empty from which something is advised (mill's choice)."""
MORE = 0.10
"""By how much draws or hauls are moved to see what that gains."""


def shed_answer(told: Told, lacking: Sequence[str]) -> said.ShedAnswer:
    """Everything about the sheds on a morning."""
    book = ledger(told.lots, told.movements, told.now)
    lots = {lot.lot: lot for lot in told.lots}
    missing = list(lacking)
    cells: dict[str, tuple[said.ShedCell, ...]] = {}
    stocks: dict[str, tuple[Book, Stock, tuple[Surveyed, datetime] | None]] = {}
    stores = []
    shares = shares_of(told, book)
    for row in told.sheds:
        pile = pile_of(row)
        cells[row.name] = cells_of(row.name, row.cells, pile, book, lots, told.laws, told.now,
                                   told.local)  # fmt: skip
        stocks[row.name] = stock_of(told, row, pile, book)
        stores.append(store_of(row, pile, stocks[row.name][1], shares[row.name], missing))
    flows, brands = _flows(told), brands_of(told, book)
    ahead = _ahead(told, flows, brands)
    path = ahead_of.follow(stores, ahead, told.seed)
    by_place = {place(s, c.cell): c for s, own in cells.items() for c in own}
    sheds = tuple(_shed(told, n, s, stocks[s.name], cells[s.name], path)
                  for n, s in enumerate(stores))  # fmt: skip
    look = tuple(cautions(by_place, lots))
    return said.ShedAnswer(
        told.at.isoformat(), sheds,
        (*(said.ShedAdvice("look at it", None, None, c) for c in look),
         *(said.ShedAdvice("analyse them again", None, None, e.words)
           for e in exchanges([lot for lot in told.lots if lot.end < told.now])),
         *(said.ShedAdvice("slow a brand, or draw it", None, None, w) for w in undrawn(told, book)),
         *_advice(told, stores, ahead, path, _slower(told, flows, brands))),
        draws(by_place, told.melted.mean + told.sold.mean, told.pol_least, told.colour_most),
        tuple(h.words for h in book.held), _day(told, told.starts[-1]), told.currency,
        tuple(missing), _line(sheds, look),
    )  # fmt: skip


def _line(sheds: Sequence[said.Shed], look: Sequence[str]) -> str:
    """What the morning sheet says: what to look at, then stock and chances."""
    told = [f"{s.shed} {round(s.stock.value, -2):,.0f} t, chance of full"
            f" {100 * s.full.chance:.0f} %{_half_by(s.full)}, of empty"
            f" {100 * s.empty.chance:.0f} %" for s in sheds]  # fmt: skip
    return "; ".join([*look[:1], *told])


def _half_by(reach: said.Reach) -> str:
    if reach.date.q50 is None:
        return ""
    day = date.fromisoformat(reach.date.q50)
    return f" (half by {day.day} {day:%b})"


def _flows(told: Told) -> tuple[Array, Array, Array]:
    """What comes, is melted and is sold in each week of each future [t]."""
    rng = np.random.default_rng([told.seed, 11])
    weeks = (np.diff(np.array(told.starts)) / ahead_of.DAYS)[:, None]
    crushes = weeks * told.crushing
    run = (1.0 - np.array(told.stops))[:, None] * weeks * np.ones_like(told.make)
    comes = told.comes.drawn(rng, crushes, told.make)
    melted = told.melted.drawn(rng, run, np.zeros_like(told.make))
    sold = told.sold.drawn(rng, crushes, told.make)
    return told.make + comes, melted, sold


def _ahead(told: Told, flows: tuple[Array, Array, Array], brands: Sequence[Brand]) -> Ahead:
    """The weeks to come; of several brands each is a stock of its own."""
    return Ahead(told.starts, flows[0], *drawn_by_brand(brands, *flows))


def _slower(
    told: Told, flows: tuple[Array, Array, Array], brands: Sequence[Brand]
) -> Iterator[tuple[str, Ahead]]:
    """Each brand slowed for another, and what other mills bring of it, or of all."""
    comes, melted, sold = flows
    if not brands and told.comes.mean > 0.0:
        step = MORE * told.comes.mean
        less = np.maximum(comes - step * told.crushing, 0.0)
        yield (f"take {_round(step):,.0f} t a week less from other mills",
               _ahead(told, (less, melted, sold), brands))  # fmt: skip
    a_week = float(told.make.sum() / max(told.crushing.sum(), 1.0)) + told.comes.mean
    for slow in brands:
        by = MORE * slow.comes
        for other in brands:
            if other.name and by and other is not slow:
                what = f"{_round(by * a_week):,.0f} t a week of {other.name} in its place"
                yield (f"slow {slow.name}: {what}",
                       _ahead(told, flows, slowed(brands, slow, by, other)))  # fmt: skip
        if by := MORE * slow.brought:
            less = comes * (1.0 - by)
            yield (f"slow {slow.name}: take {_round(by * a_week):,.0f} t a week less of it from"
                   " other mills", _ahead(told, (less, melted, sold),
                                          slowed(brands, slow, by, None)))  # fmt: skip


def _day(told: Told, days: float) -> str:
    return (told.at + timedelta(days=int(days))).isoformat()


def _reach(told: Told, days: Array) -> said.Reach:
    dates = [None if d is None else _day(told, d) for d in ahead_of.days_at(days)]
    return said.Reach(ahead_of.chance(days), DateSpread(*dates))


def _shed(
    told: Told, n: int, store: Store, known: tuple[Book, Stock, Any],
    cells: tuple[said.ShedCell, ...], path: Path,
) -> said.Shed:  # fmt: skip
    book, held, survey = known
    seen = None
    if survey is not None and held.difference is not None:
        seen = said.ShedSurveySaid(survey[0].tonnes, survey[0].sigma, held.difference,
                                   bool(held.significant),
                                   told.local(survey[1]).isoformat())  # fmt: skip
    weeks = tuple(said.ShedWeek(_day(told, told.starts[w + 1]), *ahead_of.quantiles(own))
                  for w, own in enumerate(path.stock[n]))  # fmt: skip
    return said.Shed(
        store.name, book.tonnes, said.ShedStock(max(held.value, 0.0), held.sigma), seen, cells,
        weeks, _reach(told, path.full[n]), _reach(told, path.empty[n]),
        Spread(*ahead_of.quantiles(path.cover[n])), store.room, store.heel,
    )  # fmt: skip


def _advice(
    told: Told, stores: Sequence[Store], ahead: Ahead, path: Path,
    slower: Iterable[tuple[str, Ahead]],
) -> Iterator[said.ShedAdvice]:  # fmt: skip
    """What moving one thing gains over the same futures, the largest gain first.

    Sugar that is sold, kept or spilt was made all the same: what a change gains is sugar that finds
    room, at what making it leaves, and sugar that is melted, at what its products leave.
    """
    base = ahead_of.lost(path, told.over, told.short)
    over, short = (float(np.mean(x > 1.0)) for x in (path.over, path.short))
    mean = told.melted.mean + told.sold.mean
    more = MORE * told.melted.mean * told.crushing
    tries: list[tuple[str, Mapping[str, Any]]] = []
    if over >= WORTH_SAYING:
        room = float(np.quantile(path.over[path.over > 1.0], 0.5)) if over else 0.0
        step = MORE * mean if told.most_sold is None else min(MORE * mean, told.most_sold)
        tries += [
            (f"hire room for {_round(room):,.0f} t, before what it costs",
             {"stores": ahead_of.with_room(stores, room)}),
            (f"send or sell {_round(step):,.0f} t a week more from now on",
             {"ahead": replace(ahead, goes=ahead.goes + step * told.crushing)}),
            (f"melt {100 * MORE:.0f} % more while the mill crushes", {
                "ahead": replace(ahead, goes=ahead.goes + more), "melted": more.sum(axis=0)}),
        ]  # fmt: skip
    if short >= WORTH_SAYING and told.sold.mean > 0.0:
        less = ahead.goes - MORE * told.sold.mean * told.crushing
        tries.append((f"sell {_round(MORE * told.sold.mean):,.0f} t a week less",
                      {"ahead": replace(ahead, goes=np.maximum(less, 0.0))}))  # fmt: skip
    if max(over, short) >= WORTH_SAYING:
        tries += [(what, {"ahead": other}) for what, other in slower]
    made = []
    for what, change in tries:
        other = ahead_of.follow(change.get("stores", stores), change.get("ahead", ahead), told.seed)
        gain = base - ahead_of.lost(other, told.over, told.short)
        gain = gain + told.short * change.get("melted", 0.0)
        left = float(np.mean(other.over > 1.0)), float(np.mean(other.short > 1.0))
        words = (f"chance of sugar without room {100 * over:.0f} to {100 * left[0]:.0f} %, of too"
                 f" little to draw {100 * short:.0f} to {100 * left[1]:.0f} %")  # fmt: skip
        error = TELLING * float(gain.std()) / np.sqrt(len(gain))
        if gain.mean() > error:  # a gain that other futures might not have is none
            made.append(said.ShedAdvice(what, float(gain.mean()), float(gain.std()), words))
    yield from sorted(made, key=lambda a: -(a.gain or 0.0))


def _round(tonnes: float) -> float:
    """Two digits: nobody hires by the kilogram."""
    if tonnes <= 0.0:
        return 0.0
    digits = int(np.floor(np.log10(tonnes))) - 1
    return float(round(tonnes, -digits))
