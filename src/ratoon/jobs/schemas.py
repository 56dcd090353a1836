"""Schemas of the results that commands print: JSON Schema from the results' own types."""

from __future__ import annotations

from typing import Any

from ratoon.base.as_json import schema
from ratoon.base.errors import UnknownName

KINDS = ("day", "week", "try", "best", "ladder", "clean", "floor", "boil", "season", "stops",
         "fuel", "shed", "lot", "ledger", "refinery", "bridge", "slide", "strikes", "strike",
         "exhaustion", "learn",
         "cane", "pay")  # fmt: skip


def schema_of(what: str) -> dict[str, Any]:
    """The schema of a command's JSON.

    Raises
    ------
    UnknownName : a command whose result has no type.
    """
    from ratoon.account.learn import Learnt
    from ratoon.account.results.day import DayResult
    from ratoon.account.results.exhaustion import Exhaustion
    from ratoon.account.results.week import WeekResult
    from ratoon.cane.day_result import CaneDayAgainst
    from ratoon.cane.statement_result import StatementResult
    from ratoon.jobs.boil import BoilAnswer
    from ratoon.jobs.strikes.records import StrikeDetail, StrikeLine
    from ratoon.jobs.trial.solve import TrialResult
    from ratoon.laboratory.slide_sizes import SlideResult
    from ratoon.plans.best.result import BestResult, LadderResult
    from ratoon.plans.bridge.result import Bridge
    from ratoon.plans.clean.result import CleanResult
    from ratoon.plans.floor.result import FloorResult
    from ratoon.plans.recall.by_products import ByProducts
    from ratoon.plans.recall.lot import LotAnswer
    from ratoon.plans.refinery.result import RefineryAnswer
    from ratoon.plans.season.answer import SeasonForecast
    from ratoon.plans.season.fuel_answer import FuelAnswer
    from ratoon.plans.season.stops_answer import StopsAnswer
    from ratoon.plans.shed.answer import ShedAnswer

    types = (DayResult, WeekResult, TrialResult, BestResult, LadderResult, CleanResult,
             FloorResult, BoilAnswer, SeasonForecast, StopsAnswer, FuelAnswer, ShedAnswer,
             LotAnswer, ByProducts, RefineryAnswer,
             Bridge, SlideResult, list[StrikeLine], StrikeDetail, Exhaustion, Learnt,
             CaneDayAgainst, list[StatementResult])  # fmt: skip
    kinds: dict[str, Any] = dict(zip(KINDS, types, strict=True))
    if what not in kinds:
        raise UnknownName("result", what, KINDS)
    return schema(kinds[what])
