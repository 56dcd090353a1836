"""The bridge from plan to actual from the store: accounted for its span, kept, shown again."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from ratoon import __version__
from ratoon.account.readings.gathered import NoteKind
from ratoon.base import units
from ratoon.base.as_json import from_json, to_json
from ratoon.base.errors import BadInput
from ratoon.base.records import Period
from ratoon.jobs.season.ahead import QUANTILES, kept_forecast_parts
from ratoon.jobs.season.plan import DAY, booked, planned_for, season_plan
from ratoon.jobs.sheet.to_date import changed_since, load
from ratoon.plans.bridge.factors import MEASURED, Came
from ratoon.plans.bridge.planned import FIGURES, Planned
from ratoon.plans.bridge.result import (
    Bridge,
    BridgeMade,
    CostLine,
    Ends,
    SeasonAhead,
    SeasonPlanned,
)
from ratoon.plans.bridge.steps import Bridged, bridged
from ratoon.store.answers import newest_parts, newest_result
from ratoon.store.cane import kept as stored
from ratoon.store.chain.digest import digest
from ratoon.store.chain.reach import newest_event
from ratoon.store.entries import mill_days

if TYPE_CHECKING:
    from ratoon.account.period import PeriodAccount
    from ratoon.jobs.mills import OpenMill
    from ratoon.settings.records import PriceSettings

KIND = "bridge"
AS_PLANNED = "not booked yet, as planned"
ADDRESSES = dict(zip(MEASURED, (
    "account.cane", "account.ccs", "account.fibre_in_cane", "account.extraction",
    "account.pol.cane", "account.sugar", "account.sugar_pol", "account.loss.molasses",
    "account.loss.known", "account.loss.undetermined", "account.pol.stock_change",
)))  # fmt: skip
WORDS = {"cane": "cane", "ccs": "CCS", "fibre": "fibre", "rate": "rate", "hours": "hours",
         "extraction": "extraction", "recovery": "boiling house recovery", "sugar": "sugar",
         "sugar_price": "price of sugar", "cane_price": "price of cane",
         "other_cost": "other cost"}  # fmt: skip


def span_of(opened: OpenMill, first: date | None, last: date | None) -> tuple[date, date]:
    """The span asked for; by default the season, as far as it is on record.

    Raises
    ------
    BadInput : days out of order, of two seasons, or without records.
    """
    calendar = opened.mill.calendar
    days = opened.store.ask(mill_days, calendar)
    if not days:
        raise BadInput("no mill day is on record", todo="Import readings first.")
    end = last or days[-1]
    begin = first or next((d for d in days if calendar.same_season(d, end)), end)
    if begin > end:
        raise BadInput("the span ends before it begins", value=f"{begin} to {end}",
                       allowed="--from on or before --to")  # fmt: skip
    if end > days[-1]:
        raise BadInput("nothing is on record yet", where=f"{end}",
                       allowed=f"days to {days[-1]}")  # fmt: skip
    if not calendar.same_season(begin, end):
        raise BadInput("the span goes over two seasons", value=f"{begin} to {end}",
                       allowed="days of one season")  # fmt: skip
    if not any(begin <= d <= end for d in days):
        raise BadInput("no readings and no stop", where=f"{begin} to {end}")
    return begin, end


def to_date(opened: OpenMill, day: date, season: bool) -> tuple[date, date]:
    """The week, or the season, to an accounted mill day, as far as it is on record."""
    calendar = opened.mill.calendar
    first = calendar.first_of_season(day) if season else calendar.first_of_week_to_date(day)
    days = opened.store.ask(mill_days, calendar, _period(opened, first, day))
    return min([d for d in days if d >= first], default=day), day


def bridge_of(opened: OpenMill, first: date | None = None, last: date | None = None) -> BridgeMade:
    """The bridge of a span, kept with its account, or as it was kept.

    Raises
    ------
    BadInput : a span that cannot be, or of which no plan has a day.
    """
    begin, end = span_of(opened, first, last)
    kept = kept_bridge(opened, begin, end)
    if kept is not None:
        return kept
    seen = opened.store.ask(newest_event)[0]
    made = _make(opened, begin, end)
    told = to_json(made)
    opened.store.add_result(KIND, _period(opened, begin, end), digest(told), _versions(opened, end),
                            told, seen)  # fmt: skip
    return _with_ahead(opened, end, made)


def kept_bridge(opened: OpenMill, first: date, last: date) -> BridgeMade | None:
    """The bridge kept for a span, unless what it was made from changed since."""
    kept = opened.store.ask(newest_result, KIND, _period(opened, first, last))
    if kept is None or not _versions(opened, last).items() <= kept.versions.items():
        return None
    if changed_since(opened, kept, last):
        return None
    return _with_ahead(opened, last, from_json(BridgeMade, kept.answer))


def _versions(opened: OpenMill, last: date) -> dict[str, str]:
    """What a bridge is made from besides readings and stops: mill file, plans and costs."""
    rows = [r.content for kind in ("plan week", "cost")
            for r in opened.store.ask(stored.records, kind)]  # fmt: skip
    text = opened.mill_on(last).settings.text
    return {"settings": digest(text), "program": __version__, "plans": digest(rows)}


def make_bridge(opened: OpenMill, first: date, last: date) -> None:
    """Make and keep a span's bridge: the job of a worker."""
    bridge_of(opened, first, last)


def _period(opened: OpenMill, first: date, last: date) -> Period:
    calendar = opened.mill.calendar
    return Period(calendar.period(first).start, calendar.period(last).end)


def _make(opened: OpenMill, first: date, last: date) -> BridgeMade:
    from ratoon.jobs.sheet.week import accounted_span, lost_in

    plan = planned_for(opened, first, last)
    if plan is None:
        raise BadInput("no plan has a day of it", where=f"{first} to {last}",
                       todo="Import one: ratoon import plan.csv")  # fmt: skip
    records = load(opened, last)
    account = accounted_span(records, first, last)
    costs, words = _costs(opened, first, last, plan)
    came = _came(account, {c.cause: c.hours for c in lost_in(records, first, last)}, costs)
    found = bridged(plan, came)
    settings = opened.mill_on(last).settings
    (s0, s1), (m0, m1) = found.sugar, found.money
    bridge = Bridge(
        plan.made.isoformat(), first.isoformat(), last.isoformat(), settings.mill.currency,
        Ends(s0, s1, None), Ends(m0, m1, None), found.steps, _cost_lines(plan, came, found),
    )  # fmt: skip
    whole = (_whole_cost(found, 0), _whole_cost(found, 1))
    cane = came.figures.get("cane") or None
    planned_cane = plan.cane if plan.cane is not None else cane
    return BridgeMade(
        bridge, found.sugar_sigma, found.groups,
        (_ratio(whole[0], planned_cane), _ratio(whole[1], cane)),
        (_ratio(whole[0], s0), _ratio(whole[1], s1)), _season(opened, last),
        (*_said(plan, (last - first).days + 1), *words,
         *(n.words for n in account.gathered.notes if n.kind is NoteKind.UNRECORDED)),
    )  # fmt: skip


def _whole_cost(found: Bridged, side: int) -> float:
    """Cost of cane and all other cost: what the sugar's price leaves."""
    return found.sugar_money[side] - found.money[side]


def _came(account: PeriodAccount, lost: dict[str, float], costs: dict[str, float]) -> Came:
    """What came, as one account of the span tells it, with the covariance of its figures."""
    figures, names, scales = {}, [], []
    for name, address in ADDRESSES.items():
        figure = account.figure(address)
        if figure.value is None or account.answer is None:
            continue
        figures[name] = figure.value
        names.append(name)
        over = account.seconds_of(address, figure.unit)
        scales.append(units.spread_from_inside(over, figure.unit))
    covariance = np.zeros((len(MEASURED), len(MEASURED)))
    if account.answer is not None and names:
        at = [MEASURED.index(name) for name in names]
        found = account.answer.covariance([ADDRESSES[name] for name in names])
        covariance[np.ix_(at, at)] = found * np.outer(scales, scales)
    prices, gathered = account.mill.settings.prices, account.gathered
    lacking = [name for name in ("cane", "sugar") if name not in figures]
    if gathered.crushing > 0.0 and lacking:  # else nothing would count as made
        days = account.mill.calendar.days_of(gathered.period)
        why = next((n.words for n in gathered.notes if n.kind is NoteKind.REFUSED), "")
        raise BadInput(f"the readings do not determine {' and '.join(lacking)}",
                       where=f"{days[0]} to {days[-1]}", todo=why)  # fmt: skip
    by_pol = figures.get("sugar_pol", 100.0 * prices.sugar_pol) / (100.0 * prices.sugar_pol)
    return Came(
        {"cane": 0.0, "sugar": 0.0} | figures, gathered.crushing / 3600.0,
        gathered.whole / 3600.0, lost, prices.sugar * by_pol, prices.cane, costs, covariance,
    )  # fmt: skip


def _costs(
    opened: OpenMill, first: date, last: date, plan: Planned
) -> tuple[dict[str, float], list[str]]:
    """Costs of a span by account; those of weeks not booked yet stand as planned."""
    weeks = booked(opened, first, last)
    if not weeks:
        return {}, ["no costs are booked for a whole week of it: they count as planned"]
    cane = _cane_of(opened, min(weeks), last)
    found: dict[str, float] = {}
    left = plan.other_cost
    for week, rows in weeks.items():
        for row in rows:
            by = sum(cane.get(week + n * DAY, 0.0) for n in range(7)) if "/" in row.unit else 1.0
            found[row.account] = found.get(row.account, 0.0) + by * row.amount
        own = planned_for(opened, max(week, first), week + 6 * DAY)
        if left is not None and own is not None and own.other_cost is not None:
            left -= own.other_cost
    words = []
    if left is not None and plan.other_cost and abs(left) > 1e-6 * abs(plan.other_cost):
        found[AS_PLANNED] = left
        words.append("costs of weeks not booked yet count as planned")
    return found, words


def _cane_of(opened: OpenMill, first: date, last: date) -> dict[date, float]:
    parts = opened.store.ask(newest_parts, "day", "figures", _period(opened, first, last))
    day_of = opened.mill.calendar.day_of
    return {day_of(p.start): float((f.get("account.cane") or {}).get("value") or 0.0)
            for p, _, f in parts if f}  # fmt: skip


def _cost_lines(plan: Planned, came: Came, found: Bridged) -> tuple[CostLine, ...]:
    cane = came.figures["cane"]
    paid = came.cane_price * cane
    asked = None if plan.cane is None else plan.cane * (
        came.cane_price if plan.cane_price is None else plan.cane_price)  # fmt: skip
    lines = [CostLine("cane", asked, paid, _ratio(paid, cane))]
    other = sum(came.costs.values()) if came.costs else None
    lines.append(CostLine("all other cost", plan.other_cost, other,
                          None if other is None else _ratio(other, cane)))  # fmt: skip
    lines += [CostLine(name, None, by, _ratio(by, cane)) for name, by in came.costs.items()]
    return tuple(lines)


def _ratio(above: float, below: float | None) -> float | None:
    return above / below if below else None


def _said(plan: Planned, days: int) -> list[str]:
    """What the plan does not set, and what then stands in its place."""
    words = [f"the plan was made on {plan.made}"]
    none = [WORDS[n] for n in FIGURES if getattr(plan, n) is None and n not in plan.partly]
    if none:
        words.append(f"the plan sets no {', '.join(none)}: as it came, so without a step")
    if plan.partly:
        words.append(f"some weeks of the plan lack {', '.join(WORDS[n] for n in plan.partly)}: "
                     "as it came, so without a step")  # fmt: skip
    if plan.days < days:
        words.append(f"{days - plan.days} of {days} days are in no week of the plan: "
                     "nothing counts as planned for them")  # fmt: skip
    return words


def _season(opened: OpenMill, last: date) -> SeasonPlanned:
    """The whole season as planned, with prices and costs as they stand on a day."""
    season, begin = season_plan(opened, last), opened.mill.calendar.first_of_season(last)
    prices, other = opened.mill_on(last).settings.prices, season.other_cost if season else None
    if season is not None and other is not None:
        costs, _ = _costs(opened, begin, last, season)
        other = sum(costs.values()) if costs else other
    return SeasonPlanned(season.cane if season else None, season.sugar if season else None,
                         prices.sugar, prices.cane, other,
                         _planned_money(season, prices) if season else None)  # fmt: skip


def _planned_money(plan: Planned, prices: PriceSettings) -> float | None:
    """What a plan leaves [money], at the mill file's prices where it sets none."""
    if plan.cane is None or plan.sugar is None or plan.other_cost is None:
        return None
    sugar, cane = (own if own is not None else usual for own, usual in (
        (plan.sugar_price, prices.sugar), (plan.cane_price, prices.cane)))  # fmt: skip
    return sugar * plan.sugar - cane * plan.cane - plan.other_cost


def _with_ahead(opened: OpenMill, last: date, made: BridgeMade) -> BridgeMade:
    """A bridge beside what the whole season will come to, by the newest forecast kept."""
    found = kept_forecast_parts(opened, last)
    if found is None:
        return made
    at, told = found
    season, finish = made.season, told["finish"]
    cane, sugar = (tuple(float(told[k][q] or 0.0) for q in QUANTILES) for k in ("cane", "sugar"))
    ahead = SeasonAhead(
        at.isoformat(), (finish["q05"], finish["q50"], finish["q95"]),
        (cane[0], season.cane, cane[1], cane[2]), (sugar[0], season.sugar, sugar[1], sugar[2]),
    )  # fmt: skip
    money = None
    if season.other is not None:
        money = season.sugar_price * sugar[1] - season.cane_price * cane[1] - season.other
    bridge = replace(made.bridge, sugar=replace(made.bridge.sugar, forecast=sugar[1]),
                     money=replace(made.bridge.money, forecast=money))  # fmt: skip
    return replace(made, bridge=bridge, ahead=ahead)
