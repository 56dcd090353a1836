"""From the day's jobs to the lines of "What to do": safety first and red, each with its place."""

from __future__ import annotations

from ratoon.account.action_results import ActionResult
from ratoon.account.results import DayResult
from ratoon.reports.morning import Action
from ratoon.reports.numbers import THIN, show, show_money


def actions_of(result: DayResult) -> tuple[Action, ...]:
    """What to do, as the account asks it; cane that runs out stands before what costs money."""
    made = [_line(one, result.prices.currency) for one in result.actions]
    urgent = sum(1 for one in made if one.kind in ("safety", "quality"))
    return (*made[:urgent], *_yard(result), *made[urgent:])


def _line(one: ActionResult, currency: str) -> Action:
    money = None
    if one.gain_a_day is not None:
        money = show_money(one.gain_a_day, one.sigma, currency)
    return Action(one.kind, one.what, one.where, one.who, money, _against(one), one.limited_by,
                  one.caution)  # fmt: skip


def _against(one: ActionResult) -> str:
    """The figure that calls for a job and the level that it is past; "" where there is none."""
    if one.value is None:
        return ""
    shown = show(one.value, one.value_sigma, one.unit)
    unit = "" if not shown.unit or shown.unit in one.figure else THIN + shown.unit
    figure = f"{one.figure[:1].upper()}{one.figure[1:]} {shown.text}{unit}"
    if one.level is None:
        return figure
    return f"{figure} against {show(one.level, one.value_sigma, one.unit).text}{unit}"


def _yard(result: DayResult) -> tuple[Action, ...]:
    """Cane that runs out in the day that follows, and the rate at which it would not."""
    yard = result.yard
    if yard is None or not yard.runs_dry:
        return ()
    why = f"At {yard.slower:.0f} t/h the cane on record lasts the next 24 h."
    return (Action("yard", yard.text, "yard", "cane supply officer", None,
                   why if yard.slower > 0.0 else ""),)  # fmt: skip
