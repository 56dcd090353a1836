"""A day's cane, and one bin's or consignment's path, as plain records in the trade's units.

These are the answers of ``ratoon cane`` and ``ratoon trace``: fractions become per cent, kilograms
tonnes, moments ISO text in UTC. What was not found is null.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from typing import Any

from ratoon.cane.day import CaneDay, Tracked
from ratoon.cane.records import Analysis, ConsignmentDay, Flag, NetBin, Window
from ratoon.cane.totals import DayTotals
from ratoon.cane.tracking import usual_lag


def day_answer(
    day: date, cane: CaneDay, later: Iterable[Flag] = (), mill: str = ""
) -> dict[str, Any]:
    """All of a mill day's cane.

    Parameters
    ----------
    later : flags found from history, beside the day's own.
    """
    more: dict[str, list[Flag]] = {}
    for flag in later:
        more.setdefault(flag.consignment, []).append(flag)
    return {
        "date": day.isoformat(),
        "mill": mill,
        "totals": _totals(cane.totals),
        "consignments": [
            consignment_answer(c, more.get(c.note.consignment, ())) for c in cane.consignments
        ],
        "held": [_held(b) for b in cane.received.held],
        "flags": [_flag(f) for f in (*cane.flags, *later)],
        "series": None
        if cane.unmixed is None
        else {
            "readings": cane.unmixed.readings,
            "noise": {
                name: _pct(float(value))
                for name, value in zip(("brix", "pol", "fibre"), cane.unmixed.noise, strict=True)
            },
            "unit": "%",
        },
        "fibre_classes": [
            {
                "class": f.name or "all",
                "fibre": _pct(f.mean),
                "sigma_common": _pct(f.sigma_common),
                "samples": f.count,
                "oldest": _iso(f.oldest),
            }
            for f in cane.fibres.values()
        ],
    }


def consignment_answer(one: ConsignmentDay, more: Iterable[Flag] = ()) -> dict[str, Any]:
    """One consignment with its figures, each with its sigma."""
    note, a = one.note, one.analysis
    return {
        "consignment": note.consignment,
        "grower": note.grower,
        "farm": note.farm,
        "block": note.block,
        "variety": note.variety,
        "fibre_class": note.fibre_class,
        "harvest": note.harvest,
        "cut_time": _iso(note.cut_time),
        "bins": len(one.bins),
        "tonnes": one.net_kg / 1000.0,
        "window": _window(one.window),
        "brix": _figure(a, "brix"),
        "pol": _figure(a, "pol"),
        "fibre": _figure(a, "fibre"),
        "ccs": _figure(a, "ccs"),
        "method": None if a is None else a.method,
        "fibre_method": None if a is None else a.fibre_method,
        "bottle": None if a is None else a.bottle or None,
        "shared": [] if a is None else list(a.shared),
        "told_apart": None if a is None else a.told_apart,
        "individual": None if a is None else a.individual,
        "alternatives": []
        if a is None
        else [
            {"method": m, "ccs": _pct(value), "sigma": _pct(sigma)}
            for m, value, sigma in a.alternatives
        ],
        "flags": [_flag(f) for f in (*one.flags, *more)],
        "held": [_held(b) for b in one.bins if b.held],
    }


def trace_answer(tracked: Tracked | None, one: ConsignmentDay, key: str = "") -> dict[str, Any]:
    """The path of a consignment, or of one of its bins by `Bin.key`: each step with its moment."""
    bins = [b for b in one.bins if not key or b.bin.key == key]
    place = {} if tracked is None else {b.bin.key: n for n, b in enumerate(tracked.bins)}
    moments: Mapping[str, tuple[datetime | None, datetime | None]] = {}
    if tracked is not None:
        moments = _at_sampler(tracked, {b.bin.key for b in bins if b.bin.key in place})
    return {
        "consignment": consignment_answer(one),
        "bins": [_path(b, *moments.get(b.bin.key, (None, None))) for b in bins],
        "path": None
        if tracked is None
        else {
            "carriers": [{"name": c.name, "length": c.length, "unit": "m"}
                         for c in tracked.path.rules.carriers],
            "usual_seconds": round(usual_lag(tracked.path), 1),
        },
    }  # fmt: skip


def _at_sampler(
    tracked: Tracked, keys: set[str]
) -> dict[str, tuple[datetime | None, datetime | None]]:
    """When the plug-flow part of each bin begins and ends to pass the sampler."""
    from datetime import UTC

    import numpy as np

    def moment(seconds: float) -> datetime | None:
        if not np.isfinite(seconds):
            return None
        return datetime.fromtimestamp(round(seconds), tz=UTC)

    places = [n for n, b in enumerate(tracked.bins) if b.bin.key in keys]
    begins = tracked.path.moment(tracked.begins[places])
    ends = tracked.path.moment(tracked.ends[places])
    return {
        tracked.bins[n].bin.key: (moment(float(a)), moment(float(b)))
        for n, a, b in zip(places, begins, ends, strict=True)
    }


def _path(one: NetBin, begins: datetime | None, ends: datetime | None) -> dict[str, Any]:
    return {
        "tag": one.bin.tag,
        "rake": one.bin.rake,
        "gross_kg": one.bin.gross_kg,
        "tare_kg": one.bin.tare_kg,
        "tare_kind": one.bin.tare_kind,
        "net_kg": one.net_kg,
        "weighed": _iso(one.bin.gross_time),
        "tipped": _iso(one.tip_time),
        "at_sampler": {"start": _iso(begins), "end": _iso(ends)},
        "held": one.held,
        "flags": [_flag(f) for f in one.flags],
        "source": one.bin.source,
    }


def _totals(t: DayTotals) -> dict[str, Any]:
    return {
        "tonnes": t.tipped_kg / 1000.0,
        "held_tonnes": t.held_kg / 1000.0,
        "bins_without_weight": t.unweighed,
        "estimated_tonnes": t.estimated_kg / 1000.0,
        "analysed_tonnes": t.analysed_kg / 1000.0,
        "ccs": _pct(t.ccs),
        "sigma_ccs": _pct(t.sigma_ccs),
        "brix": _pct(t.brix),
        "pol": _pct(t.pol),
        "fibre": _pct(t.fibre),
        "unit": "%",
    }


def _window(window: Window | None) -> dict[str, Any] | None:
    if window is None or window.start.year == 9999:
        return None
    return {
        "start": _iso(window.start),
        "end": _iso(window.end),
        "purity": window.purity,
        "lowest": window.lowest,
        "least_tonnes": window.least_kg / 1000.0,
        "alone": window.alone,
        "stopped": window.stopped,
    }


def _figure(a: Analysis | None, name: str) -> dict[str, Any]:
    if a is None:
        return {"value": None, "sigma": None, "unit": "%"}
    value, sigma = getattr(a, name), getattr(a, f"sigma_{name}")
    return {"value": _pct(value), "sigma": _pct(sigma), "unit": "%"}


def _held(one: NetBin) -> dict[str, Any]:
    return {
        "tag": one.bin.tag,
        "consignment": one.bin.consignment,
        "weighed": _iso(one.bin.gross_time),
        "net_kg": one.net_kg,
        "reasons": [f"{f.code}: {f.text}" for f in one.flags if f.severity == "hold"],
    }


def _flag(flag: Flag) -> dict[str, Any]:
    return {
        "code": flag.code,
        "kind": flag.kind,
        "subject": flag.subject,
        "text": flag.text,
        "holds": flag.severity == "hold",
        "others": list(flag.others),
        "score": flag.score,
    }


def _pct(value: float | None) -> float | None:
    return None if value is None else 100.0 * value


def _iso(moment: datetime | None) -> str | None:
    return None if moment is None else moment.strftime("%Y-%m-%dT%H:%M:%SZ")
