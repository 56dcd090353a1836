"""The cane of a mill day: loaded, tracked, analysed, judged against its history, kept."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from ratoon.base.as_json import to_json
from ratoon.base.errors import BadInput
from ratoon.base.records import Period
from ratoon.cane import agreed
from ratoon.cane.day import cane_day
from ratoon.cane.juice import own_juice
from ratoon.cane.records import Bottled, Flag, NirSeries
from ratoon.jobs.cane import season as cane_season
from ratoon.jobs.cane.account import account_figures, against_the_account
from ratoon.jobs.cane.answer import (
    day_answer,
    earlier_of,
    last_bottles_of,
    said_of_day_before,
)
from ratoon.jobs.cane.judge import judged, path_of
from ratoon.jobs.cane.load import TARES, CaneRecords, load_cane
from ratoon.jobs.cane.received import STANDING, receival_of
from ratoon.jobs.yard import day as yard
from ratoon.store import Store
from ratoon.store.answers import newest_result, newest_results
from ratoon.store.cane import kept as stored_cane
from ratoon.store.chain.digest import digest

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.cane.day_result import CaneDayResult
    from ratoon.cane.rules import AnalysisRules
    from ratoon.jobs.mills import OpenMill

KIND = "cane day"
FORM = 3
"""Of the analysis: a day that was kept by another one is made anew."""
JUICE = "cane juice"
"""Kept beside a day's answer: the share of each consignment in the juice, moment by moment."""
DAY, HISTORY = timedelta(days=1), timedelta(days=35)
Progress = Callable[[str], None]


def cane_of_day(opened: OpenMill, day: date, again: bool = False) -> dict[str, Any]:
    """The cane of a mill day: the kept answer, made anew when its records or rules changed.

    Its `account` sets it beside the mill's own account of the day; None where that is not made.

    Raises
    ------
    BadInput : no cane was tipped that day, or the mill file says nothing of its carriers.
    """
    found = answers_of(opened, [day], again)
    if not found:
        raise BadInput("no bin was tipped on this mill day", where=day.isoformat(),
                       todo="`ratoon cane --list` lists the days")  # fmt: skip
    store, calendar = opened.store, opened.mill.calendar
    figures = account_figures(store, calendar)
    account = against_the_account(store, calendar, day, figures)
    return found[0] | {"account": to_json(account)}


def cane_of_all(
    opened: OpenMill, again: bool = False, progress: Progress | None = None
) -> list[dict[str, Any]]:
    """The cane of every mill day with tips, oldest first."""
    return answers_of(opened, days_with_cane(opened), again, progress)


def kept_cane(opened: OpenMill, day: date) -> dict[str, Any] | None:
    """The newest kept answer of a day, without making it; None when there is none."""
    kept = opened.store.ask(newest_result, KIND, opened.mill.calendar.period(day))
    return None if kept is None else dict(kept.answer)


def days_with_cane(opened: OpenMill, within: Period | None = None) -> list[date]:
    """Mill days on which a bin was tipped, of a period where one is named."""
    calendar, days = opened.mill.calendar, list[date]()
    at = None if within is None else within.start
    while (at := opened.store.ask(stored_cane.first, "tip", at)) is not None:
        if within is not None and at >= within.end:
            break
        days.append(calendar.day_of(at))
        at = calendar.period(days[-1]).end
    return days


def answers_of(
    opened: OpenMill,
    days: Sequence[date],
    again: bool = False,
    progress: Progress | None = None,
) -> list[dict[str, Any]]:
    """Answers of days in order; each one's history is of the days before it."""
    if not days:
        return []
    mill, store = opened.mill, opened.store
    first = mill.calendar.period(days[0])
    last = mill.calendar.period(days[-1])
    wide = Period(first.start - HISTORY, mill.calendar.period(days[-1] + DAY).end)
    kept = {r.period: (r.inputs_digest, r.answer) for r in store.ask(newest_results, KIND, wide)}
    past = [answer for period, (_, answer) in kept.items() if period.end <= first.start]
    whole: list[CaneRecords] = []

    def records() -> CaneRecords:
        if not whole:  # read once, and only when some day has to be made
            yard = timedelta(hours=agreed.receival_rules(mill.settings).most_yard_hours)
            whole.append(load_cane(store, first.start, last.end, max(yard, STANDING)))
        return whole[0]

    out: list[dict[str, Any]] = []
    moved, made = set[date](), set[date]()
    turns = list(days)
    while turns:
        day, before = turns[0], turns[0] - DAY
        period, following = mill.calendar.period(day), mill.calendar.period(day + DAY)
        # by date and from one end: the same days, whichever day a run begins with
        past = [p for p in past if p["date"] >= (day - HISTORY).isoformat()]
        said = said_of_day_before(kept[following][1]) if following in kept else []
        mark = _mark(opened, period, past, said)
        stands, answer = kept.get(period, ("", None))
        if answer is None or stands != mark or again:
            near = records().around(period.start, period.end)
            found = _one_day(mill, near, day, period, past, mark, said)
            if found is None:
                del turns[0]
                continue
            told = said_of_day_before(answer) if answer else []
            answer = to_json(found[0])
            moved |= _keep(store, day, period, mark, found[0], found[1])
            made.add(day)
            kept[period] = mark, answer
            if said_of_day_before(answer) != told:  # bottles exchanged over the day's end
                new = {a["date"]: a for a in answers_of(opened, [before])}
                past, out = ([new.get(a["date"], a) for a in p] for p in (past, out))
                continue
        del turns[0]
        if progress:
            progress(f"cane of {day}: {len(answer['consignments'])} consignments")
        out.append(answer)
        past = [*past, answer]
    if left := sorted(moved - set(days)):  # days that gave up a bin since they were made
        answers_of(opened, left)
    if made:  # the yard's plan rests on it, too
        yard.keep_all(opened, sorted(made), records())
    return out


def _keep(
    store: Store, day: date, period: Period, mark: str, made: CaneDayResult,
    juice: dict[str, Any],
) -> set[date]:  # fmt: skip
    """The answer, its sums, the shares in the juice and the bins, together or not at all.

    Returns
    -------
    Other days that were kept with one of the bins: they are older than the records.
    """
    versions, answer = {"program": _version()}, to_json(made)
    loads = {key: c["consignment"] for c in answer["consignments"] for key in loads_of(c)}
    with store.writing() as transaction:
        transaction.add_result(KIND, period, mark, versions, answer)
        short = to_json(cane_season.sums_of_day(made))
        transaction.add_result(cane_season.KIND, period, mark, versions, short)
        transaction.add_result(JUICE, period, mark, versions, juice)
        return transaction.claim_loads(day, loads)


def loads_of(consignment: Mapping[str, Any]) -> list[str]:
    """Every bin of a consignment's day: to be paid, held and refused."""
    refused = (b["bin"] for b in consignment["refused_bins"])
    return [*consignment["loads"], *consignment["waiting"], *refused]


def _version() -> str:
    from ratoon import __version__

    return str(__version__)


def _mark(
    opened: OpenMill, period: Period, past: Iterable[Mapping[str, Any]], said: Sequence[Flag]
) -> str:
    """Digest of what a day's answer rests on: files about it, corrections, the mill file."""
    late = period.end + STANDING
    near, series = Period(period.start - TARES, late), Period(period.start, late)
    before = [p["inputs_digest"] for p in past]
    files = opened.store.ask(stored_cane.files_about, near, series)
    about = [f.text for f in said]
    # a bin that was not tipped is told once the tips have gone on for long enough, however late
    newest = opened.store.ask(stored_cane.newest, "tip")
    yard = timedelta(hours=agreed.receival_rules(opened.mill.settings).most_yard_hours)
    waited = [] if newest and newest > period.end + yard else ["bins are still waited for"]
    return digest([files, opened.mill.settings.text, _version(), before, FORM, about, *waited])


def _one_day(
    mill: Mill,
    records: CaneRecords,
    day: date,
    period: Period,
    past: Sequence[Mapping[str, Any]],
    mark: str,
    said: Sequence[Flag],
) -> tuple[CaneDayResult, dict[str, Any]] | None:
    rules = agreed.receival_rules(mill.settings)
    yard = timedelta(hours=rules.most_yard_hours)
    received = receival_of(records, period, yard, mill.settings)
    if not any(b.tip_time is not None for b in received.bins):
        return None
    juice = agreed.analysis_rules(mill.settings)
    notes = records.notes
    samples = {s.consignment: s for s in records.samples if s.consignment}
    here = {b.bin.consignment for b in received.bins}
    since = (day - STANDING).isoformat()
    earlier = earlier_of((p for p in past if p["date"] >= since), here)
    fibres = [f for f in records.fibres if f.time < period.end]
    sound = _sound(records.nir, juice)
    found = cane_day(
        received, notes, records.speeds, samples, fibres, sound,
        agreed.track_rules(mill.settings), juice, mill.settings.cane.rate, records.decisions,
        earlier, _last_of_day_before(past, day),
    )  # fmt: skip
    more, of_blocks = judged(found, records, past, day)
    for flag in records.decisions.left(said):
        more.setdefault(flag.consignment, []).append(flag)
    path, late = path_of(found, sound)
    answer = day_answer(
        day, mill.settings.mill.name, found, more, [*of_blocks, *late], path,
        lambda note: _supply(records, note.block, note.farm), mark,
    )  # fmt: skip
    return answer, {} if found.tracked is None else own_juice(found.tracked)


def _last_of_day_before(past: Sequence[Mapping[str, Any]], day: date) -> tuple[Bottled, ...]:
    near = bool(past) and past[-1]["date"] == (day - DAY).isoformat()
    return last_bottles_of(past[-1]) if near and past[-1].get("last_bottles") else ()


def _supply(records: CaneRecords, block: str, farm: str) -> dict[str, str]:
    """What the register, or else who cuts the farm, says of cane: charges may go by it."""
    of, cut = records.blocks.get(block), records.farms.get(farm)
    told = {} if cut is None else {"siding": cut.siding, "group": cut.group}
    if of is not None:
        told |= {name: value for name, value in (
            ("siding", of.siding), ("group", of.group), ("district", of.district),
            ("distance", of.distance_km)) if value}  # fmt: skip
    return told


def _sound(series: NirSeries | None, rules: AnalysisRules) -> NirSeries | None:
    """Near-infrared readings that first juice can have; the others are not readings."""
    if series is None:
        return None
    purity = series.pol / np.maximum(series.brix, 1e-9)
    good = (series.brix >= rules.brix_low) & (series.brix <= rules.brix_high)
    good &= (purity >= rules.purity_low - 0.05) & (purity <= rules.purity_high + 0.03)
    return NirSeries(series.times[good], series.brix[good], series.pol[good], series.fibre[good])
