"""The pan floor's plan from the mill's own records: what boils, what is in tanks, what comes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any

from ratoon.base.as_json import to_json
from ratoon.base.errors import BadInput, UnknownName
from ratoon.base.records import Period
from ratoon.jobs.season.forecast import keep, kept_of
from ratoon.jobs.strikes.rows import BEFORE, MADE, STRIKE, boiled_rows, names_of_pans, rows_in
from ratoon.plans.floor.case import Aim, FloorCase
from ratoon.plans.floor.chance import slows
from ratoon.plans.floor.of_mill import Boiling, FloorState, cure_hours, floor_case
from ratoon.plans.floor.result import FloorDay, FloorResult, FloorSlows, HighestRate
from ratoon.plans.floor.search import plan_floor
from ratoon.plant.pan.records import strikes_of
from ratoon.plant.pan.steady import at_rate
from ratoon.plant.stations.stocks import level_of
from ratoon.store.cane import kept as cane
from ratoon.store.chain.digest import digest
from ratoon.store.entries import readings_in

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.jobs.mills import OpenMill

LEVELS = {"liquor": "liquor", "A_molasses": "A_molasses", "B_molasses": "B_molasses",
          "C_massecuite": "crystallisers", "magma": "magma"}  # fmt: skip
"""Stocks whose level tells a tank's, by the tank."""
STALE = timedelta(hours=13)
"""How old a level may be."""
SECOND = timedelta(seconds=1)
WITHIN = 0.01
"""How near the highest rate is told, on the rate."""
KIND = "floor"
PLAN_WORK, RATE_WORK, AGAIN_WORK = 60.0, 8.0, 12.0
"""What a search may do for the plan of a morning, at each rate, and for a plan after a pan is lost,
in seconds of a machine that is free."""
BUSY = 5.0
"""How many times as long a busy machine may take for what is kept."""
WHY = 4.0
"""How much longer to search for what is in the way."""
HIGHEST = 1.5
"""Of the usual rate, beyond which nothing is asked."""


@dataclass(frozen=True, slots=True)
class FloorAsked:
    """What is asked of the floor: from when (the newest row of a strike), how far, at what rate.

    `lost`: hours from then on for which a pan is out of use. `limit`: seconds that a search may
    take; `work`: what it may do, in seconds of a machine that is free.
    """

    at: datetime | None = None
    hours: float = 48.0
    rate: float | None = None
    lost: Mapping[str, float] = field(default_factory=dict)
    limit: float = 60.0
    work: float | None = None


def state_of(opened: OpenMill, mill: Mill, at: datetime) -> FloorState:
    """The floor as the records tell it at a moment."""
    rows = opened.store.ask(rows_in, Period(at - BEFORE - BEFORE, at + SECOND), None, MADE)
    told = [s for s in strikes_of(boiled_rows(rows, at - BEFORE)) if not s.contradictions]
    boiling = {s.pan: Boiling(s.grade, (at - s.start).total_seconds() / 3600.0)
               for s in told if s.drop is None and at - s.start < BEFORE}  # fmt: skip
    ends = [(s.grade, s.drop, s.row("drop", "volume")) for s in told]
    dropped = [(grade, (at - end).total_seconds() / 3600.0, row.value)
               for grade, end, row in ends if end is not None and row is not None]  # fmt: skip
    last = list(mill.settings.pans)[-1]
    levels: dict[str, float] = {}
    tanks = {level_of(stock): tank for stock, tank in LEVELS.items()}
    found = opened.store.ask(readings_in, Period(at - STALE, at + SECOND))
    for r in sorted((r for r in found if r.start), key=lambda r: str(r.start)):
        tank = tanks.get(r.address)
        if tank and r.end is None:
            levels[tank] = r.value
    uncured = [d for d in dropped
               if d[0] != last and 0.0 <= d[1] < cure_hours(mill.settings, d[0])]  # fmt: skip
    return FloorState(boiling, levels, uncured)


def case_of(opened: OpenMill, asked: FloorAsked) -> tuple[FloorCase, datetime]:
    """The case of the mill at a moment, and that moment.

    Raises
    ------
    BadInput, UnknownName : a pan that is not there, a mill file that lacks what is needed.
    """
    at = asked.at or opened.store.ask(cane.newest, STRIKE)
    if at is None:
        raise BadInput("no strike is on record", todo="Import strikes, or say when with --from")
    mill = opened.mill
    pans = names_of_pans(mill.settings.pans)
    for name in asked.lost:
        if name not in pans:
            raise UnknownName("pan", name, pans, where="--lost")
    state = state_of(opened, mill, at)
    off = {name: (0.0, min(hours, asked.hours)) for name, hours in asked.lost.items()}
    boiling = {pan: b for pan, b in state.boiling.items() if pan not in off}
    rate = asked.rate or mill.settings.cane.rate * 3.6
    works = at_rate(mill.plant, rate)
    case = floor_case(mill.settings, pans, works, replace(state, boiling=boiling, off=off),
                      asked.hours)  # fmt: skip
    return case, at


def plan_of(opened: OpenMill, asked: FloorAsked) -> tuple[FloorResult, datetime]:
    """The plan of the pan floor and the moment from which its hours count.

    With a pan lost, strikes move as little as can be from the plan with all pans.
    """
    case, at = case_of(opened, asked)
    if not asked.lost:
        return plan_floor(case, asked.limit, work=asked.work), at
    whole = plan_floor(case_of(opened, replace(asked, at=at, lost={}))[0], asked.limit / 2.0)
    work = min(asked.work or asked.limit, AGAIN_WORK)
    return plan_floor(keeping_to(case, whole), asked.limit, work=work), at


def keeping_to(case: FloorCase, plan: FloorResult) -> FloorCase:
    """A case whose strikes are to move little from a plan of the same hours."""
    before: dict[str, list[int]] = {}
    for s in plan.strikes:
        if s.start >= 0.0 and s.task in case.tasks:
            before.setdefault(s.task, []).append(round(s.start / float(case.step)))
    slow, *others = case.aims
    aims = (slow, Aim("moved", ""), *others) if before else case.aims
    return replace(case, before=before, aims=aims)


def slows_of(opened: OpenMill, asked: FloorAsked, plan: FloorResult) -> FloorSlows | None:
    """How likely a plan holds liquor back when strikes take longer or shorter than planned."""
    return slows(case_of(opened, asked)[0], plan.strikes) if plan.strikes else None


def with_clock(mill: Mill, result: FloorResult, at: datetime) -> dict[str, Any]:
    """A plan as JSON with times by the mill's clock in place of hours."""

    def when(hours: float) -> str:
        return mill.calendar.to_local(at + timedelta(hours=hours)).isoformat(timespec="minutes")

    told: dict[str, Any] = to_json(result)
    for strike in told["strikes"]:
        strike["start"], strike["end"] = when(strike["start"]), when(strike["end"])
    told["stores"] = {name: [[when(h), level] for h, level in line]
                      for name, line in told["stores"].items()}  # fmt: skip
    for choke in told["chokes"]:
        choke["at"] = when(choke["at"])
    return told


def highest_rate(opened: OpenMill, asked: FloorAsked) -> HighestRate:
    """The highest rate at which no liquor is held back, by halving, within half a per cent."""
    _, at = case_of(opened, asked)
    usual = opened.mill.settings.cane.rate * 3.6

    def planned(rate: float, why: bool = False) -> FloorResult:
        case, _ = case_of(opened, replace(asked, at=at, rate=rate))
        stores = {n: replace(s, cut=s.cut and s.spills) for n, s in case.stores.items()}
        limit = asked.limit * (WHY if why else 1.0)
        return plan_floor(replace(case, aims=(), stores=stores), limit, why=why, work=asked.work)

    low, high, settled = 0.5 * usual, HIGHEST * usual, True
    while high - low > WITHIN * high:
        middle = (low + high) / 2.0
        status = planned(middle).status
        settled = settled and status != "unknown"
        low, high = (middle, high) if status in ("optimal", "feasible") else (low, middle)
    last = planned(high, why=True)
    if last.status in ("optimal", "feasible"):
        return HighestRate(high, None, (), settled)
    return HighestRate(low, high, last.without, settled)


def make_floor(opened: OpenMill, morning: date, hours: float = 48.0) -> None:
    """Make and keep the floor of a morning, as the strikes on record by then leave it.

    Raises
    ------
    BadInput : no strike in the day before; a mill file that lacks what is needed; no plan in time,
        which is not kept.
    """
    period = opened.mill.calendar.period(morning - timedelta(days=1))
    told = opened.store.ask(rows_in, Period(period.start, period.end))
    if not told:
        raise BadInput("no strike of the day is on record", where=f"floor of {morning}",
                       todo="Import the day's strikes.")  # fmt: skip
    newest, half = max(r.time for r in told), timedelta(minutes=30)
    at = newest + (period.start - newest) % half  # the next half hour
    asked = FloorAsked(at, hours, limit=BUSY * PLAN_WORK, work=PLAN_WORK)
    plan, _ = plan_of(opened, asked)
    if plan.status == "unknown":
        raise BadInput("no plan was found in the time allowed", where=f"floor of {morning}",
                       todo="Ask again when the machine has less to do.")  # fmt: skip
    highest = highest_rate(opened, replace(asked, limit=BUSY * RATE_WORK, work=RATE_WORK))
    mill = opened.mill
    local = mill.calendar.to_local(at).isoformat(timespec="minutes")
    made = FloorDay(local, mill.settings.cane.rate * 3.6, plan, highest,
                    {n: mill.settings.floor.tanks[n] for n in plan.stores},
                    slows_of(opened, asked, plan))  # fmt: skip
    keep(opened, KIND, morning, digest(to_json(made)), to_json(made))


def kept_floor(opened: OpenMill, morning: date) -> FloorDay | None:
    """What is kept of a morning's floor."""
    return kept_of(opened, KIND, morning, FloorDay)
