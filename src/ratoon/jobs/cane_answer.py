"""A day's cane as one JSON answer, and back to what payment needs of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from datetime import UTC, date, datetime
from typing import Any

from ratoon.cane.day import CaneDay
from ratoon.cane.records import Analysis, ConsignmentDay, Flag, NetBin
from ratoon.cane.statement import PayItem


def _moment(at: datetime | None) -> str | None:
    return None if at is None else at.astimezone(UTC).isoformat().replace("+00:00", "Z")


def flag_answer(flag: Flag) -> dict[str, Any]:
    """A flag with its keys."""
    return {"code": flag.code, "kind": flag.kind, "subject": flag.subject, "text": flag.text,
            "severity": flag.severity, "consignment": flag.consignment,
            "others": list(flag.others), "score": round(flag.score, 3)}  # fmt: skip


def _held_bin(one: NetBin) -> dict[str, Any]:
    return {"bin": one.bin.key, "tag": one.bin.tag, "consignment": one.bin.consignment,
            "net_kg": one.net_kg, "source": one.bin.source,
            "reasons": [f.text for f in one.flags if f.severity == "hold"],
            "codes": [f.code for f in one.flags if f.severity == "hold"]}  # fmt: skip


def _percent(value: float, sigma: float) -> dict[str, Any]:
    return {"value": 100.0 * value, "sigma": 100.0 * sigma, "unit": "%"}


def consignment_answer(one: ConsignmentDay, extra: list[Flag]) -> dict[str, Any]:
    """A consignment with tonnes, window, analysis, flags and held bins."""
    note, window, analysis = one.note, one.window, one.analysis
    flags = list(dict.fromkeys([*one.flags, *extra]))
    whole = [f for f in flags if f.severity == "hold" and f.kind != "bin"]
    held = [b for b in one.bins if b.held]
    tipped = [b for b in one.bins if b.tip_time is not None]
    paid = 0 if whole else sum(b.net_kg or 0 for b in tipped if not b.held)
    found: dict[str, Any] = {
        "consignment": note.consignment, "grower": note.grower, "farm": note.farm,
        "block": note.block, "variety": note.variety, "harvest": note.harvest,
        "cut": _moment(note.cut_time), "burnt": _moment(note.burnt_time),
        "bins": len(one.bins), "bins_noted": note.bins_noted,
        "tonnes": one.net_kg / 1000.0, "kilograms": one.net_kg, "payable_kg": paid,
        "first_tip": _moment(min((b.tip_time for b in tipped if b.tip_time), default=None)),
        "last_tip": _moment(max((b.tip_time for b in tipped if b.tip_time), default=None)),
        "age_hours": _age(one), "window": None, "method": None, "individual": False,
        "brix": None, "pol": None, "fibre": None, "ccs": None,
        "flags": [flag_answer(f) for f in flags],
        "held_bins": [_held_bin(b) for b in held],
        "held_whole": [f.text for f in whole], "source": note.source, "analysis": None,
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


def _age(one: ConsignmentDay) -> float | None:
    """Hours from cut to crush, weighted by kilograms."""
    if one.note.cut_time is None:
        return None
    pairs = [(b.net_kg or 0, (b.tip_time - one.note.cut_time).total_seconds() / 3600.0)
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
            "held_kg": sum(c["kilograms"] - c["payable_kg"] for c in consignments),
            "unweighed_bins": totals["unweighed"], "estimated_kg": totals["estimated_kg"],
            "analysed_kg": totals["analysed_kg"], "unit": "%",
            **{k: None if totals[k] is None else 100.0 * totals[k]
               for k in ("ccs", "sigma_ccs", "brix", "pol", "fibre")},
        },
        "held_bins": [b for c in consignments for b in c["held_bins"]],
        "flags": [flag_answer(f) for f in found.flags if f not in told],
    }  # fmt: skip


def pay_items(answer: Mapping[str, Any]) -> list[PayItem]:
    """What a day's answer gives to payment; floats come back as they were."""
    day = date.fromisoformat(answer["date"])
    out = []
    for c in answer["consignments"]:
        raw = c["analysis"]
        analysis = None
        if raw is not None:
            given = dict(raw)
            for name in ("shared", "flags"):
                given[name] = tuple(given[name])
            given["alternatives"] = tuple(tuple(a) for a in given["alternatives"])
            analysis = Analysis(**given)
        waiting = c["kilograms"] - c["payable_kg"]
        reasons = [*c["held_whole"], *(r for b in c["held_bins"] for r in b["reasons"])]
        bins = c["bins"] if c["held_whole"] else len(c["held_bins"])
        out.append(PayItem(c["consignment"], c["grower"], day, c["payable_kg"], analysis, waiting,
                           bins, tuple(dict.fromkeys(reasons))))  # fmt: skip
    return out
