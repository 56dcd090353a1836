"""The season's lines of the morning sheet: finish, fuel, shed, plan; the plan beside what came."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from ratoon.account.results.ahead import Ahead, PlanBeside
from ratoon.account.results.day import DayResult, FigureResult
from ratoon.base.words import capital
from ratoon.reports.morning import Panel
from ratoon.reports.numbers import (
    NOTHING,
    THIN,
    decimals_for,
    decimals_of,
    grouped,
    short_day,
    show,
    signed,
    unit_as_read,
)

CANE, SUGAR = "account.cane", "account.sugar"
FIGURES = {
    CANE: "Cane", "account.hours": "Hours crushed", "account.rate": "Rate", "account.ccs": "CCS",
    "account.fibre_in_cane": "Fibre in cane", "account.extraction": "Extraction",
    "account.boiling_house_recovery": "Boiling house recovery", SUGAR: "Sugar",
}  # fmt: skip


def ahead_lines(result: DayResult) -> tuple[tuple[str, str, str], ...]:
    """Finish, fuel, shed, pan floor, plan, a step that lost: a line each, where one is known.

    Each with the page that tells more of it.
    """
    outlook = result.ahead or Ahead()
    lines = (
        ("Finish", _finish(outlook), "/season"),
        ("Fuel", outlook.fuel, "/fuel"),
        ("Shed", outlook.shed, "/shed"),
        ("Pans", outlook.floor, "/floor"),
        ("Plan", _plan_words(result, outlook), "/bridge"),
        ("Exhaustion", result.exhaustion, "/exhaustion"),
    )
    return tuple(line for line in lines if line[1])


def finish_words(finish: tuple[str | None, str | None, str | None]) -> str:
    """The finish with its 90 % interval."""
    low, middle, high = (_date(d) for d in finish)
    if middle is None:
        return f"not before the latest finish{f' (5 %: {low})' if low else ''}"
    return f"{middle} (90 %: {low or 'before'} to {high or 'after the latest finish'})"


def _finish(outlook: Ahead) -> str:
    if outlook.finish is None:
        return ""
    return f"{finish_words(outlook.finish)}, by the forecast of {short_day(outlook.forecast_of)}"


def _date(iso: str | None) -> str | None:
    if iso is None:
        return None
    day = date.fromisoformat(iso)
    return f"{day.day} {day:%B}"


def _plan_words(result: DayResult, outlook: Ahead) -> str:
    """Sugar against plan, week and season to date, and what the season will come to."""
    plan = outlook.plan
    if plan is None:
        return ""
    parts = []
    for name, planned in (("week", plan.week), ("season", plan.season)):
        to_date = result.to_date.get(name)  # type: ignore[call-overload]
        for address, what in ((CANE, "cane"), (SUGAR, "sugar")) if name == "week" else (
            (SUGAR, "sugar"),):  # fmt: skip
            came = to_date.figures.get(address) if to_date else None
            if came is None or came.value is None or address not in planned:
                continue
            less = came.value - planned[address]
            parts.append(f"{name} to date {what} {grouped(came.value, 0)}{THIN}t,"
                         f" {signed(less, 0)} on plan")  # fmt: skip
    whole, ahead = plan.whole.get(SUGAR), outlook.totals.get(SUGAR)
    if whole is not None and ahead is not None and ahead[1] is not None:
        share = 100.0 * (ahead[1] / whole - 1.0) if whole else 0.0
        parts.append(f"the season will come to {grouped(ahead[1], -2)}{THIN}t of sugar,"
                     f" {signed(share, 1)}{THIN}% on plan")  # fmt: skip
    return capital("; ".join(parts))


def plan_panel(result: DayResult) -> Panel | None:
    """The plan beside week, season to date and forecast; None without a plan."""
    outlook = result.ahead
    if outlook is None or outlook.plan is None:
        return None
    plan, rows, addresses = outlook.plan, [], []
    spans = [result.to_date.get("week"), result.to_date.get("season")]
    for address, name in FIGURES.items():
        if address not in plan.week and address not in plan.season:
            continue
        came = [None if span is None else span.figures.get(address) for span in spans]
        unit = next((f.unit for f in came if f is not None), "")
        whole = plan.whole.get(address)
        rows.append((
            f"{name}, {unit_as_read(unit)}".rstrip(", "), _planned(plan.week, address, came[0]),
            _came(came[0]), _planned(plan.season, address, came[1]), _came(came[1]),
            NOTHING if whole is None else grouped(whole, _decimals(whole, None, unit)),
            _forecast(outlook, address),
        ))  # fmt: skip
        addresses.append(address)
    head = ("figure", "week planned", "to date", "season planned", "to date", "whole season",
            "forecast")  # fmt: skip
    return Panel("plan", "Against plan", head, tuple(rows), _note(plan), False, tuple(addresses))


def _note(plan: PlanBeside) -> str:
    return (f"The week's plan was made on {short_day(plan.made)} {plan.made[:4]}. Planned figures "
            "are those of the same days. What cost what: the page Bridge.")  # fmt: skip


def _came(figure: FigureResult | None) -> str:
    return NOTHING if figure is None else show(figure.value, figure.sigma, figure.unit).text


def _planned(planned: Mapping[str, float], address: str, figure: FigureResult | None) -> str:
    value = planned.get(address)
    if value is None:
        return NOTHING
    unit, sigma = ("", None) if figure is None else (figure.unit, figure.sigma)
    return grouped(value, _decimals(value, sigma, unit))


def _decimals(value: float, sigma: float | None, unit: str) -> int:
    return decimals_of(value, sigma, unit) if sigma else (1 if unit in ("%", "h") else 0)


def _forecast(outlook: Ahead, address: str) -> str:
    low, middle, high = outlook.totals.get(address, (None, None, None))
    if middle is None or low is None or high is None:
        return ""
    return grouped(middle, decimals_for((high - low) / 2.0) if high > low else 0)
