"""``ratoon fuel``: the bagasse store as the account rolls it, and whether it lasts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from ratoon.account.readings.combine import doubt
from ratoon.account.readings.rolled import SURELY, addresses_of, book_of, stores_of
from ratoon.base import units
from ratoon.base.as_json import to_json
from ratoon.base.errors import BadInput
from ratoon.base.records import Period, Reading
from ratoon.jobs.season.ahead import fuel_words
from ratoon.jobs.season.forecast import day_of, given_of, keep, kept_of
from ratoon.plans.season.forecast import fitted_to
from ratoon.plans.season.fuel import (
    BURN_SIGMA,
    USUAL_BURN,
    USUAL_SIGMA,
    Fuel,
    FuelDay,
    Net,
    fit_net,
)
from ratoon.plans.season.fuel_advice import FUTURES, FuelPrices, fuel_answer
from ratoon.plans.season.fuel_answer import Burn, FuelAnswer
from ratoon.plans.season.stops import LONG
from ratoon.settings.records import ReadingSettings
from ratoon.store.answers import last_before, newest_parts
from ratoon.store.chain.digest import digest
from ratoon.store.entries import readings_in

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.jobs.mills import OpenMill
    from ratoon.plans.season.given import Given
    from ratoon.settings.season import FuelSettings

KIND = "fuel"
FIGURE = "account.bagasse_to_store"
KG = 1000.0
TENTH = 0.1
"""Uncertainty of what the mill file says, of the store's room (by custom, as in the account)."""
UNSTATED = 0.1
"""Lasting relative uncertainty of a reading that states none (mill's choice)."""
_MOST = timedelta(days=300)
Rows = Mapping[str, list[Reading]]


def fuel_of(
    opened: OpenMill, day: date | None = None, futures: int = FUTURES
) -> FuelAnswer:  # fmt: skip
    """Whether the fuel lasts, on the morning of a mill day; it is kept.

    Raises
    ------
    BadInput : no store of bagasse in the mill file or nothing that tells what it holds; no season
        to look ahead.
    """
    at = day_of(opened, day)
    mill, known = opened.mill_on(at), given_of(opened, at)
    if mill.settings.stores is None:
        raise BadInput("no store of bagasse", where="mill.toml: stores",
                       todo="Write [stores] with bagasse, what the store takes.")  # fmt: skip
    told, room = mill.settings.fuel, mill.settings.stores.bagasse
    if told.dead >= room:
        raise BadInput("no less than the store takes", where="mill.toml: fuel.dead",
                       value=told.dead / KG, allowed=f"below {room / KG:g} t")  # fmt: skip
    rows = rows_of_stores(opened, mill, at)
    days = _days(opened, known, rows)
    lacking: list[str] = []
    store = _held(mill, at, rows, lacking)
    net = fit_net(days, _common(opened, mill, known, days, rows, lacking))
    counted = [(d.net, d.run) for d in days if store.at and d.day >= store.at.toordinal()]
    if told.other_price is None:
        lacking.append("fuel.other_price: what other fuel costs; a tonne in store has no price")
    fuel = Fuel(store.value, store.sigma, counted, room / KG,
                told.dead / KG, net, _burns(told, net, lacking),
                None if told.start is None else told.start / KG)  # fmt: skip
    prices = mill.settings.prices
    power = _power(opened, mill, known, lacking)
    rate = None if told.other_rate is None else units.from_inside(told.other_rate, "t/h")
    made = fuel_answer(
        at, fitted_to(known), fuel, store.at,
        FuelPrices(told.other_price, prices.bagasse, power and power * prices.power, rate,
                   mill.settings.mill.currency),
        (*known.rules.lacking, *lacking), futures=futures,
    )  # fmt: skip
    keep(opened, KIND, at, digest(to_json(made)), to_json(made))
    return made


def kept_fuel(opened: OpenMill, at: date) -> FuelAnswer | None:
    """What is kept of a morning's fuel."""
    return kept_of(opened, KIND, at, FuelAnswer)


def make_fuel(opened: OpenMill, at: date) -> None:
    """Make and keep a morning's fuel: the job of a worker."""
    fuel_of(opened, at)


def fuel_line(opened: OpenMill, at: date) -> str | None:
    """The fuel in one line for a morning, as it was last kept; None where it was not."""
    kept = kept_fuel(opened, at)
    if kept is None:
        return None
    lasts: dict[str, float] = {c.case: c.lasts for c in kept.cases if c.burn == "low"}
    text = fuel_words(kept.store.value, kept.store.sigma, lasts)
    return f"{text}. {kept.advice[0].words}." if kept.advice else f"{text}."


@dataclass(frozen=True)
class _Held:
    value: float
    sigma: float
    at: date | None


def rows_of_stores(opened: OpenMill, mill: Mill, at: date) -> dict[str, list[Reading]]:
    """Readings of the stores, this season's and those some months before."""
    calendar = mill.calendar
    end = calendar.period(at).start
    start = calendar.period(calendar.first_of_season(at)).start - _MOST
    wanted = addresses_of(mill)
    found: dict[str, list[Reading]] = {}
    for r in opened.store.ask(readings_in, Period(start, end), None, sorted(wanted)):
        if (r.end or r.start or end) <= end:
            found.setdefault(r.address, []).append(r)
    return found


def _flow(mill: Mill) -> str:
    """What is read of the bagasse that goes to the store."""
    return mill.roles.addresses("fuel stored")[0]


def _held(
    mill: Mill, at: date, rows: Rows, lacking: list[str]
) -> _Held:  # fmt: skip
    """What the store holds when the mill day begins, as the account rolls it [t]."""
    calendar, room = mill.calendar, mill.settings.stores
    assert room is not None
    one = next(s for s in stores_of(mill) if _flow(mill) in s.comes)
    book = book_of(mill, one, rows, calendar.period(at).start)
    if book is not None:
        seen, value, sigma, _ = book
        if value > one.room + SURELY * sigma:
            raise BadInput("the store would hold more than its room: what left it was not written",
                           where=one.held, todo="Survey the store.")  # fmt: skip
        return _Held(value / KG, sigma / KG, calendar.day_of(seen))
    lacking.append(f"a survey of the store ({one.held}): the mill file's word stands in, give or"
                   " take a tenth of its room")  # fmt: skip
    return _Held(room.bagasse_held / KG, TENTH * room.bagasse / KG, None)


def _days(
    opened: OpenMill, known: Given, rows: Rows
) -> list[FuelDay]:  # fmt: skip
    """This season's days: what each left over by its account, else as it was read."""
    calendar = opened.mill.calendar
    ever = Period(calendar.period(known.rules.start).start, calendar.period(known.at).start)
    net: dict[date, float] = {}
    for r in rows.get(_flow(opened.mill), ()):
        if r.start is not None and r.start >= ever.start:
            day = calendar.day_of(r.start)
            net[day] = net.get(day, 0.0) + r.value / KG
    for period, _, figures in opened.store.ask(newest_parts, "day", "figures", ever):
        value = ((figures or {}).get(FIGURE) or {}).get("value")
        if value is not None:
            net[calendar.day_of(period.start)] = float(value)
    made: list[FuelDay] = []
    before = 0.0
    for one in known.season:
        run = known.hours_run(one)
        stood = 24.0 - run if 24.0 - run >= LONG else 0.0
        if one.date in net:
            made.append(FuelDay(one.date.toordinal(), net[one.date], run, stood,
                                stood > 0.0 and not before))  # fmt: skip
        before = stood
    return made


def _common(
    opened: OpenMill, mill: Mill, known: Given, days: list[FuelDay], rows: Rows, lacking: list[str]
) -> float:  # fmt: skip
    """Uncertainty of what an hour leaves over that all days share [t/h].

    By the newest account of the season or a week, in which errors that last do not average; else
    what lasts of the readings' own.
    """
    calendar, ask = mill.calendar, opened.store.ask
    span = Period(calendar.period(known.rules.start).start, calendar.period(known.at).start)
    kept = ask(last_before, ("week", "season to date"), span)
    told = kept.answer if kept is not None else {}
    for name in ("season", "week") if told else ():
        column = told["columns"].get(name) or {}
        figure = (column.get("figures") or {}).get(FIGURE) or {}
        until = date.fromisoformat(told["date"])
        first = known.rules.start if name == "season" else calendar.first_of_week(until)
        ran = sum(d.run for d in days if first.toordinal() <= d.day <= until.toordinal())
        if figure.get("sigma") and ran > LONG:
            return float(figure["sigma"]) / ran
    flow = _flow(mill)
    info, setting = mill.addresses[flow], mill.settings.readings.get(flow, ReadingSettings())
    lasting = [p[1] for r in rows.get(flow, ()) if (p := doubt(info, setting, r, r.unit))]
    ran = sum(d.run for d in days)
    if lasting and ran:
        return sum(lasting[-len(days) :]) / KG / ran
    lacking.append(f"the uncertainty of {flow} (readings): taken as {100 * UNSTATED:.0f} %")
    return UNSTATED * abs(sum(d.net for d in days)) / max(ran, 1.0)


def _burns(
    told: FuelSettings, net: Net, lacking: list[str]
) -> dict[Burn, tuple[float, float]]:  # fmt: skip
    """t/h burnt while the mill stands, as stated; `low` else as on record."""
    made: dict[Burn, tuple[float, float]] = {}
    stated: tuple[tuple[Burn, float | None], ...] = (
        ("held", told.held), ("low", told.low), ("power", told.power),
    )  # fmt: skip
    for name, value in stated:
        if value is not None:
            rate = units.from_inside(value, "t/h")
            made[name] = (rate, BURN_SIGMA * rate)
        elif name != "low":
            lacking.append(f"fuel.{name}: what that burns; its cases are left out")
        elif net.burnt is not None:
            made["low"] = (net.burnt, BURN_SIGMA * net.burnt)
            lacking.append(f"fuel.low: taken as days without cane burnt, {net.burnt:.1f} t/h")
        else:
            made["low"] = (USUAL_BURN, USUAL_SIGMA * USUAL_BURN)
            lacking.append(f"fuel.low, and days without cane: {USUAL_BURN:.0f} t/h, give or take"
                           f" {100 * USUAL_SIGMA:.0f} %, as stopped mills use")  # fmt: skip
    return made


def _power(
    opened: OpenMill, mill: Mill, known: Given, lacking: list[str]
) -> float | None:  # fmt: skip
    """MWh that a tonne of bagasse makes through the condensing set, by the newest accounted day."""
    calendar = mill.calendar
    span = Period(calendar.period(known.rules.start).start, calendar.period(known.at).start)
    of, key = mill.roles.addresses, "condensing"
    names = (*of("power made", key), *of("steam out", key), *of("steam in"), *of("fuel burnt"))
    if len(names) != 4:
        return None  # no condensing set
    newest: tuple[datetime, dict[str, float]] | None = None
    for period, _, figures in opened.store.ask(newest_parts, "works", "figures", span):
        got = {n: float(v[0]) for n in names if (v := (figures or {}).get(n)) and v[0]}
        if len(got) == len(names) and (newest is None or period.start > newest[0]):
            newest = period.start, got
    if newest is None:
        if mill.settings.prices.power:
            lacking.append("an accounted day with its condensing set: what power a tonne makes")
        return None
    power, steam, made, burnt = (newest[1][n] for n in names)
    return power / steam * made / burnt
