"""The best settings of an accounted day as they are kept: for the page, and moves for the sheet.

They are found once for each account of a day and each form of the mill file, and appended to the
records like the account itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal

from ratoon import __version__
from ratoon.account.results.moves import DayMoves
from ratoon.base.as_json import from_json, to_json
from ratoon.base.errors import BadInput
from ratoon.store.answers import newest_parts, newest_result
from ratoon.store.chain.digest import digest

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.account.results.day import YardLine
    from ratoon.jobs.mills import OpenMill
    from ratoon.plans.best.result import BestOfDay, BestResult
    from ratoon.store.records import Result

RateAsked = Literal["held", "free", "crop"]
KINDS: Final = {"held": "best", "free": "best, rate free", "crop": "best, crop to finish"}
"""The kind of answer that holds them, by the rate that is asked."""
DAY = "day"
DRAWS = 200
MOVED = 1e-3  # of its range: a setting that moves less has not moved
NOTHING_FREE = (
    "No best settings: the mill file says of nothing how far it may be set ([best.free])."
)
NOT_YET = "Not worked out yet for this account: the page Best does it, and `ratoon day --moves`."


def kept_best(opened: OpenMill, day: date, rate: RateAsked = "held") -> BestOfDay | None:
    """What is kept for the newest account of a day and the mill file as it stands; else None."""
    from ratoon.plans.best.result import BestOfDay

    period = opened.mill.calendar.period(day)
    found = opened.store.ask(newest_result, KINDS[rate], period)
    account = opened.store.ask(newest_result, DAY, period)
    if found is None or account is None or found.inputs_digest != _made_from(opened, account):
        return None
    return from_json(BestOfDay, found.answer)


def rate_of(yard: YardLine | None) -> RateAsked:
    """Free where the yard's plan of the day says that cane waits; else the day's."""
    return "held" if yard is None or yard.runs_dry else "free"


def moves_of_day(
    opened: OpenMill, day: date, inputs_digest: str, yard: YardLine | None
) -> DayMoves:
    """The moves for the sheet of an account, or in words why there are none.

    They are of the regime that the yard tells, else of the day's rate where only that was asked.
    """
    if not opened.mill.settings.best.free:
        return DayMoves((), (), NOTHING_FREE)
    period = opened.mill.calendar.period(day)
    wanted = _digest(opened, inputs_digest)
    for rate in dict.fromkeys((rate_of(yard), "held")):
        for _, made_from, part in opened.store.ask(newest_parts, KINDS[rate], "moves", period):
            if made_from == wanted:
                return from_json(DayMoves, part)
    return DayMoves((), (), NOT_YET)


def keep_best(
    opened: OpenMill, day: date, rate: RateAsked = "held", draws: int = DRAWS
) -> BestOfDay:
    """The best settings of a day, from the records or found and kept.

    Raises
    ------
    BadInput : a day that is not accounted, or whose readings changed since; a day without cane, a
        mill file without prices or ranges.
    """
    from ratoon.jobs.sheet.to_date import changed_since

    found = kept_best(opened, day, rate)
    if found is not None:
        return found
    account = opened.store.ask(newest_result, DAY, opened.mill.calendar.period(day))
    if account is None or changed_since(opened, account, day):
        raise BadInput("is not accounted as its readings stand", where=day.isoformat(),
                       todo="Account the day first: ratoon day")  # fmt: skip
    made = _make(opened, day, rate, draws)
    opened.store.add_result(KINDS[rate], account.period, _made_from(opened, account),
                            {"program": __version__}, to_json(made))  # fmt: skip
    return made


def keep_in(folder: str, mark: str, day: date, rate: RateAsked) -> None:
    """The same in a worker, for the mill that it holds."""
    from ratoon.jobs.mills import OpenMill, store_of
    from ratoon.jobs.trial.cases import mill_in

    place = Path(folder)
    with store_of(place) as store:
        keep_best(OpenMill(place, mill_in(folder, mark), store), day, rate)


def _make(opened: OpenMill, day: date, rate: RateAsked, draws: int) -> BestOfDay:
    from ratoon.jobs.best.solve import Asked, both_of, why_none
    from ratoon.plans.best.result import BestOfDay
    from ratoon.plans.best.search import NoBestFound

    asked = Asked(rate, draws=draws)
    try:
        best, ladder = both_of(opened, day, asked)
    except NoBestFound as error:
        none = why_none(error, day)
        return BestOfDay(none, None, DayMoves((), (), f"No best settings: {none.why_not.words}."))
    return BestOfDay(best, ladder, _moves(opened.mill, best))


def _moves(mill: Mill, best: BestResult) -> DayMoves:
    return DayMoves(best.moves, tuple(_stop(best, m.address) for m in best.moves),
                    best.regime.words, True, tuple(_against(mill, best)))  # fmt: skip


def _stop(best: BestResult, address: str) -> str:
    """What stops a setting from moving further, in words."""
    from ratoon.reports.numbers import unit_as_read

    one = best.settings[address]
    if one.at is None:
        return "nothing: further would earn less"
    end = one.low if one.at == "low" else one.high
    told = f"the end of its range, {end:.6g} {unit_as_read(one.unit)}".rstrip()
    return f"{told} ({one.source})" if one.source else told


def _against(mill: Mill, best: BestResult) -> Iterator[str]:
    """Figures that the best settings move away from where their jobs would bring them."""
    plant = mill.plant
    for lever in (x for station in plant.works.stations for x in station.levers()):
        one = best.settings.get(plant.held_by(plant.set_point_of(lever.moved)))
        if one is None or lever.job is None:
            continue
        if (one.best - one.today) * lever.step < -MOVED * (one.high - one.low):
            yield lever.figure


def _made_from(opened: OpenMill, account: Result) -> str:
    return _digest(opened, account.inputs_digest)


def _digest(opened: OpenMill, account: str) -> str:
    return digest([account, opened.mill.settings.text, __version__])
