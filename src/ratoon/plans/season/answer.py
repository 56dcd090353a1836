"""What a season's forecast says, in trade units; days as dates, money in the mill's currency."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ratoon.base.as_json import NAMED

Cause = Literal["rain", "stops", "rate", "crop", "ccs"]
Status = Literal["forecast", "finished", "not started"]
MARGIN = "margin over variable cost"
"""What people read for `money`, which no fixed cost is in: the bridge tells another sum."""


@dataclass(frozen=True, slots=True)
class Spread:
    """Quantiles over the futures; null where no future has the figure."""

    q05: float | None
    q25: float | None
    q50: float | None
    q75: float | None
    q95: float | None


@dataclass(frozen=True, slots=True)
class DateSpread:
    """Quantiles of a mill day; null past the latest finish."""

    q05: str | None
    q25: str | None
    q50: str | None
    q75: str | None
    q95: str | None


@dataclass(frozen=True, slots=True)
class SeasonHours:
    """Hours from the day of the forecast to the finish."""

    rain: Spread
    stops: Spread
    no_cane: Spread
    planned: float


@dataclass(frozen=True, slots=True)
class SeasonWeek:
    """One week ahead; `ccs` over the futures that crush in it."""

    start: str
    cane: Spread
    ccs: Spread
    sugar: Spread


@dataclass(frozen=True, slots=True)
class SeasonZone:
    """A zone's estimate [t] and what it is revised to, with its sigma; `cut` [t]."""

    zone: str
    estimate: float
    revised: float
    sigma: float
    cut: float
    area_share_cut: float


@dataclass(frozen=True, slots=True)
class CauseShare:
    """The share of a cause in the variance of the finish or the sugar; shares add up to one.

    `sigma`: standard deviation that it makes [d or t].
    """

    of: Literal["finish", "sugar"]
    cause: Cause
    share: float
    sigma: float


@dataclass(frozen=True, slots=True)
class WorthSigma:
    """Standard errors of what a change is worth, by the number of futures."""

    finish_days: float
    sugar: float
    money: float


@dataclass(frozen=True, slots=True)
class Worth:
    """What a change moves: mean of paired futures [d, t, money]."""

    what: str
    unit: str
    finish_days: float
    sugar: float
    money: float
    sigma: WorthSigma


@dataclass(frozen=True, slots=True)
class FittedFigure:
    """A figure on which the futures rest, and where it comes from."""

    __pydantic_config__ = NAMED

    name: str
    value: float
    sigma: float
    unit: str
    from_: str


@dataclass(frozen=True, slots=True)
class MonteCarlo:
    """Standard errors of the finish's quantiles, by the number of futures [d]."""

    q50_days: float
    q95_days: float


@dataclass(frozen=True, slots=True)
class SeasonForecast:
    """The season as it may come. `cane`, `sugar`, `ccs`: of the whole season, what was crushed
    among it; `cane_left`: standing at its end; `money`: see the page on the forecast."""

    __pydantic_config__ = NAMED

    from_: str
    status: Status
    seed: int
    futures: int
    finish: DateSpread
    left_chance: float
    crop: Spread
    cane_left: Spread
    cane: Spread
    ccs: Spread
    sugar: Spread
    money: Spread
    currency: str
    hours: SeasonHours
    weeks: tuple[SeasonWeek, ...]
    zones: tuple[SeasonZone, ...]
    spread: tuple[CauseShare, ...]
    worth: tuple[Worth, ...]
    compared: Worth | None
    fitted: tuple[FittedFigure, ...]
    lacking: tuple[str, ...]
    monte_carlo: MonteCarlo
    answer_digest: str
    seconds: float
