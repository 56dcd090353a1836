"""What a day's figures are worth: prices, targets, the plant as it is set.

The rules of `results` hold here, too.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class TargetWorth:
    """What missing a target cost over the day: positive means lost, in `prices.currency`.

    Worked by the account from the day's own tonnes and prices; `words` says how. Only targets
    that can be priced honestly from the account are listed; without money, `words` says why.
    """

    money: float | None
    money_sigma: float | None
    words: str


@dataclass(frozen=True, slots=True)
class Prices:
    """The prices in force on that day; `currency` is printed before amounts ("$")."""

    currency: str
    sugar: float | None = None
    molasses: float | None = None
    bagasse: float | None = None
    power: float | None = None


@dataclass(frozen=True, slots=True)
class Benchmark:
    """A figure of the plant as the mill file sets it, with the day's own beside it, in `unit`."""

    name: str
    unit: str
    benchmark: float
    value: float | None
    sigma: float | None


@dataclass(frozen=True, slots=True)
class UnitWorth:
    """What `step` [unit] of a figure earns over the crushing hours, by what it is changed.

    `follows` is False where the plant stands at a limit: that is then what clearing it earns.
    """

    address: str
    name: str
    unit: str
    step: float
    money: float
    how: str
    sugar_t: float
    follows: bool = True


@dataclass(frozen=True, slots=True)
class Worth:
    """Benchmark and worths; without them `words` says why. `hour`: what an hour of crushing earns.

    `benchmark` : figures and losses (% of pol in cane), by address.
    """

    benchmark: Mapping[str, Benchmark]
    units: tuple[UnitWorth, ...]
    hour: float | None
    words: str
    priced_by: str = ""
