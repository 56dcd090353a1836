"""``ratoon stops``: the next planned stop on each day that it may have, and a fault's choices."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from ratoon.base.as_json import to_json
from ratoon.base.errors import BadInput, RatoonError, UnknownName
from ratoon.jobs.files.stops import known_stations, station_key
from ratoon.jobs.season.forecast import day_of, given_of, keep, kept_of
from ratoon.plans.season.faults import Fault
from ratoon.plans.season.forecast import fitted_to
from ratoon.plans.season.stop_days import FUTURES, Waiting, asked, stops_answer
from ratoon.plans.season.stops_answer import StopsAnswer
from ratoon.store.chain.digest import digest

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.jobs.mills import OpenMill

KIND = "stops"
HOURS = 24


@dataclass(frozen=True, slots=True)
class FaultAsked:
    """A fault as a person words it; None or empty where it was left out."""

    station: str = ""
    slow: float | None = None
    repair: float | None = None
    worse: str = ""

    @classmethod
    def typed(cls, station: str, slow: str, repair: str, worse: str) -> FaultAsked:
        """A fault from the boxes of a form; BadInput where one holds no number."""

        def number(where: str, text: str) -> float | None:
            try:
                return float(text.replace(",", ".")) if text.strip() else None
            except ValueError:
                raise BadInput("is no number", where=where, value=text[:40]) from None

        return cls(station.strip(), number("slow", slow), number("repair", repair), worse.strip())

    def fault(self, mill: Mill, rate: float) -> Fault | None:
        """The same, where it can be so; None where no fault is asked about.

        Parameters
        ----------
        rate : what the mill crushes now [t/h].
        """
        if not self.station:
            if self.slow is not None or self.repair is not None or self.worse:
                raise BadInput("a fault of no station", where="fault",
                               todo="Name the station.")  # fmt: skip
            return None
        names = {station_key(n): n for n in known_stations(mill)}
        if station_key(self.station) not in names:
            raise UnknownName("station", self.station, names.values(), where="fault")
        if self.repair is None or not 0.0 < self.repair <= 1000.0:
            raise BadInput("hours of the repair", where="repair", value=self.repair,
                           allowed="above 0, to 1000 h")  # fmt: skip
        if self.slow is not None and not 0.0 < self.slow < rate:
            raise BadInput(
                "is no slower rate",
                where="slow",
                value=self.slow,
                allowed=f"above 0, below the {rate:.0f} t/h that the mill crushes",
            )
        chance, worse = _worse(self.worse)
        station = names[station_key(self.station)]
        return Fault(station, self.repair, chance, worse, self.slow)


def _worse(text: str) -> tuple[float, float]:
    """`2%:40` or `0.02:40`: chance of failure a day of waiting, and its hours."""
    share, colon, hours = text.partition(":")
    try:
        chance = float(share.removesuffix("%")) / (100.0 if share.endswith("%") else 1.0)
        length = float(hours)
    except ValueError:
        colon = ""
    if not colon or not 0.0 <= chance <= 1.0 or not 0.0 < length <= 1000.0:
        raise BadInput(
            "is no chance of getting worse",
            where="worse",
            value=text,
            allowed="CHANCE:H, such as 2%:40: each day of waiting, and its hours",
        )
    return chance, length


def stops_of(
    opened: OpenMill, day: date | None = None, fault: FaultAsked | None = None,
    futures: int = FUTURES,
) -> StopsAnswer:  # fmt: skip
    """Which day to stop, on the morning of a mill day; kept where no fault is asked about.

    Raises
    ------
    BadInput : no season to look ahead; a fault that cannot be.
    """
    at = day_of(opened, day)
    known = given_of(opened, at)
    fit = fitted_to(known)
    rate = float(np.exp(fit.rate.level.told()[0]))
    one = (fault or FaultAsked()).fault(opened.mill, rate)
    lacking = list(known.rules.lacking)
    if not known.rules.season.hour_cost:
        lacking.append("season.hour_cost: an hour lost costs only what a later finish changes, and"
                       " where later cane is sweeter that may even pay")  # fmt: skip
    waiting = Waiting(*_scale(opened, at, lacking), _on_hand(opened, at, lacking))
    question = asked(known.rules, at, fit, waiting, one)
    made = stops_answer(at, question, known.rules.currency, lacking, count=futures)
    if one is None:
        keep(opened, KIND, at, digest(to_json(made)), to_json(made))
    return made


def kept_stops(opened: OpenMill, at: date) -> StopsAnswer | None:
    """What is kept of a morning's stops."""
    return kept_of(opened, KIND, at, StopsAnswer)


def make_stops(opened: OpenMill, at: date) -> None:
    """Make and keep a morning's stops: the job of a worker."""
    stops_of(opened, at)


def _scale(
    opened: OpenMill, at: date, lacking: list[str]
) -> tuple[tuple[tuple[float, float], ...], float]:  # fmt: skip
    """Money that scale costs on days ahead and after a clean, and its relative uncertainty, by the
    plan of cleaning.

    It goes by the trend of the coefficients, whether or not the mill file tells of cleaning.
    """
    from ratoon.jobs.best.clean import clean_of, kept_clean
    from ratoon.jobs.sheet.history import History

    history = History(opened.folder, lambda: opened.store)
    ran = [d for text, f in history.days().items() if f.result.period.crushing_hours
           and (d := date.fromisoformat(text)) < at]  # fmt: skip
    if not ran:
        lacking.append("what scale costs: no mill day with cane is accounted")
        return (), 0.0
    newest = max(ran)
    try:
        plan = kept_clean(history, newest, lambda: clean_of(history, newest))
    except RatoonError as error:
        lacking.append(f"what scale costs (ratoon clean): {error.what}")
        return (), 0.0
    if not plan.waiting:
        lacking.append("what scale costs (ratoon clean): no scale to see yet")
        return (), 0.0
    first = date.fromisoformat(plan.waiting[0].date)
    since = max((at - first).days, 0)
    slopes = [(law.weight * law.slope, law.weight * law.sigma)
              for e in plan.effects for law in e.laws]  # fmt: skip
    steep, unsure = (sum(s[k] for s in slopes) for k in (0, 1))
    money = tuple((w.money_a_day, fresh.after_clean)
                  for w, fresh in zip(plan.waiting[since:], plan.waiting))  # fmt: skip
    return money, unsure / steep if steep > 0.0 else 1.0


def _on_hand(opened: OpenMill, at: date, lacking: list[str]) -> float | None:
    """Cane weighed and not yet crushed, mean of the hours of the newest day in the yard [t]."""
    from ratoon.jobs.yard.day import keep

    found = keep(opened, at - timedelta(days=1))
    if found is None or not found.outlook.hours:
        lacking.append("cane on hand (ratoon yard): what ages while the mill stops is not counted")
        return None
    return float(np.mean([h.tonnes for h in found.outlook.hours[:HOURS]]))
