"""What the year's plan says; t, trade units, money in the mill's currency."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from ratoon.base.as_json import NAMED
from ratoon.plans.season.answer import Spread
from ratoon.plans.shed.answer import ShedWeek

ByName = Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Haul:
    """Tonnes of a brand moved from a mill or shed; ``to`` "no room": nothing could take them."""

    __pydantic_config__ = NAMED

    from_: str
    to: str
    brand: str
    t: float


@dataclass(frozen=True, slots=True)
class RefineryWeek:
    """One week. `melt`: raw sugar; `pack`, `short`: product, short in the week in which it is due.

    `stock` at the week's end, raw by shed and brand; under ``refinery`` what is packed, by product.
    """

    start: str
    make: Mapping[str, ByName]
    haul: tuple[Haul, ...]
    melt: ByName
    pack: ByName
    sell: ByName
    short: ByName
    stock: Mapping[str, ByName]


@dataclass(frozen=True, slots=True)
class PricedLimit:
    """A limit that the plan touches, and what it is worth by solving again.

    Parameters
    ----------
    week : None where the limit is one figure for all weeks, and the price is of moving it in all.
    price : money gained by a unit of room: more of a "most", less of a "least". other_side : money
        lost by a unit less room; None where no plan is left. holds_to : value of the limit up to
        which the price was seen to hold within half a per cent. All three None in `why_not`.
    """

    name: str
    week: str | None
    side: Literal["most", "least"]
    limit: float
    unit: str
    price: float | None = None
    other_side: float | None = None
    holds_to: float | None = None


@dataclass(frozen=True, slots=True)
class Answered:
    """What a buyer is told in a week: the plan, and tonnes more for each tonne that the mills made
    over what was planned in all weeks before. Buyer ``hire``: tonnes of room."""

    week: str
    buyer: str
    plan: float
    answer: float


@dataclass(frozen=True, slots=True)
class Chances:
    """Share of the years as they may come in which it happens in some week."""

    full: float
    empty: float
    short: float


@dataclass(frozen=True, slots=True)
class Lived:
    """What comes of the plan where nothing answers: chances, t spilt, t of product short."""

    chance: Chances
    spill: Spread
    shortage: Spread


@dataclass(frozen=True, slots=True)
class RefineryAnswer:
    """The year's plan. `rule`, `chance`, `spill`, `shortage` and `path` are of 10,000 years as they
    may come; without the rule where the case says nothing of how sure the mills' sugar is.

    Parameters
    ----------
    path : raw sugar in all sheds by week. room, heel : of all sheds in the first week [t].
    """

    __pydantic_config__ = NAMED

    from_: str
    status: Literal["best", "none found"]
    money: float | None
    weeks: tuple[RefineryWeek, ...]
    limits: tuple[PricedLimit, ...]
    rule: tuple[Answered, ...]
    chance: Chances | None
    spill: Spread | None
    shortage: Spread | None
    why_not: tuple[PricedLimit, ...]
    without_rule: Lived | None = None
    path: tuple[ShedWeek, ...] = ()
    room: float = 0.0
    heel: float = 0.0
    currency: str = "$"
    lacking: tuple[str, ...] = ()
    seconds: float = 0.0
