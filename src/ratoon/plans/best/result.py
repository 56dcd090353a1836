"""What a search for the best settings answers, in trade units and money an hour."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from ratoon.account.results.moves import BestMove, DayMoves, RegimeName
from ratoon.base.as_json import NAMED

Side = Literal["low", "high"]
SolverName = Literal["ipopt", "slsqp"]
SOLVERS: tuple[SolverName, ...] = get_args(SolverName)


@dataclass(frozen=True, slots=True)
class Tried:
    """A figure before and after the changes, in `unit`."""

    before: float
    after: float
    unit: str


@dataclass(frozen=True, slots=True)
class BestRegime:
    """What holds the plant back, and what that means for the advice."""

    name: RegimeName
    words: str


@dataclass(frozen=True, slots=True)
class BestMoney:
    """Money an hour today and at the best settings; `low`, `high`: 95 % interval of the gain."""

    today: float
    best: float
    gain: float
    sigma: float | None = None
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class BestTerm:
    """One line of the money: `today` and `best` an hour; all of them add up to the money."""

    name: str
    price: float
    unit: str
    source: str
    today: float
    best: float


@dataclass(frozen=True, slots=True)
class BestSetting:
    """What may be set: today's value, the best, the range and whose word that is."""

    name: str
    unit: str
    today: float
    best: float
    low: float
    high: float
    at: Side | None
    source: str


@dataclass(frozen=True, slots=True)
class BestLimit:
    """What may not be passed.

    `rated` is what the mill file or the station says, `limit` what was held to: `raised` where
    the day itself was beyond. `price` is money an hour for loosening it by one `per`, and holds
    for `holds_to` of them.
    """

    address: str
    name: str
    unit: str
    side: Side
    limit: float
    rated: float
    raised: bool
    value: float
    binds: bool
    price: float
    per: str
    holds_to: float | None
    source: str


@dataclass(frozen=True, slots=True)
class BestChoice:
    """Vessels, pans or a bleed chosen otherwise, everything set again: money a day.

    `gain_a_day` is beside the choices told before it, `by_itself` alone.
    """

    __pydantic_config__ = NAMED

    address: str
    name: str
    from_: float
    to: float
    unit: str
    gain_a_day: float
    by_itself: float


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """The best that can be had with one setting held at `at`."""

    at: float
    money: float
    sugar: float
    steam: float
    brix: float
    power: float


@dataclass(frozen=True, slots=True)
class BestCurve:
    """Money an hour over one setting; `flat` is where it stays within 5 % of the gain."""

    unit: str
    points: tuple[CurvePoint, ...]
    best: float
    flat: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Without:
    """The advice with one suspect reading left out: gain an hour, and the settings that move."""

    left_out: str
    gain: float
    moves: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class BestDraws:
    """How many draws of the day's uncertainty were tried, and each load's chance to pass 1."""

    count: int
    solved: int
    over: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class BestSolver:
    """The search itself."""

    name: SolverName
    steps: int
    seconds: float
    residual: float
    breach: float


@dataclass(frozen=True, slots=True)
class Blocking:
    """A limit in the way."""

    address: str
    name: str
    side: Side
    limit: float
    unit: str


@dataclass(frozen=True, slots=True)
class WhyNot:
    """Limits that were not all kept by any state found, and of which none can be left out."""

    set: tuple[Blocking, ...]
    words: str


@dataclass(frozen=True, slots=True)
class NoBest:
    """No best settings were found near the day; that proves nothing."""

    __pydantic_config__ = NAMED

    from_: str
    status: Literal["none found"]
    why_not: WhyNot


@dataclass(frozen=True, slots=True)
class BestResult:
    """The settings that earn the most from the plant of the mill day `from_`.

    Money is an hour of crushing, net of cane and variable cost where the mill file prices them; an
    estimate, never paid. It advises: people set.
    """

    __pydantic_config__ = NAMED

    from_: str
    status: Literal["best"]
    regime: BestRegime
    currency: str
    money: BestMoney
    terms: tuple[BestTerm, ...]
    settings: Mapping[str, BestSetting]
    figures: Mapping[str, Tried]
    limits: tuple[BestLimit, ...]
    moves: tuple[BestMove, ...]
    curves: Mapping[str, BestCurve]
    without: tuple[Without, ...]
    draws: BestDraws | None
    solver: BestSolver
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    why_not: None = None
    choices: tuple[BestChoice, ...] = ()


@dataclass(frozen=True, slots=True)
class Crossing:
    """At which rate [t/h] a load passes 1 with all settings held."""

    address: str
    name: str
    rate: float


@dataclass(frozen=True, slots=True)
class Binding:
    """A station that holds the plant: money an hour for one more `per`."""

    address: str
    name: str
    price: float
    per: str


@dataclass(frozen=True, slots=True)
class Lifted:
    """How much more of the dearest station reaches the next rung."""

    __pydantic_config__ = NAMED

    address: str
    from_: float
    to: float
    unit: str


@dataclass(frozen=True, slots=True)
class Rung:
    """The best with some stations lifted: rate [t/h], money an hour, and what then binds."""

    rate: float
    money: float
    binds: tuple[Binding, ...]
    lifted: tuple[str, ...]
    more: Lifted | None
    gain: float | None
    gain_a_season: float | None


@dataclass(frozen=True, slots=True)
class Equipment:
    """Something that could be bought: money it would gain an hour and a season, rate [t/h]."""

    name: str
    cost: float
    gain: float
    gain_a_season: float | None
    rate: float


@dataclass(frozen=True, slots=True)
class LadderResult:
    """Both ladders of limits from the mill day `from_`, and what has no rating."""

    __pydantic_config__ = NAMED

    from_: str
    as_run: tuple[Crossing, ...]
    at_best: tuple[Rung, ...]
    unlimited: tuple[str, ...]
    equipment: tuple[Equipment, ...]


@dataclass(frozen=True, slots=True)
class BestOfDay:
    """The best settings or why there are none, the ladder of limits, and the moves of the sheet."""

    best: BestResult | NoBest
    ladder: LadderResult | None
    moves: DayMoves
