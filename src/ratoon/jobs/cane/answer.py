"""A day's cane as one JSON answer, and back to what payment needs of it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import asdict
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from ratoon.cane.day import CaneDay, Earlier
from ratoon.cane.payment import Supply
from ratoon.cane.records import Analysis, ConsignmentDay, Flag, NetBin
from ratoon.cane.statement import PayItem, Refused
from ratoon.store.digest import digest

OF_ANALYSIS = frozenset({
    "bottles exchanged", "bottle against near-infrared", "bottle outside window",
    "implausible analysis", "notes exchanged", "unlike its history",
})  # fmt: skip
"""Findings about a consignment's analysis: they go with it over the day's end."""


def _moment(at: datetime | None) -> str | None:
    return None if at is None else at.astimezone(UTC).isoformat().replace("+00:00", "Z")


def flag_answer(flag: Flag) -> dict[str, Any]:
    """A flag with its keys."""
    return {"code": flag.code, "kind": flag.kind, "subject": flag.subject, "text": flag.text,
            "severity": flag.severity, "consignment": flag.consignment,
            "others": list(flag.others), "score": round(flag.score, 3),
            "rests_on": flag.rests_on, "exchange": list(flag.exchange)}  # fmt: skip


def _bin_answer(one: NetBin) -> dict[str, Any]:
    """A bin that is held or refused; what its whole consignment is held for is told there once."""
    own = [f for f in one.flags if f.kind == "bin"]
    holds = [f for f in own if f.severity == "hold"]
    return {"bin": one.bin.key, "tag": one.bin.tag, "consignment": one.bin.consignment,
            "net_kg": one.net_kg, "source": one.bin.source,
            "reasons": [f.text for f in holds], "codes": [f.code for f in holds],
            "flags": [flag_answer(f) for f in own], "refused": one.refused}  # fmt: skip


def _percent(value: float, sigma: float) -> dict[str, Any]:
    return {"value": 100.0 * value, "sigma": 100.0 * sigma, "unit": "%"}


def consignment_answer(one: ConsignmentDay, extra: list[Flag]) -> dict[str, Any]:
    """A consignment with tonnes, window, analysis, flags and held bins."""
    note, window, analysis = one.note, one.window, one.analysis
    flags = list(dict.fromkeys([*one.flags, *extra]))
    whole = [f for f in flags if f.severity == "hold" and f.kind != "bin"]
    refused = [b for b in one.bins if b.refused]
    held = [b for b in one.bins if b.held and (not whole or _own_reason(b))]
    waits = [b for b in one.bins if not b.refused and (whole or b.held)]
    to_pay = [b for b in one.bins if not b.refused and not b.held and not whole]
    tipped = [b for b in one.bins if b.tip_time is not None]
    found: dict[str, Any] = {
        "consignment": note.consignment, "grower": note.grower, "farm": note.farm,
        "block": note.block, "variety": note.variety, "harvest": note.harvest,
        "cut": _moment(note.cut_time), "burnt": _moment(note.burnt_time),
        "bins": len(one.bins), "bins_noted": note.bins_noted,
        "tonnes": one.net_kg / 1000.0, "kilograms": one.net_kg,
        "payable_kg": _kilograms(to_pay), "held_kg": _kilograms(waits),
        "refused_kg": _kilograms(refused),
        "loads": {b.bin.key: b.net_kg for b in to_pay}, "waiting_bins": len(waits),
        "waiting": {b.bin.key: b.net_kg for b in waits},
        "first_tip": _moment(min((b.tip_time for b in tipped if b.tip_time), default=None)),
        "last_tip": _moment(max((b.tip_time for b in tipped if b.tip_time), default=None)),
        "age_hours": _age(one), "window": None, "method": None, "individual": False,
        "brix": None, "pol": None, "fibre": None, "ccs": None,
        "flags": [flag_answer(f) for f in flags],
        "held_bins": [_bin_answer(b) for b in held],
        "refused_bins": [_bin_answer(b) for b in refused],
        "held_whole": [f.text for f in whole] if waits else [], "source": note.source,
        "analysis": None,
        "analysed_on": None if one.analysed_on is None else one.analysed_on.isoformat(),
    }  # fmt: skip
    if window is not None:
        found["window"] = {
            "start": _moment(window.start), "end": _moment(window.end), "purity": window.purity,
            "lowest_purity": window.lowest, "least_tonnes": window.least_kg / 1000.0,
            "alone": window.alone, "stopped": window.stopped,
        }  # fmt: skip
    if analysis is not None:
        found |= {
            "method": analysis.method, "individual": analysis.individual,
            "brix": _percent(analysis.brix, analysis.sigma_brix),
            "pol": _percent(analysis.pol, analysis.sigma_pol),
            "fibre": _percent(analysis.fibre, analysis.sigma_fibre),
            "ccs": _percent(analysis.ccs, analysis.sigma_ccs),
            "analysis": asdict(analysis) | {"flags": []},
        }  # fmt: skip
    return found


def _own_reason(one: NetBin) -> bool:
    return any(f.kind == "bin" and f.severity == "hold" for f in one.flags)


def _kilograms(bins: Iterable[NetBin]) -> int:
    """Cane of those that have a net weight [kg]."""
    return sum(b.net_kg or 0 for b in bins)


def _age(one: ConsignmentDay) -> float | None:
    """Hours from cut to crush, weighted by kilograms; burnt cane without its time has none."""
    note = one.note
    if note.cut_time is None or (note.harvest == "burnt" and note.burnt_time is None):
        return None
    pairs = [(b.net_kg or 0, (b.tip_time - note.cut_time).total_seconds() / 3600.0)
             for b in one.bins if b.tip_time is not None]  # fmt: skip
    mass = sum(kg for kg, _ in pairs)
    return sum(kg * h for kg, h in pairs) / mass if mass else None


def day_answer(day: date, mill: str, found: CaneDay, more: Mapping[str, list[Flag]]) -> Any:
    """The answer of ``ratoon cane DATE --json``."""
    consignments = [consignment_answer(c, more.get(c.note.consignment, []))
                    for c in found.consignments]  # fmt: skip
    totals = asdict(found.totals)
    told = {f for c in found.consignments for f in c.flags}
    return {
        "date": day.isoformat(), "mill": mill, "consignments": consignments,
        "totals": {
            "tonnes": totals["tipped_kg"] / 1000.0, "kilograms": totals["tipped_kg"],
            **_weighed(consignments),
            "unweighed_bins": totals["unweighed"], "estimated_kg": totals["estimated_kg"],
            "analysed_kg": totals["analysed_kg"], "unit": "%",
            **{k: None if totals[k] is None else 100.0 * totals[k]
               for k in ("ccs", "sigma_ccs", "brix", "pol", "fibre")},
        },
        "held_bins": [b for c in consignments for b in c["held_bins"]],
        "flags": [flag_answer(f) for f in found.flags if f not in told],
    }  # fmt: skip


def _weighed(consignments: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
    """Every kilogram and every bin of the weighbridge: to be paid, held or refused."""
    given = list(consignments)
    kilograms = {name: sum(c[f"{name}_kg"] for c in given)
                 for name in ("payable", "held", "refused")}  # fmt: skip
    bins = {"payable": sum(len(c["loads"]) for c in given),
            "held": sum(c["waiting_bins"] for c in given),
            "refused": sum(len(c["refused_bins"]) for c in given)}  # fmt: skip
    return {
        "weighed_kg": sum(c["kilograms"] for c in given),
        **{f"{k}_kg": v for k, v in kilograms.items()},
        "weighed_bins": sum(c["bins"] for c in given), **{f"{k}_bins": v for k, v in bins.items()},
    }  # fmt: skip


def analysis_of(raw: Mapping[str, Any]) -> Analysis:
    """An analysis from a day's answer; floats come back as they were."""
    given = dict(raw)
    for name in ("shared", "flags"):
        given[name] = tuple(given[name])
    given["alternatives"] = tuple(tuple(a) for a in given["alternatives"])
    return Analysis(**given)


def flag_of(raw: Mapping[str, Any]) -> Flag:
    """A flag from a day's answer."""
    given = dict(raw) | {name: tuple(raw[name]) for name in ("others", "exchange")}
    return Flag(**given)


def earlier_of(answers: Iterable[Mapping[str, Any]], names: Collection[str]) -> dict[str, Earlier]:
    """Those of some consignments that have an analysis in days before, oldest first."""
    found: dict[str, Earlier] = {}
    for answer in answers:
        day = date.fromisoformat(answer["date"])
        for c in answer["consignments"]:
            name = c["consignment"]
            if name in names and c["analysis"] is not None and name not in found:
                flags = tuple(flag_of(f) for f in c["flags"] if f["code"] in OF_ANALYSIS)
                analysis = analysis_of(c["analysis"])
                found[name] = Earlier(day, analysis, flags)
    return found


def _supply(c: Mapping[str, Any]) -> Supply:
    given = dict(c["supply"])
    if "distance" in given:
        given["distance"] = Decimal(given["distance"])
    return Supply(c["harvest"], c["variety"], **given)


def pay_marks(answer: Mapping[str, Any]) -> dict[str, list[Any]]:
    """By grower: kilograms that a day gives to pay, and the digest of all that this rests on."""
    by: dict[str, list[Any]] = defaultdict(list)
    for c in answer["consignments"]:
        if c["payable_kg"] and c["grower"]:
            a = c["analysis"]
            by[c["grower"]].append([
                c["consignment"], c["payable_kg"], c["harvest"], c["variety"], c["supply"],
                None if a is None else [a["brix"], a["pol"], a["fibre"], a["ccs"]],
            ])  # fmt: skip
    return {g: [sum(c[1] for c in cs), digest(cs)[:16]] for g, cs in sorted(by.items())}


def pay_items(answer: Mapping[str, Any]) -> list[PayItem]:
    """What a day's answer gives to payment; floats come back as they were."""
    day = date.fromisoformat(answer["date"])
    out = []
    for c in answer["consignments"]:
        raw = c["analysis"]
        reasons = [*c["held_whole"], *(r for b in c["held_bins"] for r in b["reasons"])]
        refused = tuple(Refused(b["tag"], b["net_kg"] or 0, b["refused"])
                        for b in c["refused_bins"])  # fmt: skip
        out.append(PayItem(
            c["consignment"], c["grower"], day, c["payable_kg"],
            None if raw is None else analysis_of(raw), c["held_kg"], c["waiting_bins"],
            tuple(dict.fromkeys(reasons)), tuple(c["loads"].items()), refused, _supply(c),
        ))  # fmt: skip
    return out
