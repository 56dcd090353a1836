"""The day in four lines: what limited the plant, what happened, what is suspect, what to do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ratoon.account.results.ahead import Ahead
from ratoon.account.results.day import DayResult, Load
from ratoon.base.words import capital
from ratoon.reports.layout import LOSS_NAMES
from ratoon.reports.morning import Action, BriefLine, Doubt, Moves, Row
from ratoon.reports.numbers import (
    THIN,
    decimals_of,
    duration,
    grouped,
    show,
    show_money,
)

MOST = 3  # of figures, machines and jobs on a line that is read at a glance
FULL = 97.0  # % of its rating from which a machine is said to limit the plant: our own choice
REGIMES = {
    "cane-limited": "cane supply", "factory-limited": "the plant's own machines",
    "fuel-limited": "fuel", "time-limited": "the time that is left of the season",
}  # fmt: skip
TOTALS = {"t", "h"}


def brief_of(
    day: DayResult, rows: Sequence[Row], doubts: Sequence[Doubt], actions: Sequence[Action],
    moves: Moves | None,
) -> tuple[BriefLine, ...]:  # fmt: skip
    """Four lines, each naming the part of the sheet that it opens."""
    return (
        BriefLine("Limited by", (_limited(day),), "figures"),
        BriefLine("Happened", (_happened(day, rows),), "losses"),
        BriefLine("Suspect", (_suspect(day, doubts),), "suspect"),
        BriefLine("To do", _jobs(actions, moves), "to-do"),
    )


def _limited(day: DayResult) -> str:
    lost = day.lost_time_by_cause
    parts = []
    if day.status == "no crush":
        parts.append("no cane was crushed")
    else:
        regime = day.moves.moves[0].regime if day.moves and day.moves.moves else None
        full = [one for one in day.loads if one.value >= FULL]
        if full:
            parts.append(_machines(full))
        elif regime:
            parts.append(REGIMES[regime])
        if not full and day.loads:
            parts.append(f"fullest: {_machines(day.loads)}")
    if lost:
        longest = f"{lost[0].cause or 'no cause written'} ({duration(lost[0].hours)})"
        whole = duration(sum(one.hours for one in lost))
        parts.append(f"{whole} lost, {'most ' if len(lost) > 1 else ''}by {longest}")
    return capital("; ".join(parts)) or "No rating and no lost time is known"


def _machines(loads: Sequence[Load]) -> str:
    said = []
    for one in loads:
        name = one.name.removeprefix("load of ").partition(",")[0]
        said.append(f"{name} at {show(one.value, one.sigma, '%').whole}")
    return ", ".join(said) + " of rating"


def _happened(day: DayResult, rows: Sequence[Row]) -> str:
    bad = sorted((row for row in rows if row.bad), key=lambda row: -_cost(day, row.address))
    parts = []
    if bad:
        named = ", ".join(f"{_lower(row.name)} {row.day.text} (target {row.target})"
                          for row in bad[:MOST])  # fmt: skip
        more = f" and {len(bad) - MOST} more" if len(bad) > MOST else ""
        parts.append(f"significantly worse than target: {named}{more}")
    elif any(row.verdict for row in rows):
        parts.append("no figure significantly worse than its target")
    priced = [(part.money, key) for key, part in day.losses.items() if part.money is not None
              and (key != "undetermined" or day.undetermined_is_real)]  # fmt: skip
    if priced:
        money, key = max(priced)
        shown = show_money(money, day.losses[key].money_sigma, day.prices.currency)
        parts.append(f"dearest loss: {LOSS_NAMES[key].lower()}, {shown.text}")
    return capital("; ".join(parts)) or "No figure has a target, and no loss a price"


def _cost(day: DayResult, address: str) -> float:
    missed = day.target_worth.get(address)
    return missed.money or 0.0 if missed else 0.0


def _lower(name: str) -> str:
    return name if name[1:2].isupper() else name[:1].lower() + name[1:]


def _suspect(day: DayResult, doubts: Sequence[Doubt]) -> str:
    if day.status == "no crush":
        return "Without cane there was nothing to balance"
    parts = [f"{one.name} ({one.size or one.standardised})" for one in doubts[:MOST]]
    if len(doubts) > MOST:
        parts.append(f"{len(doubts) - MOST} more")
    out = {one.reading for one in day.set_aside}
    if out:
        parts.append(f"{len(out)} set aside")
    return "; ".join(parts) or "No reading stands out"


def _jobs(actions: Sequence[Action], moves: Moves | None) -> tuple[str, ...]:
    """Three at most, those with a person first; what the plant's settings gain fills the rest."""
    said = []
    for one in actions[:MOST]:
        safety = "Safety: " if one.kind == "safety" else ""
        said.append(f"{safety}{one.text} ({one.who or one.place})")
    for move in (moves.lines if moves else ())[: MOST - len(said)]:
        said.append(f"{move.name}: {move.today} to {move.best}{THIN}{move.unit}, {move.money.text}"
                    f" a day; stopped by {move.stop}")  # fmt: skip
    return tuple(said) or ("No actions",)


def _decimals(row: Row, value: float) -> int:
    return decimals_of(value, row.day.sigma, row.unit) if row.day.sigma else 1


def with_plan(key: Sequence[Row], day: DayResult) -> tuple[Row, ...]:
    """The headline figures with what the week's plan has for a day, where there is a plan."""
    plan, week = (day.ahead or Ahead()).plan, day.to_date.get("week")
    if plan is None or week is None:
        return tuple(key)
    found = []
    for row in key:
        value = plan.week.get(row.address)
        if value is None:
            found.append(row)
            continue
        value /= week.days if row.unit in TOTALS else 1
        found.append(replace(row, plan=grouped(value, _decimals(row, value))))
    return tuple(found)
