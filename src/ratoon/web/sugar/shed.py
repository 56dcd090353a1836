"""The page Shed as a record: what it shows, ready to be written."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from markupsafe import Markup

from ratoon.base.words import capital
from ratoon.plans.shed.answer import Draw, Reach, Shed, ShedAdvice, ShedAnswer
from ratoon.plans.shed.keeping import class_of
from ratoon.plant.cautions import DEFER, SUGAR_STORE
from ratoon.reports.compose import day_in_words
from ratoon.reports.numbers import grouped, short_day, signed
from ratoon.web.days import DayPlace
from ratoon.web.sugar.drawing import cells_drawing, path_drawing

TWO_SIGMA = 1.96
MEETS = {True: "yes", False: "no", None: ""}


@dataclass(frozen=True, slots=True)
class CellRow:
    """One cell with something in it."""

    cell: str
    tonnes: str
    height: str
    oldest: str
    lots: str
    pol: str
    colour: str
    safety: str
    dilution: str
    keeps: str


@dataclass(frozen=True, slots=True)
class ShedCard:
    """One shed."""

    name: str
    stock: str
    book: str
    survey: str
    full: str
    empty: str
    cover: str
    path: Markup
    plan: Markup
    cells: tuple[CellRow, ...]


@dataclass(frozen=True, slots=True)
class ShedPage:
    """The page; `none` says why there is no answer, and then nothing else is there."""

    place: DayPlace
    title: str
    mill_name: str
    at: str
    none: str = ""
    until: str = ""
    look: tuple[str, ...] = ()
    advice: tuple[tuple[str, str, str, str], ...] = ()
    sheds: tuple[ShedCard, ...] = ()
    reclaim: tuple[tuple[str, str, str, str, str], ...] = ()
    held: tuple[str, ...] = ()
    currency: str = "$"
    lacking: tuple[str, ...] = ()
    cautions: str = f"{SUGAR_STORE} {DEFER}"


def shed_page(place: DayPlace, title: str, mill_name: str, told: ShedAnswer) -> ShedPage:
    """The page of the sheds."""
    return ShedPage(
        place, title, mill_name, day_in_words(told.from_), "", day_in_words(told.until),
        tuple(capital(a.caution) for a in told.advice if a.gain is None),
        tuple(_advice(a) for a in told.advice if a.gain is not None),
        tuple(_card(one) for one in told.sheds), tuple(_draw(way) for way in told.reclaim),
        told.held, told.currency, told.lacking,
    )  # fmt: skip


def _advice(one: ShedAdvice) -> tuple[str, str, str, str]:
    return (capital(one.what), signed(one.gain or 0.0, -3),
            grouped(TWO_SIGMA * (one.sigma or 0.0), -3), one.caution)  # fmt: skip


def _card(one: Shed) -> ShedCard:
    band = TWO_SIGMA * one.stock.sigma
    q = one.cover_days
    survey = ""
    if one.survey is not None:
        s = one.survey
        says = "no more than the errors of both: it says nothing"
        if s.significant:
            says = "more than the errors of both: sugar came or went that was not recorded"
        when = datetime.fromisoformat(s.at)
        survey = (f"{when.day} {when:%B}: {grouped(s.value, -1)} t, give or take"
                  f" {grouped(TWO_SIGMA * s.sigma, -1)}; {signed(s.difference, -1)} t from the"
                  f" book, {says}")  # fmt: skip
    cells = tuple(
        CellRow(c.cell, grouped(c.t, 0), _number(c.height, 1), _number(c.oldest_days, 0),
                str(len(c.lots)), _number(c.pol, 2), _number(c.colour, 0),
                _number(c.safety_factor, 2), _number(c.dilution, 0),
                "" if c.safety_factor is None else class_of(c.safety_factor))
        for c in one.cells if c.t > 0.0
    )  # fmt: skip
    return ShedCard(
        one.shed,
        f"{grouped(one.stock.value, -1)} t, give or take {grouped(band, -1)} (95 %)",
        f"{grouped(one.book, 0)} t", survey, _reach(one.full), _reach(one.empty),
        f"{_number(q.q50, 0)} days ({_number(q.q05, 0)} to {_number(q.q95, 0)})",
        Markup(path_drawing(one.shed, one.path, one.stock.value, one.room, one.heel))
        if one.path else Markup(""),
        Markup(cells_drawing(one.shed, one.cells, one.room)) if one.cells else Markup(""), cells,
    )  # fmt: skip


def _reach(one: Reach) -> str:
    """Chance and days: the early one in twenty, and the middle."""
    text = f"{100 * one.chance:.0f} %"
    days = [f"{name} {short_day(day)}" for name, day in
            (("one in twenty by", one.date.q05), ("half by", one.date.q50)) if day]  # fmt: skip
    return f"{text}: {', '.join(days)}" if days else text


def _draw(way: Draw) -> tuple[str, str, str, str, str]:
    cells = ", ".join(f"{at} {grouped(t, 0)} t" for at, t in way.cells)
    return (capital(way.order), cells, _number(way.pol, 2), _number(way.colour, 0),
            MEETS[way.meets])  # fmt: skip


def _number(value: float | None, decimals: int) -> str:
    return "" if value is None else grouped(value, decimals)
