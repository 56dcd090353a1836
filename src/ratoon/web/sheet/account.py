"""Account: the sugar, fibre, water and steam accounts of a day, their trend, suspect readings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ratoon.account.results.day import LossName
from ratoon.reports.layout import LOSS_NAMES
from ratoon.reports.morning import MorningSheet
from ratoon.reports.numbers import NOTHING, grouped, show
from ratoon.web.days import DayPlace
from ratoon.web.plant.trend_drawing import Point
from ratoon.web.plant.works import Trend
from ratoon.web.sheet.balance_drawing import BalanceRow

if TYPE_CHECKING:
    from ratoon.jobs.sheet.history import DayFacts
    from ratoon.plant.roles import Roles

TITLES = {
    "fibre": "Fibre", "water": "Water", "steam": "High-pressure steam", "exhaust": "Exhaust steam",
}  # fmt: skip
COLOUR = {"fibre": "straw", "water": "water", "steam": "steam", "exhaust": "steam"}


@dataclass(frozen=True, slots=True)
class Balance:
    """One account: what came in and where it went, in tonnes of the day."""

    key: str
    title: str
    colour: str
    rows: tuple[BalanceRow, ...]


@dataclass(frozen=True, slots=True)
class AccountPage:
    """The day's accounts."""

    place: DayPlace
    sheet: MorningSheet
    balances: tuple[Balance, ...]
    trends: tuple[Trend, ...]
    money: tuple[Trend, ...]


def _balance(key: str, terms: Any, figures: Mapping[str, Any]) -> Balance:
    total = sum(figures[t.address][0] for t in terms if t.way == "in" and t.address in figures)
    rows = []
    for term in terms:
        value, sigma = figures.get(term.address, (None, None))
        share = NOTHING if value is None or not total else grouped(100.0 * value / total, 1)
        rows.append(BalanceRow(term.address, term.text, term.way, show(value, sigma, "t"), share))
    return Balance(key, TITLES[key], COLOUR[key], tuple(rows))


def _share_trend(days: Mapping[str, DayFacts], until: str, key: LossName, kept: int) -> Trend:
    from ratoon.jobs.sheet.history import last_days

    points = []
    for day in last_days(days, until, kept):
        part = days[day].result.losses[key]
        points.append(Point(day, part.pct, part.pct_sigma))
    return Trend(f"account.loss.{key}_share", LOSS_NAMES[key], "% of pol in cane",
                 tuple(points), None)  # fmt: skip


def _money_trend(days: Mapping[str, DayFacts], until: str, key: LossName, kept: int) -> Trend:
    from ratoon.jobs.sheet.history import last_days

    points = []
    currency = ""
    for day in last_days(days, until, kept):
        result = days[day].result
        part = result.losses[key]
        currency = result.prices.currency
        points.append(Point(day, part.money, part.money_sigma))
    address = "account.undetermined" if key == "undetermined" else f"account.loss.{key}"
    return Trend(address, LOSS_NAMES[key], f"{currency} a day", tuple(points), None)


def account_page(
    days: Mapping[str, DayFacts],
    works: Mapping[str, Any],
    sheet: MorningSheet,
    place: DayPlace,
    roles: Roles,
    kept: int = 30,
) -> AccountPage:
    """The page: `kept` days of trend up to the day shown."""
    from ratoon.account.figures.balances import accounts

    figures = works.get("figures", {})
    return AccountPage(
        place=place,
        sheet=sheet,
        balances=tuple(_balance(k, terms, figures) for k, terms in accounts(roles).items()),
        trends=tuple(_share_trend(days, place.date, k, kept) for k in LOSS_NAMES),
        money=tuple(_money_trend(days, place.date, k, kept) for k in LOSS_NAMES),
    )
