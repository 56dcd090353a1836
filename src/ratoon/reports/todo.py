"""From the day's jobs to the lines of "What to do": safety first and red, each with its place.

The moves of the best settings stand below them. A job that would bring a figure back to its target
where the best settings move it away is not asked for: the sheet says one thing.
"""

from __future__ import annotations

from ratoon.account.results.actions import ActionResult
from ratoon.account.results.day import DayResult
from ratoon.account.results.moves import BestMove, DayMoves
from ratoon.base.words import capital
from ratoon.reports.morning import Action, MoveLine, Moves
from ratoon.reports.numbers import (
    THIN,
    decimals_for,
    grouped,
    show,
    show_money,
    unit_as_read,
)


def actions_of(result: DayResult) -> tuple[Action, ...]:
    """What to do, as the account asks it; cane that runs out stands before what costs money."""
    left_out = _against_moves(result)
    made = [_line(one, result.prices.currency) for one in result.actions if one not in left_out]
    urgent = sum(1 for one in made if one.kind in ("safety", "quality"))
    return (*made[:urgent], *_yard(result), *made[urgent:])


def _against_moves(result: DayResult) -> list[ActionResult]:
    """Jobs to gain money that the best settings speak against."""
    against = set(result.moves.against) if result.moves else set()
    return [one for one in result.actions if one.kind == "loss" and against & {*one.about}]


def moves_of(result: DayResult) -> Moves | None:
    """The moves of the best settings; None where the day has none to look for."""
    if result.moves is None:
        return None
    left_out = "; ".join(one.what for one in _against_moves(result))
    return move_lines(result.moves, result.prices.currency, left_out)


def move_lines(told: DayMoves, currency: str, left_out: str = "") -> Moves:
    """Moves as they are read.

    Parameters
    ----------
    left_out : jobs that they speak against.
    """
    lines = tuple(_move(one, stop, currency) for one, stop in zip(told.moves, told.stops))
    words = capital(told.words).rstrip(".") + "."
    if lines:
        words += (" Each gain is with the others made too; they are estimates, never paid, and do "
                  "not add up.")  # fmt: skip
    if told.found and not lines:
        words += " No move gains more than its own uncertainty."
    said = (
        f"Not asked for, since the best settings go the other way: {left_out}." if left_out else ""
    )
    cautions = dict.fromkeys(x for m in lines for x in m.caution.replace(".; ", ".\n").splitlines())
    return Moves(lines, words, tuple(cautions), said)


def _move(one: BestMove, stop: str, currency: str) -> MoveLine:
    decimals = max(decimals_for(abs(one.to - one.from_) or 1.0), 0)
    return MoveLine(
        one.address, capital(one.name), grouped(one.from_, decimals), grouped(one.to, decimals),
        unit_as_read(one.unit), show_money(one.gain_a_day, one.sigma, currency),
        show_money(one.by_itself, one.sigma, currency), stop, one.caution,
    )  # fmt: skip


def _line(one: ActionResult, currency: str) -> Action:
    money = None
    if one.gain_a_day is not None:
        money = show_money(one.gain_a_day, one.sigma, currency)
    return Action(one.kind, one.what, one.where, one.who, money, _against(one), one.limited_by,
                  one.caution, next(iter(one.about), ""))  # fmt: skip


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
                   why if yard.slower > 0.0 else "", about="/yard"),)  # fmt: skip
