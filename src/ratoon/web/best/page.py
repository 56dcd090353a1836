"""The page of the best settings: what was found of a day, written out in rows and drawings."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

from markupsafe import Markup

from ratoon.base.words import capital
from ratoon.plans.best.result import BestLimit, BestOfDay, BestResult, BestSetting, LadderResult
from ratoon.reports.compose import day_in_words
from ratoon.reports.morning import Moves, Panel
from ratoon.reports.numbers import MINUS, decimals_for, grouped, show_money, unit_as_read
from ratoon.reports.panels import panels_of
from ratoon.reports.todo import move_lines
from ratoon.web.best.drawing import (
    bar_drawing,
    curve_drawing,
    gain_drawing,
    ladder_drawing,
    setting_drawing,
)
from ratoon.web.trial.page import address_of

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.account.results.day import DayResult
    from ratoon.plant.plant import Plant
    from ratoon.web.days import DayPlace

PANELS = ("worth", "next")
LIKELY = 0.1  # chance of a load to pass its limit from which a margin is wanted


@dataclass(frozen=True, slots=True)
class SettingRow:
    """A setting: today's value, the best, its range and whose word that is; where Try opens it."""

    address: str
    name: str
    unit: str
    today: str
    best: str
    low: str
    high: str
    at: str
    source: str
    moved: bool
    picture: Markup
    open: str


@dataclass(frozen=True, slots=True)
class PriceRow:
    """A limit that binds, and what one more of its unit would earn an hour."""

    name: str
    at: str
    price: str
    per: str
    hundredth: str
    holds: str
    source: str
    picture: Markup


@dataclass(frozen=True, slots=True)
class RungRow:
    """A rung of the ladder: rate, money an hour, what holds it, what more of it would gain."""

    rate: str
    money: str
    holds: str
    price: str
    gain: str
    season: str


@dataclass(frozen=True, slots=True)
class LadderPart:
    """The ladder at best, its picture; as run; what could be bought; what has no rating."""

    rungs: tuple[RungRow, ...]
    picture: Markup
    crossings: tuple[tuple[str, str], ...]
    equipment: tuple[tuple[str, str, str, str], ...]
    unlimited: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CurveRow:
    """Money over one setting."""

    name: str
    unit: str
    words: str
    picture: Markup


@dataclass(frozen=True, slots=True)
class WithoutRow:
    """The advice with one suspect reading left out."""

    name: str
    gain: str
    moves: str


@dataclass(frozen=True, slots=True)
class BestPage:
    """The page. `waiting` says what is being worked out; then nothing else is there yet."""

    place: DayPlace
    title: str
    mill_name: str
    rate: str
    rates: tuple[tuple[str, str], ...]
    waiting: str = ""
    none: str = ""
    regime: str = ""
    today: str = ""
    best: str = ""
    gain: str = ""
    band: str = ""
    picture: Markup = Markup("")
    moves: Moves | None = None
    settings: tuple[SettingRow, ...] = ()
    prices: tuple[PriceRow, ...] = ()
    terms: tuple[tuple[str, str, str, str, str], ...] = ()
    figures: tuple[tuple[str, str, str, str], ...] = ()
    over: tuple[tuple[str, str], ...] = ()
    curves: tuple[CurveRow, ...] = ()
    ladder: LadderPart | None = None
    without: tuple[WithoutRow, ...] = ()
    panels: tuple[Panel, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def holds(self) -> bool:
        """Whether it is known how far any price holds."""
        return any(p.holds for p in self.prices)


def rates_of(mill: Mill) -> tuple[tuple[str, str], ...]:
    """What may be asked of the rate, in words; a crop to finish where an hour has its cost."""
    asked = [("held", "rate as on the day: cane is short"), ("free", "rate free: cane waits")]
    if mill.settings.season.hour_cost > 0.0:
        asked.append(("crop", "a crop to finish: an hour of the season costs"))
    return tuple(asked)


def best_page(
    place: DayPlace, result: DayResult, mill: Mill, rate: str, found: BestOfDay
) -> BestPage:
    """The page of what was found of a day.

    Parameters
    ----------
    result : the day's account. rate : as it was asked.
    """
    best, sign = found.best, result.prices.currency
    title, panels = day_in_words(place.date), _panels(result)
    if not isinstance(best, BestResult):
        return BestPage(place, title, result.mill_name, rate, rates_of(mill),
                        none=best.why_not.words, panels=panels)  # fmt: skip
    money = best.money
    band = "" if money.low is None or money.high is None else (
        f"{_money(money.low, sign)} to {_money(money.high, sign)}")  # fmt: skip
    stated = [*mill.settings.best.free]  # as the mill file has them
    order = sorted(best.settings, key=lambda a: stated.index(a) if a in stated else len(stated))
    names = {r.address: r.name for r in result.readings}
    return BestPage(
        place, title, result.mill_name, rate, rates_of(mill),
        regime=capital(best.regime.words), today=_money(money.today, sign),
        best=_money(money.best, sign), gain=_money(money.gain, sign), band=band,
        picture=Markup(gain_drawing(money, sign)),
        moves=move_lines(found.moves, sign),
        settings=tuple(_setting(place.date, mill.plant, a, best.settings[a]) for a in order),
        prices=tuple(_prices(best, sign)),
        terms=tuple((capital(t.name), f"{_price(t.price, sign)} a {unit_as_read(t.unit)}", t.source,
                     _money(t.today, sign), _money(t.best, sign)) for t in best.terms),
        figures=tuple(_figures(best, mill.plant)),
        over=_over(best, mill.plant),
        curves=tuple(_curves(best, sign)),
        ladder=_ladder(found.ladder, sign) if found.ladder else None,
        without=tuple(_without(best, mill.plant, names, sign)), panels=panels,
        notes=best.notes, cautions=best.cautions,
    )  # fmt: skip


def _panels(result: DayResult) -> tuple[Panel, ...]:
    return tuple(p for p in panels_of(result) if p.key in PANELS)


def _money(value: float, sign: str) -> str:
    """Money to about three figures."""
    return show_money(value, max(abs(value), 1.0) / 400, sign).text


def _price(value: float, sign: str) -> str:
    """A price to two figures or whole units of money."""
    size = abs(value)
    decimals = max(decimals_for(size / 20), 0) if size > 0.0 else 0
    return f"{MINUS if value < 0 else ''}{sign}{grouped(size, min(decimals, 2))}"


def _short(name: str) -> str:
    """A load by what is loaded."""
    return name.partition(",")[0].removeprefix("load of the ").removeprefix("load of ")


def _setting(date: str, plant: Plant, address: str, one: BestSetting) -> SettingRow:
    wide = one.high - one.low
    decimals = max(decimals_for((wide or abs(one.today) or 1.0) / 30), 0)
    today, best, low, high = (
        grouped(x, decimals) for x in (one.today, one.best, one.low, one.high)
    )
    at = {"low": "lowest", "high": "highest", None: ""}[one.at]
    value = min(max(round(one.best, decimals + 1), one.low), one.high)
    moved = wide > 0.0 and today != best
    point = plant.set_point_of(address)
    return SettingRow(
        address, capital(one.name), unit_as_read(one.unit), today, best, low, high, at, one.source,
        moved, Markup(setting_drawing(one.name, one)),
        address_of(date, {point: value}, ()) if moved else "",
    )  # fmt: skip


def _prices(best: BestResult, sign: str) -> Iterator[PriceRow]:
    """What binds, dearest first for a hundredth of the limit."""
    binding = [x for x in best.limits if x.binds]
    most = max((_hundredth(x) for x in binding), default=0.0)
    for one in binding:
        side = "at most" if one.side == "high" else "at least"
        unit = unit_as_read(one.per)
        holds = "" if one.holds_to is None else f"{one.holds_to:.3g} {unit}".rstrip()
        worth = _hundredth(one)
        yield PriceRow(
            capital(one.name), f"{side} {one.limit:.5g} {unit_as_read(one.unit)}".rstrip(),
            _price(one.price, sign), unit, _price(worth, sign), holds, one.source,
            Markup(bar_drawing(f"{one.name}: {sign}{worth:,.1f} an hour", worth / (most or 1.0))),
        )  # fmt: skip


def _hundredth(one: BestLimit) -> float:
    return one.price * abs(one.limit) / 100.0


def _figures(best: BestResult, plant: Plant) -> Iterator[tuple[str, str, str, str]]:
    for address, one in best.figures.items():
        name = capital(plant.addresses[address].name)
        change = abs(one.after - one.before)
        decimals = max(decimals_for(change), 0) if change > 1e-9 else 2
        decimals = min(decimals, 3)
        before, after = (grouped(x, decimals) for x in (one.before, one.after))
        if before != after:
            yield name, unit_as_read(one.unit), before, after


def _over(best: BestResult, plant: Plant) -> tuple[tuple[str, str], ...]:
    """Loads that may well pass their limit, the likeliest first."""
    over = best.draws.over if best.draws else {}
    likely = sorted((x for x in over.items() if x[1] > LIKELY), key=lambda x: -x[1])
    return tuple(
        (capital(plant.addresses[a].name), f"{100.0 * chance:.0f}") for a, chance in likely
    )


def _curves(best: BestResult, sign: str) -> Iterator[CurveRow]:
    for address, curve in best.curves.items():
        one = best.settings[address]
        unit = unit_as_read(curve.unit)
        low, high = curve.flat
        wide = max(p.at for p in curve.points) - min(p.at for p in curve.points)
        decimals = max(decimals_for(max(wide, 1e-3) / 30), 0)
        told = (f"Best at {grouped(curve.best, decimals)} {unit}; flat from "
                f"{grouped(low, decimals)} to {grouped(high, decimals)}")  # fmt: skip
        picture = Markup(curve_drawing(one.name, curve, one.today, sign))
        yield CurveRow(capital(one.name), unit, f"{told} {unit}.".replace(" .", "."), picture)


def _ladder(ladder: LadderResult, sign: str) -> LadderPart:
    bought = tuple((e.name, _money(e.cost, sign), _money(e.gain, sign),
                    "" if e.gain_a_season is None else _money(e.gain_a_season, sign))
                   for e in ladder.equipment)  # fmt: skip
    return LadderPart(
        tuple(_rungs(ladder, sign)), Markup(ladder_drawing(ladder.at_best, sign)),
        tuple((_short(x.name), f"{x.rate:.0f}") for x in ladder.as_run), bought, ladder.unlimited,
    )  # fmt: skip


def _together(names: Iterable[str]) -> Iterator[str]:
    """Names that differ in a number alone as one: "surface of effect 1, 2, 3"."""
    for stem, alike in groupby(names, key=lambda name: name.rstrip("0123456789")):
        yield stem + ", ".join(name.removeprefix(stem) for name in alike)


def _rungs(ladder: LadderResult, sign: str) -> Iterator[RungRow]:
    for rung in ladder.at_best:
        holds = "; ".join(_together(_short(b.name) for b in rung.binds)) or "nothing that is rated"
        first = rung.binds[0] if rung.binds else None
        price = "" if first is None else f"{_price(first.price, sign)} a {unit_as_read(first.per)}"
        yield RungRow(
            f"{rung.rate:.0f}", _money(rung.money, sign), capital(holds), price,
            "" if rung.gain is None else _money(rung.gain, sign),
            "" if rung.gain_a_season is None else _money(rung.gain_a_season, sign),
        )  # fmt: skip


def _without(
    best: BestResult, plant: Plant, names: Mapping[str, str], sign: str
) -> Iterator[WithoutRow]:
    for one in best.without:
        wanted = ((a, best.settings[a]) for a in one.moves if a in best.settings)
        moves = [f"{s.name} {one.moves[a]:.4g} {unit_as_read(s.unit)}".rstrip()
                 for a, s in wanted if s.high > s.low]  # fmt: skip
        name = names.get(one.left_out) or plant.addresses[one.left_out].name
        yield WithoutRow(capital(name), _money(one.gain, sign), "; ".join(moves))
