"""The page Bridge as a record: what it shows, ready to be written."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from ratoon.base.words import capital, sentence
from ratoon.plans.bridge.result import MARGIN, BridgeMade, Group, Step
from ratoon.reports.ahead import finish_words
from ratoon.reports.compose import day_in_words
from ratoon.reports.numbers import (
    NOTHING,
    Shown,
    grouped,
    short_day,
    show,
    show_money,
    signed,
)
from ratoon.web.days import DayPlace
from ratoon.web.season.bridge_drawing import waterfall

LEAST = 0.002
"""Share of the planned money below which digits of it say nothing where nothing was measured."""


@dataclass(frozen=True, slots=True)
class StepRow:
    """A cause, or its factor's steps together (`parts` of them below it)."""

    name: str
    sugar: str
    sugar_half: str
    money: str
    money_half: str
    shapley: str
    parts: int = 0
    part: bool = False


@dataclass(frozen=True, slots=True)
class CostRow:
    """An account: planned, booked, and booked on a tonne of cane."""

    name: str
    plan: str
    actual: str
    per_cane: str


@dataclass(frozen=True, slots=True)
class BridgePage:
    """The page; `none` says why there is no bridge, and then nothing else is there."""

    place: DayPlace
    title: str
    mill_name: str
    season: bool
    none: str = ""
    span: str = ""
    plan_made: str = ""
    totals: tuple[tuple[str, str, str, str], ...] = ()
    sugar_picture: Markup = Markup("")
    money_picture: Markup = Markup("")
    steps: tuple[StepRow, ...] = ()
    costs: tuple[CostRow, ...] = ()
    per_tonne: tuple[tuple[str, str, str], ...] = ()
    finish: str = ""
    ahead: tuple[tuple[str, str, str, str], ...] = ()
    words: tuple[str, ...] = ()
    currency: str = "$"


def bridge_page(place: DayPlace, mill_name: str, season: bool, made: BridgeMade) -> BridgePage:
    """The page of a bridge."""
    b, currency = made.bridge, made.bridge.currency
    span = f"{short_day(b.from_)} to {short_day(b.to)} {b.to[:4]}"
    totals = tuple(
        (name, grouped(x.plan, n), grouped(x.actual, n), signed(x.actual - x.plan, n))
        for name, x, n in (("sugar, t", b.sugar, 0), (f"{MARGIN}, {currency}", b.money, -3))
    )
    return BridgePage(
        place, day_in_words(place.date), mill_name, season, span=span,
        plan_made=day_in_words(b.plan), totals=totals,
        sugar_picture=Markup(waterfall(
            b.sugar.plan, [(g.name, g.sugar, g.sugar_sigma) for g in made.groups
                           if abs(g.sugar) >= 0.5 or g.sugar_sigma], b.sugar.actual, "t", 0)),
        money_picture=Markup(waterfall(
            b.money.plan, [(g.name, g.money, g.sigma) for g in made.groups], b.money.actual,
            currency, -3)),
        steps=tuple(_rows(made)), costs=tuple(
            CostRow(c.account, _money(c.plan), _money(c.actual), _money(c.per_t_cane, 2))
            for c in b.costs),
        per_tonne=tuple((f"all costs on a tonne of {of}", _money(x[0], 2), _money(x[1], 2))
                        for of, x in (("cane", made.per_cane), ("sugar", made.per_sugar))),
        finish=_finish(made), ahead=_ahead(made),
        words=tuple(sentence(capital(w)) for w in made.words), currency=currency,
    )  # fmt: skip


def _rows(made: BridgeMade) -> list[StepRow]:
    """Each factor, and its parts below it where it has several."""
    rows = []
    for g in made.groups:
        parts = g.count if g.count > 1 else 0
        rows.append(_row(g.name, g, g.sugar_sigma, made, parts))
        for n in range(g.first, g.first + parts):
            step = made.bridge.steps[n]
            name = step.cause.partition(": ")[2]
            rows.append(_row(name, step, made.sugar_sigma[n], made, part=True))
    return rows


def _row(
    name: str, of: Step | Group, sugar_sigma: float, made: BridgeMade, parts: int = 0,
    part: bool = False,
) -> StepRow:  # fmt: skip
    sugar = show(of.sugar, sugar_sigma or None, "t")
    money = show_money(of.money, of.sigma or LEAST * abs(made.bridge.money.plan) or None, "")
    shapley = show_money(of.shapley, of.sigma or LEAST * abs(made.bridge.money.plan) or None, "")
    none = not of.sugar and not sugar_sigma
    return StepRow(
        name, "" if none else _signed(sugar, of.sugar), sugar.interval if sugar_sigma else "",
        _signed(money, of.money), money.interval if of.sigma else "",
        _signed(shapley, of.shapley), parts, part,
    )  # fmt: skip


def _signed(shown: Shown, value: float) -> str:
    return f"+{shown.text}" if value > 0.0 and shown.text.strip("0. \u202f") else shown.text


def _money(value: float | None, decimals: int = -3) -> str:
    return NOTHING if value is None else grouped(value, decimals)


def _finish(made: BridgeMade) -> str:
    if made.ahead is None:
        return ""
    return f"{finish_words(made.ahead.finish)}, by the forecast of {short_day(made.ahead.made)}"


def _ahead(made: BridgeMade) -> tuple[tuple[str, str, str, str], ...]:
    """What the season will come to against its plan: planned, middle with 90 %, difference."""
    if made.ahead is None:
        return ()
    rows = []
    for name, (low, plan, middle, high) in (("cane, t", made.ahead.cane),
                                            ("sugar, t", made.ahead.sugar)):  # fmt: skip
        told = f"{grouped(middle, -2)} (90 %: {grouped(low, -2)} to {grouped(high, -2)})"
        less = "" if plan is None else signed(middle - plan, -2)
        rows.append((name, _money(plan, -2), told, less))
    money = made.bridge.money.forecast
    if money is not None:
        plan = made.season.money
        rows.append((f"{MARGIN}, {made.bridge.currency}", _money(plan, -4), grouped(money, -4),
                     "" if plan is None else signed(money - plan, -4)))  # fmt: skip
    return tuple(rows)
