"""Cane to date: equity of supply, farms, blocks and varieties side by side, held cane, instruments.

Beside each day's answer stands a short one of its sums, so that a season is read at once; both are
written together or not at all.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from ratoon.base.records import Period
from ratoon.cane.bias import cusum
from ratoon.cane.comparison import equity
from ratoon.cane.sums import Sums
from ratoon.cane.unmix import QUANTITIES
from ratoon.jobs.cane.answer import pay_marks
from ratoon.jobs.cane.files import record_of
from ratoon.laboratory.first_juice import POL_ALLOWANCE, pol_in_cane
from ratoon.store import Store
from ratoon.store.answers import newest_result, newest_results, periods_with_result
from ratoon.store.cane import kept as stored_cane

SumsOfDays = Mapping[Period, Mapping[str, Any]]
KIND = "cane day sums"
OF_DAY = "cane day"
LABELS = ("grower", "farm", "block", "variety", "harvest")
GROUPS = {"farms": "farm", "blocks": "block", "varieties": "variety", "harvest": "harvest"}


def sums_of_day(answer: Mapping[str, Any]) -> dict[str, Any]:
    """A day in short: sums by grower, farm, block, variety and harvest; held cane; instruments."""
    groups: dict[tuple[str, ...], Sums] = defaultdict(Sums)
    for c in answer["consignments"]:
        one = Sums(1, c["kilograms"])
        a = c["analysis"]
        if a is not None and c["kilograms"]:
            one.with_analysis(c["kilograms"], a["ccs"], a["sigma_ccs"], a["common_ccs"], a["fibre"])
        if c["age_hours"] is not None:
            one.with_age(c["kilograms"], c["age_hours"])
        groups[tuple(c[name] for name in LABELS)].add(one)
    held = [
        {"consignment": c["consignment"], "grower": c["grower"], "kilograms": c["kilograms"],
         "held_kg": c["held_kg"], "age_hours": c["age_hours"],
         "bins": c["held_bins"], "source": c["source"], "date": answer["date"],
         "note": {name: c[name] for name in ("grower", "farm", "block", "variety")},
         "whole": [{"code": f["code"], "text": f["text"], "exchange": f["exchange"]}
                   for f in c["flags"] if f["severity"] == "hold" and f["kind"] != "bin"]}
        for c in answer["consignments"] if c["waiting_bins"]
    ]  # fmt: skip
    return {
        "date": answer["date"], "held": held,
        "groups": [[*key, sums.as_json()] for key, sums in sorted(groups.items())],
        "near_infrared": answer.get("near_infrared"), "path": answer.get("path"),
        "received_kg": answer["totals"]["kilograms"] + answer["totals"]["estimated_kg"],
        "pol_in_cane": _pol_in_cane(answer["consignments"]), "pay": pay_marks(answer),
        "weighed": {name: answer["totals"][f"{name}_kg"]
                    for name in ("weighed", "payable", "held", "refused")},
    }  # fmt: skip


def _pol_in_cane(consignments: Iterable[Mapping[str, Any]]) -> float | None:
    """Mean pol in cane of the parcels by mass [kg/kg], by the first-juice convention."""
    mass = total = 0.0
    for c in consignments:
        a = c["analysis"]
        if a is not None:
            mass += c["kilograms"]
            total += c["kilograms"] * float(pol_in_cane(a["pol"], a["fibre"], POL_ALLOWANCE))
    return total / mass if mass else None


def newest_sums(store: Store, within: Period | None = None) -> SumsOfDays:
    """The newest sums of each kept day."""
    return {r.period: r.answer for r in store.ask(newest_results, KIND, within)}


def days_in_short(
    store: Store, within: Period | None = None, known: SumsOfDays | None = None
) -> list[dict[str, Any]]:
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
            out.append(sums_of_day(full.answer))
        else:
            out.append(dict(kept))
    return out


def supply_of(
    store: Store, until: date | None = None, known: SumsOfDays | None = None
) -> dict[str, Any]:
    """Shares of estimate delivered against the district's, and cane by farm, block and variety.

    Returns
    -------
    Masses in kilograms, shares as fractions, CCS and fibre in per cent, ages in hours.
    """
    days = [
        d
        for d in days_in_short(store, None, known)
        if until is None or d["date"] <= until.isoformat()
    ]
    blocks = [record_of(r) for r in store.ask(stored_cane.records, "block")]
    delivered: dict[str, int] = defaultdict(int)
    for day in days:
        for grower, _, _, _, _, sums in day["groups"]:
            if grower:
                delivered[grower] += sums["kilograms"]
    shares = equity(blocks, delivered)
    last = days[-1]["date"] if days else ""
    week = [d for d in days if last and d["date"] > str(date.fromisoformat(last) - _WEEK)]
    return {
        "until": last, "days": len(days),
        "district": shares[0].district if shares else None,
        "equity": [
            {"grower": s.grower, "estimate_kg": s.estimate_kg, "delivered_kg": s.delivered_kg,
             "share": s.share, "ahead_kg": s.ahead_kg} for s in shares
        ],
        "to_date": {name: grouped(days, label) for name, label in GROUPS.items()},
        "week": {name: grouped(week, label) for name, label in GROUPS.items()},
    }  # fmt: skip


_WEEK = timedelta(days=7)


def grouped(days: Iterable[Mapping[str, Any]], label: str) -> list[dict[str, Any]]:
    """Cane of some days by one label of its notes, heaviest first."""
    place, by = LABELS.index(label), defaultdict[str, Sums](Sums)
    for day in days:
        for row in day["groups"]:
            by[row[place] or "not noted"].add(Sums.of_json(row[-1]))
    found = [_told(name, sums) for name, sums in by.items()]
    return sorted(found, key=lambda g: (-g["kilograms"], g["name"]))


def _told(name: str, sums: Sums) -> dict[str, Any]:
    def percent(value: float | None) -> float | None:
        return None if value is None else 100.0 * value

    return {
        "name": name, "consignments": sums.consignments, "kilograms": sums.kilograms,
        "ccs": percent(sums.mean_ccs), "sigma_ccs": percent(sums.sigma_ccs),
        "fibre": percent(sums.mean_fibre), "age_hours": sums.age_hours,
        "oldest_hours": sums.oldest if sums.aged else None,
    }  # fmt: skip


def held_of(store: Store, known: SumsOfDays | None = None) -> list[dict[str, Any]]:
    """Held cane of every kept day, newest day first."""
    return [one for day in reversed(days_in_short(store, None, known)) for one in day["held"]]


def instruments_of(days: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Day by day: laboratory less near-infrared with its running sum, and the path's lag.

    The running sum is the usual two-sided one in standard deviations of the days, by constituent.
    """
    told = [d for d in days if d["near_infrared"]]
    still = {"value": 0.0}  # days that an older program kept have no fibre
    runs: dict[str, list[tuple[float, float]]] = {
        name: cusum([d["near_infrared"].get(name, still)["value"] for d in told])
        for name in QUANTITIES
    }
    return [
        {"date": d["date"], "near_infrared": d["near_infrared"], "path": d["path"],
         **{f"run_{name}": {"high": run[i][0], "low": run[i][1]} for name, run in runs.items()}}
        for i, d in enumerate(told)
    ]  # fmt: skip
