"""What `ratoon stops` says: the next planned stop on each day, by rules, and what a fault asks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ratoon.base.as_json import NAMED


@dataclass(frozen=True, slots=True)
class NextStop:
    """The planned stop that is looked at."""

    date: str
    cause: str
    hours: float
    movable: int
    notice: int


@dataclass(frozen=True, slots=True)
class StopDay:
    """The stop on one day.

    Parameters
    ----------
    hours_lost : crushing hours that it costs, fewer on a wet day. fouling, risk, age, crew : money
        that scale, failures while waiting, cane that ages and the crew cost; None where nobody can
        tell. money : what the season is worth more than with the stop on its planned day, all of
        these counted; `sigma` its standard error.
    """

    date: str
    hours_lost: float
    fouling: float | None
    risk: float
    age: float | None
    crew: float
    money: float
    sigma: float


@dataclass(frozen=True, slots=True)
class StopRule:
    """A rule instead of a day, beside the planned day as well."""

    rule: str
    money: float
    sigma: float


@dataclass(frozen=True, slots=True)
class StopAdvice:
    """What gains surely; `gain` beside the planned day."""

    what: str
    gain: float
    sigma: float


@dataclass(frozen=True, slots=True)
class FaultChoice:
    """What one choice with a fault costs, beside no fault at all."""

    choice: Literal["run", "slow", "stop"]
    money: float
    sigma: float


@dataclass(frozen=True, slots=True)
class StopsAnswer:
    """Which day to stop."""

    __pydantic_config__ = NAMED

    from_: str
    stop: NextStop | None
    days: tuple[StopDay, ...]
    rules: tuple[StopRule, ...]
    advice: StopAdvice
    fault: tuple[FaultChoice, ...] | None
    currency: str
    lacking: tuple[str, ...]
