"""What if: from an accounted day, change what a manager can set and solve the works again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from ratoon.account.given import from_account
from ratoon.base.as_json import NAMED
from ratoon.base.errors import BadInput
from ratoon.jobs.cases import solve_case
from ratoon.jobs.levers import levers_of
from ratoon.jobs.mills import OpenMill
from ratoon.jobs.season import load


@dataclass(frozen=True, slots=True)
class Given:
    """What a quantity was set to."""

    value: float
    unit: str


@dataclass(frozen=True, slots=True)
class Tried:
    """A figure before and after the changes, in `unit`."""

    before: float
    after: float
    unit: str


@dataclass(frozen=True, slots=True)
class AtLimit:
    """A quantity that is at its limit after the changes, or a load beyond what can be given."""

    address: str
    value: float
    limit: float
    unit: str


@dataclass(frozen=True, slots=True)
class TrialResult:
    """A what-if from the mill day `from_`: figures before and after, by address."""

    __pydantic_config__ = NAMED

    from_: str
    given: Mapping[str, Given]
    figures: Mapping[str, Tried]
    limits: tuple[AtLimit, ...]


def try_changes(opened: OpenMill, day: date, changes: Mapping[str, float]) -> TrialResult:
    """Figures before and after a change, in trade units.

    The day's account gives the start: its heat-transfer coefficients, its cane, its assumed
    quantities as it found them and its share of undetermined loss in pol in cane, so that no
    trial begins with a gain nobody made. Stocks are taken to stand still in both cases. Levers of
    `ratoon.jobs.levers` (vessels off line, where bleeds go) are changed like quantities.

    Raises
    ------
    UnknownName, BadInput, NotSolved : an address that cannot be set, a day without an account,
        changes that have no answer together.
    """
    from ratoon.account.period import account

    season = load(opened, day)
    mill, plant = season.mill, season.mill.plant
    today = account(mill, season.day(day))
    if today.answer is None:
        raise BadInput(f"no cane was crushed on {day.isoformat()}: there is nothing to change",
                       todo="Choose a day with an account.")  # fmt: skip
    given = from_account(plant, today.answer, season.day(day).constants)
    solved = solve_case(mill, given, today.answer.state, changes)
    levers = levers_of(mill.plant)
    figures = {
        a: Tried(solved["before"][a], solved["after"][a], plant.addresses[a].unit)
        for a in plant.equations.reports
        if a.startswith("account.") and a in solved["before"] and a in solved["after"]
    }  # fmt: skip
    given_ = {a: Given(v, (levers if a in levers else plant.addresses)[a].unit)
              for a, v in changes.items()}  # fmt: skip
    limits = tuple(AtLimit(**one) for one in solved["limits"])
    return TrialResult(day.isoformat(), given_, figures, limits)
