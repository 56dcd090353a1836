"""What if: from an accounted day, change what a manager can set and solve the plant again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from ratoon.account.readings.given import from_account
from ratoon.base.as_json import NAMED
from ratoon.base.errors import BadInput
from ratoon.jobs.mills import OpenMill
from ratoon.jobs.sheet.to_date import load
from ratoon.jobs.trial.cases import solve_case
from ratoon.jobs.trial.levers import levers_of
from ratoon.plans.best.result import Tried
from ratoon.plant.cautions import DEFER
from ratoon.plant.plant import Plant


@dataclass(frozen=True, slots=True)
class Given:
    """What a quantity was set to."""

    value: float
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
    """A what-if from the mill day `from_`: figures before and after, by address.

    `money` is what the day's crushing hours earn, net of cane and variable cost where the mill
    file prices them; an estimate, never paid. `notes` say what is left out, `cautions` what can
    hurt where something is changed.
    """

    __pydantic_config__ = NAMED

    from_: str
    given: Mapping[str, Given]
    figures: Mapping[str, Tried]
    limits: tuple[AtLimit, ...]
    money: Tried | None = None
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def cautions_of(plant: Plant, changes: Iterable[str]) -> tuple[str, ...]:
    """What can hurt where something is changed, as the places of the plant declare it."""
    places = [p for station in plant.works.stations for p in station.picture()]
    mine = (p for a in changes for p in places if p.hold(a))
    return tuple(dict.fromkeys([c for p in mine for c in p.cautions] + [DEFER]))


def left_out(stock_t: float | None, net: bool) -> tuple[str, ...]:
    """What a trial leaves out: the day's change of stock [t of pol], and costs without a price."""
    moved = "" if stock_t is None else f", {stock_t:+.0f} t of pol,".replace("-", "\u2212")
    said = [f"Stocks stand still in both: the day's own change of stock{moved} is left out.",
            "Set points are the mill file's where the plant kept the day short of them.",
            ]  # fmt: skip
    if not net:
        said.append(
            "Cane and variable cost have no price in the mill file: money is gross of both."
        )
    return tuple(said)


def try_changes(opened: OpenMill, day: date, changes: Mapping[str, float]) -> TrialResult:
    """Figures before and after a change, in trade units.

    The day's account gives the start: its heat-transfer coefficients, its cane, its assumed
    quantities as it found them and its share of undetermined loss in pol in cane, so that no
    trial begins with a gain nobody made. Stocks are taken to stand still in both cases. Levers of
    `ratoon.jobs.trial.levers` (vessels off line, where bleeds go) are changed like quantities.

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
    prices, currency = mill.settings.prices, mill.settings.mill.currency
    return TrialResult(
        day.isoformat(), given_, figures, limits,
        Tried(solved["money_before"], solved["money"], currency),
        left_out(today.figure("account.pol.stock_change").value, bool(prices.cane)),
        cautions_of(plant, changes),
    )  # fmt: skip
