"""The season's own tables of the mill file: finish, costs, planned stops."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from ratoon.settings.fields import setting


@dataclass(frozen=True, kw_only=True)
class SeasonSettings:
    planned_finish: date | None = setting("", "last mill day as planned", None)
    latest_finish: date | None = setting(
        "", "last mill day on which cane can be crushed; 33 weeks after the start if left out", None
    )
    tail_share: float = setting(
        "%", "share of the crop, its last, that comes slowly (mill's choice)", 0.03, high=20.0
    )
    hour_cost: float = setting("", "money an hour of the season, crushing or not", 0.0, low=0.0)
    left_cost: float = setting("", "money per tonne of cane left standing", 0.0, low=0.0)
    ratoon_from: date | None = setting("", "day from which later cutting costs the next crop", None)
    ratoon_cost: float = setting("", "money per tonne of cane and day cut after it", 0.0, low=0.0)


@dataclass(frozen=True, kw_only=True)
class PlannedStop:
    first: date = setting("", "mill day of the first such stop")
    every: int | None = setting("", "days from one to the next; once where left out", None)
    hours: float = setting("h", "how long it lasts")
    cause: str = setting("", "what it is for", "planned")
    movable: int = setting("", "days by which it may be put off", 0)
    notice: int = setting("", "days of notice that it takes", 0)
    crew_cost: float = setting("", "money for its crew", 0.0)
    risk: float = setting("%", "chance of failure for each day of waiting", 0.0)
    risk_hours: float = setting("h", "length of such a failure", 0.0)


@dataclass(frozen=True, kw_only=True)
class FuelSettings:
    dead: float = setting("t", "bagasse at the bottom that cannot be fed (mill's choice)", 0.0)
    held: float | None = setting("t/h", "burnt while the mill stands, boilers held hot", None)
    low: float | None = setting(
        "t/h", "burnt while the mill stands, steam for boiling house and own power; as days "
        "without cane did if left out", None
    )  # fmt: skip
    power: float | None = setting("t/h", "burnt while the mill stands, power made to sell", None)
    start: float | None = setting("t", "burnt to start the next season, until cane makes its own",
                                  None)  # fmt: skip
    other_price: float | None = setting(
        "", "money for other fuel in place of a tonne of bagasse", None, low=0.0
    )
    other_rate: float | None = setting("t/h", "of bagasse that other fuel can stand in for", None)
