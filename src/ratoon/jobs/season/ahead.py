"""Plan, forecast, fuel, sheds beside an account: read from what is kept, never worked out here."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING, Any

from ratoon.account.results.ahead import Ahead, PlanBeside
from ratoon.base.records import Period
from ratoon.jobs.season.plan import DAY, plan_weeks, planned_for, season_plan
from ratoon.plans.bridge.planned import Planned
from ratoon.plans.floor.result import HighestRate
from ratoon.plans.floor.words import highest_words
from ratoon.reports.numbers import show
from ratoon.store.answers import kinds_kept, newest_parts

if TYPE_CHECKING:
    from ratoon.jobs.mills import OpenMill

FORECAST, FUEL, SHED, FLOOR = "season forecast", "fuel", "shed", "floor"
PLANNED = {
    "cane": "account.cane", "ccs": "account.ccs", "fibre": "account.fibre_in_cane",
    "rate": "account.rate", "hours": "account.hours", "extraction": "account.extraction",
    "recovery": "account.boiling_house_recovery", "sugar": "account.sugar",
}  # fmt: skip
"""The address at which the account tells what a plan sets."""
LASTS = (("rain", "the next wet spell"), ("stop", "the next planned stop"),
         ("end", "to the finish"), ("start", "with the next start"))  # fmt: skip
QUANTILES = ("q05", "q50", "q95")


def planned_figures(plan: Planned | None) -> dict[str, float]:
    """A plan's figures by the address of the account."""
    if plan is None:
        return {}
    told = {address: getattr(plan, name) for name, address in PLANNED.items()}
    return {address: value for address, value in told.items() if value is not None}


def ahead_of_day(opened: OpenMill, day: date, spans: Mapping[str, str]) -> Ahead | None:
    """Plan and season ahead for the sheet of a mill day; None where nothing of them is kept.

    Parameters
    ----------
    spans : first day of the week and of the season to date, as the account has them.
    """
    plan = _plan(opened, day, spans)
    morning = opened.mill.calendar.period(day + DAY)
    there = opened.store.ask(kinds_kept, (FUEL, SHED, FLOOR), morning)
    fuel = _fuel(opened, morning) if FUEL in there else ""
    shed = _shed(opened, morning) if SHED in there else ""
    floor = _floor(opened, morning) if FLOOR in there else ""
    forecast = kept_forecast_parts(opened, day)
    if plan is None and forecast is None and not (fuel or shed or floor):
        return None
    if forecast is None:
        return Ahead(plan, fuel=fuel, shed=shed, floor=floor)
    at, told = forecast
    three = {key: (part["q05"], part["q50"], part["q95"]) for key, part in told.items()}
    totals = {f"account.{key}": three[key] for key in ("cane", "sugar")}
    return Ahead(plan, at.isoformat(), three["finish"], totals, fuel, shed, floor)


def kept_forecast_parts(opened: OpenMill, day: date) -> tuple[date, dict[str, Any]] | None:
    """Finish, cane and sugar of the season's newest forecast kept by the morning after a day."""
    calendar = opened.mill.calendar
    first = calendar.period(calendar.first_of_season(day)).start
    within = Period(first, calendar.period(day + DAY).end)
    told: dict[str, Any] = {}
    at = day
    for key in ("finish", "cane", "sugar"):
        parts = opened.store.ask(newest_parts, FORECAST, key, within)
        if not parts:
            return None
        told[key], at = parts[-1][2], calendar.day_of(parts[-1][0].start)
    return at, told


def _fuel(opened: OpenMill, morning: Period) -> str:
    """What is kept on the fuel for the morning after a day, without its advice; "" if nothing."""
    found = {key: parts[-1][2] for key in ("store", "cases")
             if (parts := opened.store.ask(newest_parts, FUEL, key, morning))}  # fmt: skip
    if len(found) < 2:
        return ""
    lasts = {c["case"]: c["lasts"] for c in found["cases"] if c["burn"] == "low"}
    return fuel_words(found["store"]["value"], found["store"]["sigma"], lasts)


def _shed(opened: OpenMill, morning: Period) -> str:
    """What is kept on the sheds for the morning after a day, in one line; "" if nothing."""
    parts = opened.store.ask(newest_parts, SHED, "line", morning)
    return str(parts[-1][2]) if parts else ""


def _floor(opened: OpenMill, morning: Period) -> str:
    """What is kept on the pan floor for the morning after a day, in one line; "" if nothing."""
    parts = opened.store.ask(newest_parts, FLOOR, "highest", morning)
    if not parts:
        return ""
    return f"Over two days the floor takes {highest_words(HighestRate(**parts[-1][2]))}"


def fuel_words(value: float, sigma: float, lasts: Mapping[str, float]) -> str:
    """What is in the store [t] and the chances that it lasts, in one line.

    As the kept answer is read part by part, no line waits for what forecasts to be loaded.
    """
    chances = [f"{name} {100 * lasts[case]:.0f} %" for case, name in LASTS if case in lasts]
    text = f"{show(value, sigma, 't').whole} in store"
    return f"{text}; chance that it lasts {', '.join(chances)}" if chances else text


def _plan(opened: OpenMill, day: date, spans: Mapping[str, str]) -> PlanBeside | None:
    first = {name: date.fromisoformat(text) for name, text in spans.items()}
    every, since = plan_weeks(opened), min([*first.values(), day]) - 6 * DAY
    weeks = [w for w in every if w.week >= since]
    if not weeks:
        return None
    found = {name: planned_for(opened, begin, day, weeks) for name, begin in first.items()}
    week, season = found.get("week"), found.get("season")
    made = week or season
    if made is None:
        return None
    return PlanBeside(made.made.isoformat(), planned_figures(week), planned_figures(season),
                      planned_figures(season_plan(opened, day, every)))  # fmt: skip
