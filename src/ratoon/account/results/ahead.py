"""What a day's sheet says of what was planned and of what lies ahead; kept by other answers.

The rules of `results` hold here, too.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

Three = tuple[float | None, float | None, float | None]
"""What 5, 50 and 95 % of the futures stay below."""


@dataclass(frozen=True, slots=True)
class PlanBeside:
    """Figures planned, by address of the account, for the week and the season to date.

    `made`: the day on which the week's plan was made. `whole`: for the whole season.
    """

    made: str
    week: Mapping[str, float]
    season: Mapping[str, float]
    whole: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Ahead:
    """The season ahead as the newest forecast kept by the morning after the day tells it.

    `finish`: dates, None past the latest finish; `fuel`, `shed`, `floor`: a line on the fuel, on
    sugar in store, on the pan floor, "" where none is kept.
    """

    plan: PlanBeside | None = None
    forecast_of: str = ""
    finish: tuple[str | None, str | None, str | None] | None = None
    totals: Mapping[str, Three] = field(default_factory=dict)
    fuel: str = ""
    shed: str = ""
    floor: str = ""
