"""The path of a bin or a consignment: note, weighings, tips, juice, analysis, money."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from ratoon.base.errors import BadInput
from ratoon.base.records import Period
from ratoon.cane.records import Bin
from ratoon.jobs.cane.days import JUICE, KIND
from ratoon.jobs.cane.files import record_of
from ratoon.jobs.cane.load import corrected_records
from ratoon.store import Store
from ratoon.store.answers import newest_result
from ratoon.store.cane import issued as cane_issued
from ratoon.store.cane import kept as stored_cane

if TYPE_CHECKING:
    from ratoon.account.mill import Mill
    from ratoon.jobs.mills import OpenMill

LONGEST_YARD = timedelta(hours=48)
OWN_ENOUGH = 0.95  # share of the juice from which its readings tell a grower of the own cane
MOST = 60  # deliveries of one tag that are told


def trace(opened: OpenMill, name: str, grower: str | None = None) -> dict[str, Any]:
    """Where a bin's or a consignment's cane came from and went.

    Parameters
    ----------
    name : number of a note, or tag of a bin. grower : tells that grower's cane alone.

    Raises
    ------
    BadInput : nothing of that name.
    """
    mill, store = opened.mill, opened.store
    rows = store.ask(stored_cane.records, "consignment", keys=[name], grower=grower)
    if rows:
        return _consignment(mill, store, name, grower)
    bins = corrected_records(store, store.ask(stored_cane.bins_of_tag, name, grower))
    if not bins:
        raise BadInput("no consignment and no bin of this name", value=name,
                       todo="Write it as on the note or bin, such as C00123 or 0417")  # fmt: skip
    bins = bins[-MOST:]
    tips = _tips_of(store, bins)
    found = [_delivery(mill, tips, one) for one in bins]
    return {"kind": "bin", "tag": name, "deliveries": found}


def _moment(at: datetime | None) -> str | None:
    return None if at is None else at.astimezone(UTC).isoformat().replace("+00:00", "Z")


def _tips_of(store: Store, bins: Sequence[Bin]) -> dict[str, list[Any]]:
    """Tips of some bins by tag, in order of time; asked for once."""
    tags = {b.tag for b in bins}
    found: dict[str, list[Any]] = defaultdict(list)
    if not bins:
        return found
    within = Period(bins[0].gross_time, bins[-1].gross_time + LONGEST_YARD)
    for row in store.ask(stored_cane.tips_of_tags, tags, within):
        tip = record_of(row)
        found[tip.tag].append(tip)
    return found


def _delivery(mill: Mill, tips: Mapping[str, list[Any]], one: Bin) -> dict[str, Any]:
    """One filling of a bin, and the consignment it belongs to."""
    until = one.gross_time + LONGEST_YARD
    mine = [t for t in tips.get(one.tag, ()) if one.gross_time <= t.time < until]
    tip = mine[0] if mine else None
    net = None
    if one.gross_kg is not None and one.tare_kg is not None:
        net = one.gross_kg - one.tare_kg
    day = None if tip is None else mill.calendar.day_of(tip.time).isoformat()
    return {
        "bin": one.key, "tag": one.tag, "consignment": one.consignment, "rake": one.rake,
        "transport": one.transport, "weighed": _moment(one.gross_time), "gross_kg": one.gross_kg,
        "tare_kg": one.tare_kg, "tare_kind": one.tare_kind, "tare_time": _moment(one.tare_time),
        "net_kg": net, "tipped": None if tip is None else _moment(tip.time),
        "tippler": None if tip is None else tip.tippler, "day": day, "source": one.source,
        "tip_source": None if tip is None else tip.source,
    }  # fmt: skip


def _consignment(mill: Mill, store: Store, name: str, grower: str | None) -> dict[str, Any]:
    rows = store.ask(stored_cane.records, "bin", consignments=[name], grower=grower)
    bins = corrected_records(store, rows)
    tips = _tips_of(store, bins)
    told = [_delivery(mill, tips, one) for one in bins]
    days = sorted({d["day"] for d in told if d["day"]})
    answer: Mapping[str, Any] | None = None
    juice: dict[str, Any] | None = None
    for day in days:
        period = mill.calendar.period(datetime.fromisoformat(day).date())
        kept = store.ask(newest_result, KIND, period)
        for one in kept.answer["consignments"] if kept else ():
            if one["consignment"] == name:
                answer = one | {"day": day}
                juice = _juice(store, period, name, grower) or juice
    samples = store.ask(stored_cane.records, "sample", consignments=[name], grower=grower)
    return {
        "kind": "consignment", "consignment": name, "days": days, "deliveries": told,
        "samples": [_sample(r) for r in corrected_records(store, samples)],
        "found": answer, "juice": juice,
        "corrections": [
            {"field": c.field, "old": c.old, "new": c.new, "who": c.who, "why": c.why,
             "when": _moment(c.when)}
            for c in store.ask(stored_cane.corrections) if c.subject == name
        ],
        "statements": _statements(store, name, grower),
    }  # fmt: skip


def _juice(store: Store, period: Period, name: str, grower: str | None) -> dict[str, Any] | None:
    """Own share of the juice over time, with the near-infrared readings of those moments.

    A grower is told the readings of juice that is nearly all the grower's own.
    """
    kept = store.ask(newest_result, JUICE, period)
    shares = kept.answer.get(name) if kept else None
    if not shares:
        return None
    first, last = shares[0][0], shares[-1][0]
    least = 0.0 if grower is None else OWN_ENOUGH
    moments, own_share = zip(*shares, strict=True)
    near = store.ask(
        stored_cane.series_values, "near_infrared", round(1000 * first), round(1000 * last)
    )
    return {
        "shares": [{"at": _second(at), "own": 100.0 * own} for at, own in shares],
        "near_infrared": [
            {"at": _second(at / 1000), "brix": _hundred(brix), "pol": _hundred(pol)}
            for at, brix, pol, _ in near
            if at >= 1000 * first and np.interp(at / 1000, moments, own_share) >= least
        ],
        "unit": "%",
    }  # fmt: skip


def _second(seconds: float) -> str:
    return str(_moment(datetime.fromtimestamp(round(seconds), tz=UTC)))


def _hundred(share: float | None) -> float | None:
    return None if share is None else 100.0 * share


def _sample(one: Any) -> dict[str, Any]:
    return {"bottle": one.bottle, "start": _moment(one.start), "end": _moment(one.end),
            "brix": None if one.brix is None else 100 * one.brix,
            "pol": None if one.pol is None else 100 * one.pol, "unit": "%",
            "source": one.source}  # fmt: skip


def _statements(store: Store, name: str, grower: str | None) -> list[dict[str, Any]]:
    """Lines of issued statements that pay this consignment."""
    import json

    found = []
    for one in store.ask(cane_issued.issued, grower=grower):
        for line in json.loads(one.content)["lines"]:
            if line["consignment"] == name:
                found.append({"grower": one.grower, "start": one.start.isoformat(),
                              "end": one.end.isoformat(), "number": one.number,
                              "amount": line["amount"], "working": line["working"]})  # fmt: skip
    return found
