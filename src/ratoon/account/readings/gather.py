"""From a period's records to readings of the plant: totals, means, analyses and levels.

Flows in the plant are means over the crushing hours. A total (t, m3, MWh) is divided by the
crushing seconds; a mean (t/h, MW) holds while its station ran and is spread from those hours to
the crushing hours; an analysis is a mean over its samples; a level is read at the period's ends.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta

from ratoon.account.mill import Mill
from ratoon.account.readings import levels
from ratoon.account.readings.combine import (
    Part,
    doubt,
    gaps,
    is_flow,
    spread_of,
    time_weights,
    without_twice,
)
from ratoon.account.readings.gathered import UNDOUBTED, Gathered, NoteKind, NotUsed, WhyNot
from ratoon.account.readings.own import LOST, lost_address
from ratoon.account.readings.rolled import stores_of
from ratoon.account.trust.drift import drift_of
from ratoon.base import units
from ratoon.base.addresses import AddressInfo
from ratoon.base.records import Period, Reading, Stop, kind_of_stop
from ratoon.plant.flowsheet import CRUSHING, EVAPORATING, PERIOD
from ratoon.settings.records import ReadingSettings

WIDEN_BELOW = 0.80
LEAVE_BELOW = 0.50
WHOLE = 0.995  # share of the time from which on a reading covers all of it
MOST_GAPS = 3
WEEKLY = timedelta(days=8)
MILLS = ("mills", "mill", "")


def stretches_stood(period: Period, stops: Iterable[Stop]) -> list[tuple[datetime, datetime]]:
    """The mills' stops inside a period, joined where they overlap, in order."""
    spans = sorted(
        (max(s.start, period.start), min(s.end, period.end))
        for s in stops
        if s.station.strip().lower() in MILLS
    )
    joined: list[tuple[datetime, datetime]] = []
    reached = period.start
    for begin, end in spans:
        begin = max(begin, reached)
        if end > begin:
            joined.append((begin, end))
            reached = end
    return joined


def gather(
    mill: Mill, period: Period, records: Iterable[Reading], stops: Sequence[Stop]
) -> Gathered:
    """Make a period's records ready.

    Parameters
    ----------
    records : stored readings whose time touches the period or stands shortly before it; `value`
        in the inside unit of the unit in which each was given.
    stops : stops that touch the period.

    Returns
    -------
    Gathered; with no crushing hours its `readings` hold levels only.
    """
    by_address: dict[str, list[Reading]] = {}
    for r in records:
        by_address.setdefault(r.address, []).append(r)
    stood = stretches_stood(period, stops)
    recorded = bool(stops) or _is_recorded(mill, by_address, period)
    lost = _lost_hours(mill, by_address, period)
    shown: list[NotUsed] = []
    if stood:
        rows = [r for a in lost for r in by_address[a]]
        why = "kept, not used: stops with clock times are there"
        shown = [NotUsed(r, WhyNot.TWICE, why) for r in rows]
        lost = {}
    crushing = max(period.seconds - sum((b - a).total_seconds() for a, b in stood)
                   - sum(lost.values()), 0.0)  # fmt: skip
    if ran := _touching(by_address.pop(CRUSHING, []), period):
        if stood:
            why = "kept, not used: stops with clock times are there"
            shown += [NotUsed(r, WhyNot.TWICE, why) for r in ran]
        else:
            told, twice = without_twice(ran)
            crushing, shown = min(sum(r.value for r in told), period.seconds), shown + twice
    evaporator = _evaporator_seconds(by_address.pop(EVAPORATING, []), period, crushing)
    out = Gathered(period, crushing, evaporator, stood=stood, shown=shown,
                   recorded=recorded)  # fmt: skip
    causes = {lost_address(cause): cause for cause in mill.settings.lost_time_causes}
    out.lost = {causes[a]: s / 3600.0 for a, s in lost.items()}
    others = [s for s in stops if kind_of_stop(s.cause) != "stop"]
    out.unavailable = sum((b - a).total_seconds() for a, b in stretches_stood(period, others))
    out.unavailable += sum(s for a, s in lost.items() if kind_of_stop(causes[a]) != "stop")
    out.constants = {
        CRUSHING: max(crushing, 1.0),
        EVAPORATING: max(evaporator, 1.0),
        PERIOD: period.seconds,
    }
    sent_away = mill.roles.named("sent away")
    held = {one.held for one in stores_of(mill)}  # an amount: it rolls from its surveys
    for address in sorted(by_address):
        info = mill.addresses.get(address)
        if info is None:
            continue
        rows = by_address[address]
        if info.kind in ("tank", "lost time") or address in held:
            continue
        if address in mill.plant.noted:
            why = "kept and shown; it carries no weight in a balance"
            out.keep(WhyNot.NOTED, why, *_touching(rows, period))
        elif info.level:
            levels.ends_of(mill, out, info, rows)
        elif address in sent_away:
            once, twice = without_twice(_touching(rows, period))
            out.shown += twice
            if once:  # the table has the rest: nothing was sent
                out.constants[address] = sum(r.value for r in once) / max(crushing, 1.0)
        elif crushing > 0.0:
            _figure(mill, out, info, rows)
        else:
            _without_cane(mill, out, info, rows)
    levels.tank_stocks(mill, out, by_address)
    if crushing > 0.0:
        levels.unread_stocks(mill, out)
    return out


def _is_recorded(mill: Mill, by_address: Mapping[str, list[Reading]], period: Period) -> bool:
    """Whether something of the period itself was read: no level, which its neighbours share."""
    return any(
        _touching(rows, period)
        for a, rows in by_address.items()
        if (info := mill.addresses.get(a)) is not None and info.kind != "tank" and not info.level
    )


def _lost_hours(
    mill: Mill, by_address: Mapping[str, list[Reading]], period: Period
) -> dict[str, float]:
    """Seconds lost to each cause, by address, where only hours were kept."""
    found = {a: sum(r.value for r in without_twice(_touching(rows, period))[0])
             for a, rows in by_address.items()
             if a.startswith(LOST) and a in mill.addresses}  # fmt: skip
    return {a: s for a, s in found.items() if s > 0.0}


def _touching(rows: Iterable[Reading], period: Period) -> list[Reading]:
    """Rows of the period: an instant inside it, or a stretch more than half inside it."""
    found = []
    for r in rows:
        if r.start == period.start and r.end == period.end:
            found.append(r)  # most readings: the whole mill day
            continue
        if r.start is None:
            continue
        if r.end is None:
            if period.start <= r.start < period.end:
                found.append(r)
        elif _overlap(r, period) >= 0.5:
            found.append(r)
    return sorted(found, key=lambda r: (r.start, r.end or r.start))


def _overlap(r: Reading, period: Period) -> float:
    assert r.start is not None and r.end is not None
    length = (r.end - r.start).total_seconds()
    shared = (min(r.end, period.end) - max(r.start, period.start)).total_seconds()
    return max(shared, 0.0) / length if length > 0 else 0.0


def _evaporator_seconds(rows: list[Reading], period: Period, crushing: float) -> float:
    total = sum(r.value for r in without_twice(_touching(rows, period))[0])
    return min(total, period.seconds) if total > 0 else crushing


def _figure(mill: Mill, out: Gathered, info: AddressInfo, rows: list[Reading]) -> None:
    """One address over the period: totals summed, means and analyses averaged over time."""
    setting = mill.settings.readings.get(info.address, ReadingSettings())
    mine, twice = without_twice(_touching(rows, out.period))
    out.shown += twice
    weekly = info.address in mill.roles.named("weekly analysis")
    if not mine and weekly:
        before = [r for r in rows if r.start and out.period.start - WEEKLY <= r.start]
        before = [r for r in before if r.start and r.start < out.period.end]
        mine = sorted(before, key=lambda r: r.start)[-1:]  # type: ignore[arg-type, return-value]
        if mine:
            out.note(NoteKind.WEEKLY, f"{info.name}: the week's analysis is used.")
    if not mine:
        return
    parts = []
    for row in mine:
        found = doubt(info, setting, row, row.unit)
        if found is None:
            out.keep(WhyNot.UNCERTAIN, UNDOUBTED, row)
            continue
        parts.append(Part(row, *found, row.sigma is not None))
    if not parts:
        return
    coverage = 1.0 if weekly else _coverage(out, setting, [p.row for p in parts])
    value, random, common = _combine(out, setting, parts, coverage)
    if coverage < LEAVE_BELOW:
        why = f"covers {100 * coverage:.0f} % of the period: not used"
        out.keep(WhyNot.COVERAGE, why, *(part.row for part in parts))
        out.note(NoteKind.COVERAGE, f"{info.name}: {why.replace(': ', ', ')}.")
        return
    said = ""
    if coverage < WHOLE:
        share = f"{100 * coverage:.0f} % of the period"
        said = f"{info.name}: covers {share}{_missing(mill, out, parts)}"
    if coverage < WIDEN_BELOW:
        random, common = random / coverage, common / coverage
        out.note(NoteKind.COVERAGE, f"{said}; its uncertainty is widened.")
    elif coverage < WHOLE:
        out.note(NoteKind.COVERAGE, f"{said}; the rest is taken to be like it.")
    common = (common**2 + drift_of(mill, info, setting, value, out.period) ** 2) ** 0.5
    first = parts[0].row
    out.readings.append(
        Reading(
            info.address, value, random, common, setting.instrument, "measured", first.start,
            parts[-1].row.end, first.unit, first.given, first.source, first.note,
            info.check or f"Repeat or check {info.name}.",
        )
    )  # fmt: skip
    out.origins[info.address] = [p.row for p in parts]


def _missing(mill: Mill, out: Gathered, parts: list[Part]) -> str:
    """When nothing was read, in the mill's clock; empty where that would be a long list."""
    clock = mill.calendar.to_local
    open_ = gaps([p.row for p in parts], out.period)
    if not 0 < len(open_) <= MOST_GAPS:
        return ""
    spans = [f"{clock(a):%H:%M} to {clock(b):%H:%M}" for a, b in open_]
    return ", nothing from " + " and ".join(spans)


def _combine(
    out: Gathered,
    setting: ReadingSettings,
    parts: list[Part],
    coverage: float,
) -> tuple[float, float, float]:
    """Value and uncertainty of the period from its rows, flows as means over crushing hours."""
    rows = [p.row for p in parts]
    if units.is_total(rows[0].unit):
        # A total of part of the time is the same flow over less of it: never a smaller flow.
        over = out.crushing * max(coverage, 1e-9)
        value = sum(r.value for r in rows) / over
        return value, *spread_of(parts, [1.0 / over] * len(rows), setting.samples)
    weights = time_weights(rows)
    value = sum(w * r.value for w, r in zip(weights, rows))
    random, common = spread_of(parts, weights, setting.samples)
    if is_flow(rows[0].unit):
        spread = out.seconds(setting.hours) / out.crushing
        value, random, common = value * spread, random * spread, common * spread
    return value, random, common


def _coverage(out: Gathered, setting: ReadingSettings, rows: list[Reading]) -> float:
    """Share of the station's own time that the rows cover; instants are samples and cover it."""
    if len(rows) == 1 and rows[0].start == out.period.start and rows[0].end == out.period.end:
        return 1.0
    spans = [(r.start, r.end) for r in rows if r.start and r.end]
    if len(spans) < len(rows):
        return 1.0
    covered = 0.0
    reached = out.period.start
    for begin, end in sorted(spans):
        begin, end = max(begin, reached), min(end, out.period.end)
        if end > begin:
            if setting.hours == "period":
                covered += (end - begin).total_seconds()
            else:
                covered += out.crushed_within(begin, end)
            reached = end
    whole = out.whole if setting.hours == "period" else out.crushing
    return min(covered / whole, 1.0) if whole > 0 else 1.0


def _without_cane(mill: Mill, out: Gathered, info: AddressInfo, rows: list[Reading]) -> None:
    """A day without cane: nothing is reconciled, but what flowed counts to date."""
    setting = mill.settings.readings.get(info.address, ReadingSettings())
    mine, twice = without_twice(_touching(rows, out.period))
    out.shown += twice
    why = "no cane was crushed: kept, and counted to date where it flows"
    out.keep(WhyNot.NO_CANE, why, *mine)
    for row in mine:
        found = doubt(info, setting, row, row.unit)
        total = units.is_total(row.unit)
        flows = is_flow(row.unit)
        if found is None or row.end is None or row.start is None or not (total or flows):
            continue
        if flows and setting.hours != "period":
            continue  # a mean while a station ran that did not run
        seconds = 1.0 if total else (row.end - row.start).total_seconds()
        amount, random, common = out.amounts.get(info.address, (0.0, 0.0, 0.0))
        out.amounts[info.address] = (
            amount + row.value * seconds,
            (random**2 + (found[0] * seconds) ** 2) ** 0.5,
            common + found[1] * seconds,
        )
