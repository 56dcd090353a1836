"""The page Refinery as a record: what it shows, ready to be written."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from markupsafe import Markup

from ratoon.plans.refinery.case import REFINERY
from ratoon.plans.refinery.model import NO_ROOM
from ratoon.plans.refinery.plan import HIRE
from ratoon.plans.refinery.result import (
    Answered,
    Chances,
    PricedLimit,
    RefineryAnswer,
    RefineryWeek,
)
from ratoon.plans.season.answer import Spread
from ratoon.plant.cautions import DEFER, SUGAR_STORE
from ratoon.reports.compose import day_in_words
from ratoon.reports.numbers import grouped, short_day, signed
from ratoon.web.days import DayPlace
from ratoon.web.sugar.drawing import path_drawing

LIMITS = {
    "tonnes": "room in {}", "heel": "what stays in {}", "in_rate": "rate into {}",
    "out_rate": "rate out of {}", "store": "store for {}", "melt_most": "most melted",
    "melt_least": "least melted", "pol_least": "pol of the melt", "colour_most":
    "colour of the melt", "hire_most": "room that can be hired",
}  # fmt: skip
"""Limits in words, by the last part of their name."""
MOST = {"mills": "hauled from {}", "buyers": "taken by {}"}
NEXT_WEEKS = 8
"""Weeks ahead for which the rule is shown."""
OVER = 1000.0
"""Tonnes made over plan for which an answer is shown."""


@dataclass(frozen=True, slots=True)
class RefineryPage:
    """The page; `none` says why there is no answer, and then nothing else is there.

    Parameters
    ----------
    outcomes : with the rule and as the plan is: chances, and what nine in ten are below. buyers :
        heads of what is sold. weeks : made, to sheds, out of them, melted, packed, sold to each
        buyer, short, no room, in sheds.
    """

    place: DayPlace
    title: str
    mill_name: str
    at: str
    none: str = ""
    money: str = ""
    path: Markup = Markup("")
    outcomes: tuple[tuple[str, ...], ...] = ()
    limits: tuple[tuple[str, ...], ...] = ()
    why_not: tuple[tuple[str, ...], ...] = ()
    rule: tuple[tuple[str, ...], ...] = ()
    buyers: tuple[str, ...] = ()
    weeks: tuple[tuple[str, ...], ...] = ()
    totals: tuple[str, ...] = ()
    currency: str = "$"
    lacking: tuple[str, ...] = ()
    cautions: str = f"{SUGAR_STORE} {DEFER}"


def refinery_page(
    place: DayPlace, title: str, mill_name: str, told: RefineryAnswer
) -> RefineryPage:  # fmt: skip
    """The page of the refinery's year."""
    sign, at = told.currency, day_in_words(told.from_)
    if told.money is None:
        why = tuple((_name(x), f"at {x.side}", _amount(x.limit), x.unit) for x in told.why_not)
        return RefineryPage(place, title, mill_name, at, why_not=why, currency=sign,
                            lacking=told.lacking)  # fmt: skip
    outcomes = []
    if told.chance is not None and told.spill is not None and told.shortage is not None:
        outcomes.append(_outcome("sales answer", told.chance, told.spill, told.shortage))
    if told.rule and told.without_rule is not None:
        plain = told.without_rule
        outcomes.append(_outcome("sales as planned", plain.chance, plain.spill, plain.shortage))
    first = dict.fromkeys(w.start for w in told.weeks[:NEXT_WEEKS])
    buyers = tuple(told.weeks[0].sell)
    rows = [_week(w) for w in told.weeks]
    begins = _in_sheds(told.weeks[0]) - _moved(told.weeks[0], into=True) + _moved(
        told.weeks[0], into=False)  # fmt: skip
    return RefineryPage(
        place, title, mill_name, at, "", f"{sign}{grouped(told.money, -3)}",
        Markup(path_drawing("all sheds", told.path, begins, told.room, told.heel)),
        tuple(outcomes), tuple(_limit(x) for x in told.limits), (),
        tuple(_answered(x) for x in told.rule if x.week in first), buyers,
        tuple((short_day(w.start), *(grouped(t, 0) for t in row))
              for w, row in zip(told.weeks, rows, strict=True)),
        (*(grouped(sum(c), 0) for c in zip(*(row[:-1] for row in rows), strict=True)), ""),
        sign, told.lacking,
    )  # fmt: skip


def _outcome(name: str, chance: Chances, spilt: Spread, short: Spread) -> tuple[str, ...]:
    shares = (f"{100 * x:.0f} %" for x in (chance.full, chance.empty, chance.short))
    return name, *shares, *(grouped(q.q95 or 0.0, 0) for q in (spilt, short))


def _name(limit: PricedLimit) -> str:
    """A limit in words."""
    kind, _, rest = limit.name.partition(".")
    if kind == REFINERY:
        return LIMITS[rest].format("all sheds")
    place, _, key = rest.rpartition(".")
    return MOST[kind].format(place) if key == "most" else LIMITS[key].format(place)


def _limit(x: PricedLimit) -> tuple[str, ...]:
    return (
        _name(x), "all weeks" if x.week is None else short_day(x.week), f"at {x.side}",
        _amount(x.limit), x.unit, _money(x.price), _money(x.other_side), _amount(x.holds_to),
    )  # fmt: skip


def _money(value: float | None) -> str:
    return "no plan" if value is None else grouped(value, 0 if abs(value) >= 100.0 else 2)


def _amount(value: float | None) -> str:
    """A limit with the digits that it needs."""
    return "" if value is None else grouped(value, 0 if value >= 100.0 or not value else 1)


def _answered(x: Answered) -> tuple[str, ...]:
    buyer = "room to hire" if x.buyer == HIRE else x.buyer
    return short_day(x.week), buyer, grouped(x.plan, 0), signed(OVER * x.answer, 0)


def _sum(values: Iterable[float]) -> float:
    return sum(values, 0.0)


def _in_sheds(week: RefineryWeek) -> float:
    return _sum(t for place, of in week.stock.items() if place != REFINERY for t in of.values())


def _moved(week: RefineryWeek, *, into: bool) -> float:
    """What came into the sheds, or left them."""
    sheds = set(week.stock) - {REFINERY}
    return _sum(h.t for h in week.haul if (h.to if into else h.from_) in sheds)


def _week(w: RefineryWeek) -> tuple[float, ...]:
    return (
        _sum(t for of in w.make.values() for t in of.values()), _moved(w, into=True),
        _moved(w, into=False), _sum(w.melt.values()), _sum(w.pack.values()), *w.sell.values(),
        _sum(w.short.values()), _sum(h.t for h in w.haul if h.to == NO_ROOM), _in_sheds(w),
    )  # fmt: skip
