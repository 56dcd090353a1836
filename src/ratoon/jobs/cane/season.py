"""Days of cane in short, kept beside each day's answer: written together or not at all."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date

from ratoon.base.as_json import from_json
from ratoon.base.records import Period
from ratoon.cane.day_result import CaneDayResult, ConsignmentResult
from ratoon.cane.sums import Sums
from ratoon.cane.supply import DaySums, HeldCane, HeldReason, SupplyToDate, supply_to_date
from ratoon.jobs.cane.answer import pay_marks
from ratoon.jobs.cane.files import record_of
from ratoon.laboratory.first_juice import POL_ALLOWANCE, pol_in_cane
from ratoon.store import Store
from ratoon.store.answers import newest_result, newest_results, periods_with_result
from ratoon.store.cane import kept as stored_cane

SumsOfDays = Mapping[Period, DaySums]
KIND = "cane day sums"
OF_DAY = "cane day"


def sums_of_day(day: CaneDayResult) -> DaySums:
    """A day in short: sums by grower, farm, block, variety and harvest; held cane; instruments."""
    groups: dict[tuple[str, str, str, str, str], Sums] = defaultdict(Sums)
    for c in day.consignments:
        one, a = Sums(1, c.kilograms), c.analysis
        if a is not None and c.kilograms:
            one.with_analysis(c.kilograms, a.ccs, a.sigma_ccs, a.common_ccs, a.fibre)
        if c.age_hours is not None:
            one.with_age(c.kilograms, c.age_hours)
        groups[c.grower, c.farm, c.block, c.variety, c.harvest].add(one)
    held = tuple(
        HeldCane(
            c.consignment, c.grower, c.kilograms, c.held_kg, c.age_hours, c.held_bins, c.source,
            day.date, {"grower": c.grower, "farm": c.farm, "block": c.block, "variety": c.variety},
            tuple(HeldReason(f.code, f.text, f.exchange) for f in c.flags
                  if f.severity == "hold" and f.kind != "bin"),
        )
        for c in day.consignments if c.waiting_bins
    )  # fmt: skip
    t = day.totals
    return DaySums(
        day.date, tuple((*key, groups[key]) for key in sorted(groups)), held, day.near_infrared,
        day.path, t.kilograms + t.estimated_kg, _pol_in_cane(day.consignments), pay_marks(day),
        {"weighed": t.weighed_kg, "payable": t.payable_kg, "held": t.held_kg,
         "refused": t.refused_kg},
    )  # fmt: skip


def _pol_in_cane(consignments: Iterable[ConsignmentResult]) -> float | None:
    """Mean pol in cane of the parcels by mass [kg/kg], by the first-juice convention."""
    mass = total = 0.0
    for c in consignments:
        a = c.analysis
        if a is not None:
            mass += c.kilograms
            total += c.kilograms * float(pol_in_cane(a.pol, a.fibre, POL_ALLOWANCE))
    return total / mass if mass else None


def newest_sums(store: Store, within: Period | None = None) -> SumsOfDays:
    """The newest sums of each kept day."""
    kept = store.ask(newest_results, KIND, within)
    return {r.period: from_json(DaySums, r.answer) for r in kept}


def days_in_short(
    store: Store, within: Period | None = None, known: SumsOfDays | None = None
) -> list[DaySums]:
    """Each day's sums, oldest first; those of a day kept without them are made on the way.

    `known` are the newest sums where they are at hand; they are not changed.
    """
    if known is None:
        known = newest_sums(store, within)
    out = []
    for period in store.ask(periods_with_result, OF_DAY):
        if within is not None and not (within.start <= period.start and period.end <= within.end):
            continue
        kept = known.get(period)
        if kept is None:
            full = store.ask(newest_result, OF_DAY, period)
            assert full is not None
            kept = sums_of_day(from_json(CaneDayResult, full.answer))
        out.append(kept)
    return out


def supply_of(
    store: Store, until: date | None = None, known: SumsOfDays | None = None
) -> SupplyToDate:
    """Supply of the kept days, to one of them where it is named."""
    days = [d for d in days_in_short(store, None, known)
            if until is None or d.date <= until.isoformat()]  # fmt: skip
    return supply_to_date(days, [record_of(r) for r in store.ask(stored_cane.records, "block")])


def held_of(store: Store, known: SumsOfDays | None = None) -> list[HeldCane]:
    """Held cane of every kept day, newest day first."""
    return [one for day in reversed(days_in_short(store, None, known)) for one in day.held]
