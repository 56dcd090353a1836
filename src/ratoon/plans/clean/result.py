"""What `ratoon clean` answers: scale on each effect, what it costs, and which cleans pay.

Money is in the mill's currency, coefficients in kW/m2.K at each effect's usual brix.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ratoon.base.as_json import NAMED


@dataclass(frozen=True, slots=True)
class LawFit:
    """One law of scale: rise of `name` in a day of crushing, its fit and its weight."""

    name: str
    slope: float
    sigma: float
    chi2: float
    weight: float


@dataclass(frozen=True, slots=True)
class CoefficientOn:
    """A coefficient on a day: `day` counts from the day begun from; `date` is the mill day."""

    day: int
    date: str
    value: float
    sigma: float


@dataclass(frozen=True, slots=True)
class VesselScale:
    """A vessel that its own readings tell from the others of its effect."""

    vessel: int
    cleaned: str
    days_crushed: float
    htc: float
    sigma: float
    clean: float
    laws: tuple[LawFit, ...]


@dataclass(frozen=True, slots=True)
class EffectScale:
    """An effect: when it was cleaned, days crushed since, coefficient now and as cleans leave it.

    `forecast` is without a clean. `found` are the days' own figures, `smoothed` what was fitted to
    them, run by run; `brix` is the usual one to which all are brought [%].
    """

    effect: int
    cleaned: str
    days_crushed: float
    htc: float
    sigma: float
    clean: float
    brix: float
    forecast: tuple[CoefficientOn, ...]
    laws: tuple[LawFit, ...]
    vessels: tuple[VesselScale, ...]
    found: tuple[CoefficientOn, ...]
    smoothed: tuple[tuple[CoefficientOn, ...], ...]


@dataclass(frozen=True, slots=True)
class Waiting:
    """What scale costs on a day ahead if nothing is cleaned, beside clean effects.

    `after_clean`: had all been cleaned at the start.
    """

    day: int
    date: str
    money_a_day: float
    after_clean: float = 0.0


@dataclass(frozen=True, slots=True)
class ByLaw:
    """What a clean gains under one law of scale: the middle, and its uncertainty downward.

    1.96 of `sigma` below `gain` is the lowest 2.5 %; upward it may be much more.
    """

    gain: float
    sigma: float


@dataclass(frozen=True, slots=True)
class Clean:
    """A clean that is advised: crushing hours that it costs, and money it gains in the days ahead.

    `stop` says in which stop of the mill it falls.
    """

    date: str
    name: str
    effects: tuple[int, ...]
    hours: float
    gain: float
    sigma: float
    stop: str
    cost: float
    by_law: Mapping[str, ByLaw]

    @property
    def least(self) -> float:
        """What it gains at least, 95 %, under every law."""
        return min(one.gain - 1.96 * one.sigma for one in self.by_law.values())


@dataclass(frozen=True, slots=True)
class DayAhead:
    """A day of the strip: hours that the mill stands by plan, chance of a rain stop, and what
    would be worth cleaning should rain stop the mill."""

    date: str
    stands: float
    rain: float | None
    in_rain: str


@dataclass(frozen=True, slots=True)
class CleanResult:
    """When to clean the evaporator, from the mill day `from_`. It advises a date; people decide."""

    __pydantic_config__ = NAMED

    from_: str
    currency: str
    effects: tuple[EffectScale, ...]
    waiting: tuple[Waiting, ...]
    plan: tuple[Clean, ...]
    lacking: tuple[str, ...]
    days: tuple[DayAhead, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
