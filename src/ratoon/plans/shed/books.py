"""What the answer rests on, and each shed's book, stock and room out of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

import numpy as np

from ratoon.base.sugar import Lot, Movement, ShedSurvey, place
from ratoon.plans.shed.ledger import KG, Ledger, ledger
from ratoon.plans.shed.make import Flow
from ratoon.plans.shed.path import Array, Store
from ratoon.plans.shed.pile import Pile
from ratoon.plans.shed.survey import (
    ANGLE,
    DENSITY,
    Book,
    Stock,
    Surveyed,
    stock,
    surveyed,
    together,
)
from ratoon.settings.sugar import KeepingRow, ShedRow

SAME_SURVEY = timedelta(hours=36)
"""Cells surveyed within so long of each other are of one survey."""
NO_ROOM = 1e9


@dataclass(frozen=True)
class Told:
    """All that the answer rests on.

    Parameters
    ----------
    at : mill day and the moment that it begins. make : own sugar by week and future [t].
        crushing : whether the season is on. comes, sold, melted : what came from elsewhere, was
        sold and went to the melt in a week: mean, scatter, and uncertainty of the mean [t]; the
        first two go on while the mill crushes. stops : share of each week that the melt stands.
    over, short : money a tonne without room, and a tonne that is not there. sell : money that a
        tonne sold now brings over what it would later.
    local : a moment by the clock of the mill.
    """

    at: date
    now: datetime
    sheds: Sequence[ShedRow]
    lots: Sequence[Lot]
    movements: Sequence[Movement]
    surveys: Sequence[ShedSurvey]
    laws: Sequence[KeepingRow]
    starts: tuple[int, ...]
    make: Array
    crushing: Array
    comes: Flow
    sold: Flow
    melted: Flow
    stops: Sequence[float]
    over: float
    short: float
    currency: str
    local: Callable[[datetime], datetime]
    pol_least: float | None = None
    colour_most: float | None = None
    most_sold: float | None = None
    seed: int = 0


def pile_of(row: ShedRow) -> Pile | None:
    """The shape of a shed; None where the mill file does not give it."""
    if row.width is None or row.length is None:
        return None
    return Pile(row.width, row.length, row.angle, row.density, row.push_wall,
                row.ends == "half cones")  # fmt: skip


def store_of(
    row: ShedRow, pile: Pile | None, held: Stock, share: tuple[float, float], lacking: list[str]
) -> Store:  # fmt: skip
    sigma = 0.0
    if row.tonnes is not None:
        room = row.tonnes / KG
    elif pile is not None:
        room = pile.capacity
        steeper, denser = (replace(pile, angle=pile.angle + ANGLE),
                           replace(pile, density=pile.density + DENSITY))  # fmt: skip
        sigma = float(np.hypot(steeper.capacity - room, denser.capacity - room))
        lacking.append(f"sheds: {row.name}, tonnes: by its shape {room:,.0f} t, give or take"
                       f" {2 * sigma:,.0f}")  # fmt: skip
    else:
        room = NO_ROOM
        lacking.append(f"sheds: {row.name}, tonnes or width and length: taken as never full")
    return Store(row.name, held.value, held.sigma, room, sigma, row.heel / KG, *share)


def _book(book: Ledger, shed: str, cells: set[str] | None = None) -> Book:
    """What a shed, or some of its cells, holds, and all that came and went [t]."""
    inside = place(shed, "")

    def own(at: str) -> bool:
        return at.startswith(inside) and (cells is None or at[len(inside) :] in cells)

    came = sum(m.kg for m in book.moves if own(m.to) and not own(m.from_))
    went = sum(m.kg for m in book.moves if own(m.from_) and not own(m.to))
    return Book((came - went) / KG, came / KG, went / KG)


def stock_of(
    told: Told, row: ShedRow, pile: Pile | None, book: Ledger
) -> tuple[Book, Stock, tuple[Surveyed, datetime] | None]:
    """Book, stock, and the newest survey with its hour."""
    now = _book(book, row.name)
    own = [s for s in told.surveys if s.shed == row.name and s.time < told.now
           and (pile is not None or s.tonnes is not None)]  # fmt: skip
    if not own:
        return now, stock(now), None
    last = max(s.time for s in own)
    newest = {s.cell: s for s in sorted(own, key=lambda s: s.time)
              if last - s.time <= SAME_SURVEY}  # fmt: skip
    then = ledger(told.lots, told.movements, last)
    if "" in newest:
        return now, stock(now, _book(then, row.name), surveyed(newest[""], pile)), (
            surveyed(newest[""], pile), last)  # fmt: skip
    part = None if pile is None else pile.part(1.0 / max(len(row.cells), 1))
    seen = together([surveyed(s, part) for s in newest.values()])
    of_cells = _book(then, row.name, set(newest))
    whole = _book(then, row.name)
    rest = Book(0.0, whole.came - of_cells.came, whole.went - of_cells.went).sigma
    all_ = replace(seen, tonnes=seen.tonnes + whole.tonnes - of_cells.tonnes,
                   own=float(np.hypot(seen.own, max(rest, 0.0))))  # fmt: skip
    found = stock(now, whole, all_)
    alone = stock(of_cells, of_cells, seen)
    found = replace(found, difference=alone.difference, significant=alone.significant)
    return now, found, (seen, last)


def shares_of(told: Told, book: Ledger) -> dict[str, tuple[float, float]]:
    """Each shed's share of what came lately, and of what was drawn; by room where nothing did."""
    since = told.now - timedelta(days=28)
    came = dict.fromkeys((s.name for s in told.sheds), 0.0)
    went = dict(came)
    for m in book.moves:
        if m.time < since:
            continue
        to, from_ = m.to.partition("/")[0], m.from_.partition("/")[0]
        if to != from_:
            came[to] = came.get(to, 0.0) + m.kg
            went[from_] = went.get(from_, 0.0) + m.kg
    found = {}
    for row in told.sheds:
        parts = []
        for moved in (came, went):
            total = sum(moved[s.name] for s in told.sheds)
            parts.append(moved[row.name] / total if total else 1.0 / len(told.sheds))
        found[row.name] = (parts[0], parts[1])
    return found
