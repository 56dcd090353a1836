"""What the yard of a mill day rests on, read from the store once.

From it alone the plan is made (`ratoon.plans.yard.plan`), so that a day's morning can be planned
again for another roster without reading anything.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from ratoon.account.readings.gather import MILLS
from ratoon.base.records import Period
from ratoon.cane.harvest import FarmHarvest
from ratoon.cane.records import Block
from ratoon.cane.supply import DaySums
from ratoon.cane.yard import Load, Yard, follow, turns
from ratoon.jobs.cane.load import CaneRecords, corrected_records
from ratoon.jobs.cane.season import OF_DAY, SumsOfDays, days_in_short
from ratoon.jobs.yard.records import Records
from ratoon.plans.yard.allotment import Supplier
from ratoon.plans.yard.records import Basis, FullBin, PastHour, Shift
from ratoon.store import Store
from ratoon.store.answers import periods_with_result
from ratoon.store.cane import kept as stored_cane
from ratoon.store.cane.moves import any_in, moves, weighed
from ratoon.store.entries import stops_in

if TYPE_CHECKING:
    from ratoon.base.clock import Calendar
    from ratoon.jobs.mills import OpenMill
    from ratoon.settings import Settings

BACK = timedelta(days=4)
"""How far back bins are followed: a fleet goes round in less."""
WEEK = timedelta(days=7)
LATE = 1800.0  # s: records that end sooner than this before the day's end are the day's whole
LEAST_RUN = 1200.0  # s of an hour in which the mills ran, for it to have a rate


def records_of(
    opened: OpenMill, first: date, last: date, cane: CaneRecords | None = None
) -> Records:
    """What the yards of some mill days rest on, read at once but for the `cane` that is."""
    period = opened.mill.calendar.period
    return Records(opened.store, Period(period(first).start - BACK, period(last).end), cane)


UNKNOWN_SHARE = (1.0, 0.15, 0.10)
"""Of rostered cane that comes, where no day tells; and its spread between groups and days."""


def given_of(
    opened: OpenMill, day: date, known: SumsOfDays | None = None, among: Records | None = None
) -> Basis | None:
    """All that the yard's plan of a mill day rests on; None when no bin was weighed till then.

    The moment is the end of the mill day, or the last record of it where records end sooner.
    `among` are records of more days, the day's among them, where they were read already.
    """
    store, settings, calendar = opened.store, opened.mill.settings, opened.mill.calendar
    period = calendar.period(day)
    read = (among or records_of(opened, day, day)).within(Period(period.start - BACK, period.end))
    if not read.loads:
        return None
    now = _now(read, period)
    sums = [d for d in days_in_short(store, None, known) if d.date <= day.isoformat()]
    season = calendar.first_of_season(day).isoformat()
    sums = [d for d in sums if d.date >= season]
    stood = 3600.0 * settings.receival.most_yard_hours
    yard = follow(read.loads, read.tips, [(t, at) for t, _, at in read.sent], now,
                  settings.yard.fleet, stood, _usual_kg(settings))  # fmt: skip
    start = period.start.timestamp()
    marks = [start + 3600.0 * k for k in range(round(period.hours)) if start + 3600.0 * k <= now]
    rate, sigma, rates = _rate(yard, store, now, settings)
    rosters = _rosters(store, datetime.fromtimestamp(now, UTC), calendar, day)
    share, share_sigma, share_common = _came_of_rostered(store, sums[-7:], read.farms, calendar)
    on_way, leads = read.on_the_way(now, yard.payload)
    fresh, unmade = _as_weighed(opened, day, sums, read)
    suppliers = _suppliers(read.blocks, sums, fresh, read.farms)
    return Basis(
        date=day.isoformat(), now=now,
        hours=tuple(PastHour(h.at, h.full, h.empty, h.out, h.tonnes, h.oldest_h,
                             read.way_at(h.at, yard.payload))
                    for h in yard.hours([*marks, now])),
        fleet=yard.fleet, payload_t=yard.payload / 1000.0,
        weighed=any(not np.isnan(x.kg) for x in read.loads), unread=yard.unread,
        rate=rate / 1000.0, rate_sigma=sigma / 1000.0, rates=rates,
        standing=tuple(_full_bin(x, yard.payload) for x in yard.standing),
        empties=tuple(yard.empties) if yard.sent_known else None,
        on_way=on_way, leads=leads, rosters=rosters,
        share=share, share_sigma=share_sigma, share_common=share_common,
        turns=tuple(turns((x for x in read.loads if x.weighed <= now), read.tips, read.sent)),
        suppliers=suppliers, unmade=unmade,
        made=len(store.ask(periods_with_result, OF_DAY)),
        without=tuple(
            name for name, known in (
                ("tips", read.tips), ("consignments", read.notes), ("rosters", rosters),
                ("harvest", read.farms), ("blocks", any(s.estimate > 0.0 for s in suppliers)),
            ) if not known
        ),
        travel=read.travel, sidings=read.sidings_of_growers(),
    )  # fmt: skip


def _usual_kg(settings: Settings) -> float:
    """Middle of the net weights that the mill file lets a bin have."""
    return float(settings.receival.least_net_kg + settings.receival.most_net_kg) / 2.0


def _full_bin(x: Load, payload: float) -> FullBin:
    return FullBin(x.tag, x.consignment, x.grower, x.siding,
                   (payload if np.isnan(x.kg) else x.kg) / 1000.0, x.burnt,
                   None if np.isnan(x.cut) else x.cut, x.weighed)  # fmt: skip


def _now(read: Records, period: Period) -> float:
    """The end of the mill day; the newest weighing or tip where nothing stands near the end."""
    newest = max([x.weighed for x in read.loads] + [at for _, at in read.tips])
    end = period.end.timestamp()
    return end if newest > end - LATE or newest < period.start.timestamp() else newest


def _rate(
    yard: Yard, store: Store, now: float, settings: Settings
) -> tuple[float, float, tuple[float | None, ...]]:
    """Rate of the last hour in which the mills ran, its spread from hour to hour, and each hour's.

    [kg/h]; hours before now, the last first; None for an hour in which the mills stood.
    """
    begin = now - 24 * 3600.0
    taken = np.zeros(24)
    crushed = (begin < yard.gone) & (yard.gone <= now)
    hour = np.minimum((now - yard.gone[crushed]) // 3600.0, 23.0).astype(int)
    np.add.at(taken, hour, yard.kilograms[crushed])
    ran = np.full(24, 3600.0)
    within = Period(datetime.fromtimestamp(begin, UTC), datetime.fromtimestamp(now, UTC))
    for stop in store.ask(stops_in, within):
        if stop.station not in MILLS:
            continue
        for k in range(24):
            end = now - 3600.0 * k
            a, b = max(stop.start.timestamp(), end - 3600.0), min(stop.end.timestamp(), end)
            ran[k] -= max(b - a, 0.0)
    sound = ran >= LEAST_RUN
    rates = np.where(sound, taken / np.maximum(ran, 1.0) * 3600.0, np.nan)
    known = rates[sound & (rates > 0.0)]
    usual = 3600.0 * settings.cane.rate  # kg/s to kg/h
    if not known.size:
        return usual, 0.1 * usual, ()
    spread = 1.4826 * float(np.median(np.abs(known - np.median(known)))) if known.size > 3 else 0.0
    shown = tuple(None if np.isnan(r) else round(float(r) / 1000.0, 1) for r in rates)
    return float(known[0]), max(spread, 0.02 * float(known[0])), shown


def _rosters(store: Store, now: datetime, calendar: Calendar, day: date) -> tuple[Shift, ...]:
    """Shifts that end after now, to the end of the seven mill days that follow."""
    last = calendar.period(day + WEEK).end
    rows = store.ask(moves, "roster", Period(now - timedelta(days=2), last))
    return tuple(s for r in rows if (s := _shift(r.content)).end > now.timestamp())


def _shift(content: str) -> Shift:
    c = json.loads(content)
    return Shift(c["group"], datetime.fromisoformat(c["start"]).timestamp(),
                 datetime.fromisoformat(c["end"]).timestamp(), c["rate"])  # fmt: skip


def _as_weighed(
    opened: OpenMill, day: date, sums: Iterable[DaySums], read: Records
) -> tuple[dict[tuple[str, str], float], int]:
    """Cane [t] by grower and farm of the season's days whose cane nobody worked out; their number.

    It is what the weighbridge weighed on those days; a bin without both weights counts nothing.
    """
    store, calendar = opened.store, opened.mill.calendar
    made, first = {d.date for d in sums}, calendar.first_of_season(day)
    days = (first + timedelta(days=n) for n in range((day - first).days + 1))
    left = [calendar.period(d) for d in days if d.isoformat() not in made]
    left = [p for p in left if store.ask(any_in, "tip", p) and store.ask(any_in, "bin", p)]
    found: dict[tuple[str, str], float] = defaultdict(float)
    if not left:
        return found, 0
    notes = read.notes_of(store, Period(left[0].start, left[-1].end))
    corrected = [key for kind, key in read.fixed if kind == "bin"]
    bins = corrected_records(store, store.ask(stored_cane.records, "bin", keys=corrected))
    for period in left:
        cane = [*store.ask(weighed, period, corrected).items()]
        cane += [(b.consignment, b.gross_kg - b.tare_kg) for b in bins
                 if period.start <= b.gross_time < period.end and b.gross_kg and b.tare_kg
                 and b.gross_kg > b.tare_kg]  # fmt: skip
        for note, kilograms in ((notes.get(name), kg) for name, kg in cane):
            if note is not None:
                found[note.grower, note.farm] += kilograms / 1000.0
    return found, len(left)


def _came_of_rostered(
    store: Store,
    days: Sequence[DaySums],
    farms: Mapping[str, FarmHarvest],
    calendar: Calendar,
) -> tuple[float, float, float]:
    """Cane that came of cane rostered over the last days; its spread between groups and days."""
    came: dict[str, float] = defaultdict(float)
    rostered: dict[str, float] = defaultdict(float)
    daily = []
    if not days:
        return UNKNOWN_SHARE
    first, last = (calendar.period(date.fromisoformat(days[k].date)) for k in (0, -1))
    shifts_of = defaultdict[str, list[Shift]](list)
    for row in store.ask(moves, "roster", Period(first.start, last.end)):
        shifts_of[calendar.day_of(row.at).isoformat()].append(_shift(row.content))
    for day in days:
        shifts = shifts_of[day.date]
        before, planned = sum(came.values()), 0.0
        for shift in shifts:
            tonnes = (shift.end - shift.start) / 3600.0 * shift.rate
            rostered[shift.group] += tonnes
            planned += tonnes
        if not planned:
            continue
        for _, farm, _, _, _, sums in day.groups:
            if farm in farms:
                came[farms[farm].group] += sums.kilograms / 1000.0
        daily.append((sum(came.values()) - before) / planned)
    whole = sum(rostered.values())
    if not whole or not any(came.values()):
        return UNKNOWN_SHARE
    shares = [came[g] / t for g, t in rostered.items() if t > 0.0]
    spread = float(np.std(shares)) if len(shares) > 2 else 0.15
    common = float(np.std(daily)) if len(daily) > 2 else 0.10
    share = sum(came[g] for g in rostered) / whole
    return share, min(max(spread, 0.05), 1.0), min(max(common, 0.05), 1.0)


def _suppliers(
    blocks: Iterable[Block], sums: Iterable[DaySums],
    fresh: Mapping[tuple[str, str], float], farms: Mapping[str, FarmHarvest],
) -> tuple[Supplier, ...]:  # fmt: skip
    """Estimate, delivered and left [t] of each grower in each group; "" is no group."""
    found: dict[tuple[str, str], list[float]] = defaultdict(lambda: [0.0, 0.0])

    def place(grower: str, farm: str) -> list[float]:
        return found[farms[farm].group if farm in farms else "", grower]

    for block in blocks:
        place(block.grower, block.farm)[0] += block.estimate_kg / 1000.0
    for day in sums:
        for grower, farm, _, _, _, s in day.groups:
            if grower:
                place(grower, farm)[1] += s.kilograms / 1000.0
    for (grower, farm), tonnes in fresh.items():
        if grower:
            place(grower, farm)[1] += tonnes
    return tuple(Supplier(group, grower, e, d, max(e - d, 0.0))
                 for (group, grower), (e, d) in sorted(found.items()))  # fmt: skip
