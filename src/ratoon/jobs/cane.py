"""The cane of a mill day: loaded, tracked, analysed, judged against its history, kept."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from ratoon.base.errors import BadInput
from ratoon.base.records import Period
from ratoon.cane import agreed
from ratoon.cane.day import CaneDay, cane_day
from ratoon.cane.history import History, Parcel, judge_parcels
from ratoon.cane.receival import Received, receive
from ratoon.cane.records import Flag, NirSeries
from ratoon.jobs import mills
from ratoon.jobs.cane_answer import day_answer
from ratoon.jobs.cane_load import TARES, CaneRecords, load_cane
from ratoon.store import Store
from ratoon.store.digest import digest

KIND = "cane"
HISTORY = timedelta(days=35)
Progress = Callable[[str], None]


def cane_of_day(mill_dir: Path, day: date, again: bool = False) -> dict[str, Any]:
    """The cane of a mill day: the kept answer, made anew when its records or rules changed.

    Raises
    ------
    BadInput : no cane was tipped that day, or the mill file says nothing of its carriers.
    """
    mill = mills.mill_of(mill_dir)
    with mills.store_of(mill_dir) as store:
        found = answers_of(mill, store, [day], again)
    if not found:
        raise BadInput("no bin was tipped on this mill day", where=day.isoformat(),
                       todo="`ratoon cane --list` lists the days")  # fmt: skip
    return found[0]


def cane_of_all(
    mill_dir: Path, again: bool = False, progress: Progress | None = None
) -> list[dict[str, Any]]:
    """The cane of every mill day with tips, oldest first."""
    mill = mills.mill_of(mill_dir)
    with mills.store_of(mill_dir) as store:
        return answers_of(mill, store, days_with_cane(mill, store), again, progress)


def kept_cane(mill_dir: Path, day: date) -> dict[str, Any] | None:
    """The newest kept answer of a day, without making it; None when there is none."""
    mill = mills.mill_of(mill_dir)
    with mills.store_of(mill_dir) as store:
        kept = store.newest_result(KIND, mill.calendar.period(day))
    return None if kept is None else dict(kept.answer)


def days_with_cane(mill: Any, store: Store) -> list[date]:
    """Mill days on which a bin was tipped."""
    return sorted({mill.calendar.day_of(at) for at in store.cane_hours("tip")})


def listed_days(mill_dir: Path) -> list[date]:
    """Mill days with tips, for ``ratoon cane --list``."""
    mill = mills.mill_of(mill_dir)
    with mills.store_of(mill_dir) as store:
        return days_with_cane(mill, store)


def answers_of(
    mill: Any,
    store: Store,
    days: Sequence[date],
    again: bool = False,
    progress: Progress | None = None,
) -> list[dict[str, Any]]:
    """Answers of days in order; each one's history is of the days before it."""
    if not days:
        return []
    first = mill.calendar.period(days[0])
    kept_before = store.newest_results(KIND, Period(first.start - HISTORY, first.start))
    past = [r.answer for r in kept_before if r.period.end <= first.start]
    last = mill.calendar.period(days[-1])
    whole: list[CaneRecords] = []

    def records() -> CaneRecords:
        if not whole:  # read once, and only when some day has to be made
            yard = timedelta(hours=agreed.receival_rules(mill.settings).most_yard_hours)
            whole.append(load_cane(store, first.start, last.end, yard))
        return whole[0]

    out: list[dict[str, Any]] = []
    for day in days:
        period = mill.calendar.period(day)
        mark = _mark(mill, store, period, past)
        kept = None if again else store.newest_result(KIND, period)
        if kept is not None and kept.inputs_digest == mark:
            answer = kept.answer
        else:
            found = _one_day(mill, records().around(period.start, period.end), day, period, past)
            if found is None:
                continue
            answer = found | {"inputs_digest": mark}
            store.add_result(KIND, period, mark, {"program": _version()}, answer)
        if progress:
            progress(f"cane of {day}: {len(answer['consignments'])} consignments")
        out.append(answer)
        past = [p for p in past if p["date"] >= (day - HISTORY).isoformat()] + [answer]
    return out


def _version() -> str:
    from ratoon import __version__

    return str(__version__)


def _mark(mill: Any, store: Store, period: Period, past: Iterable[Mapping[str, Any]]) -> str:
    """Digest of what a day's answer rests on: files about it, corrections, the mill file."""
    late = period.end + timedelta(hours=36)
    near, series = Period(period.start - TARES, late), Period(period.start, late)
    before = [p["inputs_digest"] for p in past]
    return digest([store.cane_files(near, series), mill.settings.text, _version(), before])


def _one_day(
    mill: Any,
    records: CaneRecords,
    day: date,
    period: Period,
    past: Sequence[Mapping[str, Any]],
) -> dict[str, Any] | None:
    rules = agreed.receival_rules(mill.settings)
    yard = timedelta(hours=rules.most_yard_hours)
    received = receival_of(records, period, yard, mill.settings)
    if not any(b.tip_time is not None for b in received.bins):
        return None
    juice = agreed.analysis_rules(mill.settings)
    notes = records.notes
    samples = {s.consignment: s for s in records.samples if s.consignment}
    fibres = [f for f in records.fibres if f.time < period.end]
    found = cane_day(
        received, notes, records.speeds, samples, fibres,
        _sound(records.nir, juice), agreed.track_rules(mill.settings), juice,
        mill.settings.cane.rate, records.cleared,
    )  # fmt: skip
    more = _judged(found, records, past, day)
    answer: dict[str, Any] = day_answer(day, mill.settings.mill.name, found, more)
    return answer


def receival_of(records: CaneRecords, period: Period, yard: timedelta, settings: Any) -> Received:
    """Bins tipped in a period, and those weighed in it that should have been tipped by now."""
    bins = records.bins_in(period.start - yard, period.end + yard)
    tips = records.tips_in(period.start, period.end + yard)
    names = {b.consignment for b in bins}
    notes = [n for n in records.notes.values() if n.consignment in names]
    everything = receive(
        bins, tips, notes, records.blocks, agreed.receival_rules(settings),
        records.tares_before(period.start), records.cleared,
    )  # fmt: skip
    newest = records.newest_tip or period.start

    def mine(tip: Any, weighed: Any) -> bool:
        if tip is not None:
            return bool(period.start <= tip < period.end)
        return bool(period.start <= weighed < period.end and weighed + yard < newest)

    kept = tuple(b for b in everything.bins if mine(b.tip_time, b.bin.gross_time))
    own = {b.bin.consignment for b in kept}
    at = {f"{t.time:%Y-%m-%d %H:%M:%S} UTC" for t in records.tips_in(period.start, period.end)}
    flags = tuple(
        f
        for f in everything.flags
        if (f.consignment in own if f.consignment else any(text in f.text for text in at))
    )
    return Received(kept, flags)


def _sound(series: NirSeries | None, rules: Any) -> NirSeries | None:
    """Near-infrared readings that first juice can have; the others are not readings."""
    if series is None:
        return None
    purity = series.pol / np.maximum(series.brix, 1e-9)
    good = (series.brix >= rules.brix_low) & (series.brix <= rules.brix_high)
    good &= (purity >= rules.purity_low - 0.05) & (purity <= rules.purity_high + 0.03)
    return NirSeries(series.times[good], series.brix[good], series.pol[good], series.fibre[good])


def parcels_of(answer: Mapping[str, Any]) -> list[Parcel]:
    """A day's consignments as its history keeps them: CCS against the day's mean."""
    mean = answer["totals"]["ccs"]
    number = date.fromisoformat(answer["date"]).toordinal()
    return [
        Parcel(c["consignment"], c["block"], c["variety"], number,
               (c["ccs"]["value"] - mean) / 100.0, c["ccs"]["sigma"] / 100.0)
        for c in answer["consignments"]
        if c["ccs"] is not None and c["individual"] and mean is not None and c["block"]
    ]  # fmt: skip


def _judged(
    found: CaneDay, records: CaneRecords, past: Iterable[Mapping[str, Any]], day: date
) -> dict[str, list[Flag]]:
    """Flags of the day's parcels against the history of their blocks, by consignment."""
    mean = found.totals.ccs
    before = [p for answer in past for p in parcels_of(answer)]
    if mean is None or not before:
        return {}
    today = [
        Parcel(c.note.consignment, c.note.block, c.note.variety, day.toordinal(),
               c.analysis.ccs - mean, c.analysis.sigma_ccs)
        for c in found.consignments
        if c.analysis is not None and c.analysis.individual and c.note.block
    ]  # fmt: skip
    swapped = frozenset(
        f.consignment for f in found.flags if f.kind == "sample" or "bottle" in f.code
    )
    flags = judge_parcels(today, records.notes, History(before, records.blocks), swapped)
    out: dict[str, list[Flag]] = defaultdict(list)
    for flag in flags:
        if (flag.subject, flag.code) not in records.cleared:
            out[flag.consignment or flag.subject].append(flag)
    return out
