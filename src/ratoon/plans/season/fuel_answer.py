"""What `ratoon fuel` says: the bagasse store, and whether it lasts; tonnes, hours, t/h."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ratoon.base.as_json import NAMED
from ratoon.plans.season.answer import Spread

Case = Literal["rain", "stop", "end", "start"]
Burn = Literal["held", "low", "power"]


@dataclass(frozen=True, slots=True)
class FuelStore:
    """What the store holds [t], with what cannot be fed; `surveyed` is the last survey's mill day,
    None where the mill file alone says it."""

    value: float
    sigma: float
    surveyed: str | None


@dataclass(frozen=True, slots=True)
class FuelNet:
    """What a crushing hour of an ordinary day leaves over, its short stops among it."""

    value: float
    sigma: float
    unit: str


@dataclass(frozen=True, slots=True)
class FuelCase:
    """Whether the fuel lasts a case, the boilers burning so while the mill stands.

    Parameters
    ----------
    lasts : chance that it does, over the futures that have the case. hours : how long the store,
        as it is when the case begins, feeds that burn. short : other fuel needed, as tonnes of
        bagasse. asks : hours for which the mill stands in it; the start has none.
    """

    case: Case
    burn: Burn
    lasts: float
    hours: Spread
    short: Spread
    asks: Spread


@dataclass(frozen=True, slots=True)
class FuelAdvice:
    """One piece of advice: `tonnes` is what it is about; `until`, a mill day by which."""

    what: Literal["save", "sell", "make power", "keep", "store fills"]
    tonnes: float | None
    until: str | None
    words: str


@dataclass(frozen=True, slots=True)
class FuelAnswer:
    """Whether the fuel lasts. `worth_t`: money that another tonne in store is worth now."""

    __pydantic_config__ = NAMED

    from_: str
    store: FuelStore
    net: FuelNet
    cases: tuple[FuelCase, ...]
    worth_t: float | None
    advice: tuple[FuelAdvice, ...]
    currency: str
    lacking: tuple[str, ...]
