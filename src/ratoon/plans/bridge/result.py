"""What a bridge says, in trade units; money in the mill's currency."""

from __future__ import annotations

from dataclasses import dataclass

from ratoon.base.as_json import NAMED

MARGIN = "margin after all costs"
"""What people read for `money`: sugar less cane and all other cost, booked or else as planned."""


@dataclass(frozen=True, slots=True)
class Ends:
    """Planned and actual of the span; `forecast`: what the whole season will come to, if known."""

    plan: float
    actual: float
    forecast: float | None


@dataclass(frozen=True, slots=True)
class Step:
    """One cause: what it moved in sugar [t] and money, with the standard uncertainty of the money.

    `shapley`: its money by Shapley, which knows no order. Steps add up to actual less plan.
    """

    cause: str
    sugar: float
    money: float
    sigma: float
    shapley: float


@dataclass(frozen=True, slots=True)
class CostLine:
    """Money of an account; `plan` is None where the plan does not split it."""

    account: str
    plan: float | None
    actual: float | None
    per_t_cane: float | None


@dataclass(frozen=True, slots=True)
class Bridge:
    """From planned to actual sugar and money; `plan` is the day on which the plan was made."""

    __pydantic_config__ = NAMED

    plan: str
    from_: str
    to: str
    currency: str
    sugar: Ends
    money: Ends
    steps: tuple[Step, ...]
    costs: tuple[CostLine, ...]


@dataclass(frozen=True, slots=True)
class SeasonPlanned:
    """The whole season as planned [t], None where no plan tells it, with what prices a forecast of
    it: prices [money/t] and all other cost, booked or else as planned [money]; `money`: planned."""

    cane: float | None
    sugar: float | None
    sugar_price: float
    cane_price: float
    other: float | None
    money: float | None = None


@dataclass(frozen=True, slots=True)
class SeasonAhead:
    """The whole season: planned, and as forecast on a morning (5 %, middle and 95 %)."""

    made: str
    finish: tuple[str | None, str | None, str | None]
    cane: tuple[float, float | None, float, float]
    sugar: tuple[float, float | None, float, float]


@dataclass(frozen=True, slots=True)
class Group:
    """The steps of one factor together, from number `first` on, `count` of them."""

    name: str
    first: int
    count: int
    sugar: float
    sugar_sigma: float
    money: float
    sigma: float
    shapley: float


@dataclass(frozen=True, slots=True)
class BridgeMade:
    """A bridge as it is kept: with the uncertainty of each step's sugar [t], the steps by factor,
    cost of a tonne of cane and of sugar (plan, actual), the season as planned, and words on what it
    rests on. `ahead` is put beside it whenever it is asked for."""

    bridge: Bridge
    sugar_sigma: tuple[float, ...]
    groups: tuple[Group, ...]
    per_cane: tuple[float | None, float | None]
    per_sugar: tuple[float | None, float | None]
    season: SeasonPlanned
    words: tuple[str, ...]
    ahead: SeasonAhead | None = None
