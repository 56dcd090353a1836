"""Scores of the demonstration's cane against its truth: exchanges found, unmixed parcels."""

from __future__ import annotations

import csv
import json
from collections.abc import Mapping, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

ALARMS = ("bottles exchanged", "bottle against near-infrared", "bottle outside window",
          "notes exchanged", "unlike its history")  # fmt: skip
STEPS = (0.0, 1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 1e9)  # edges of true difference, CCS units


def truth_of(folder: Path) -> dict[str, dict[str, float]]:
    """True kg, brix, pol, fibre and CCS of each consignment, per cent."""
    with (folder / "truth" / "consignments.csv").open(encoding="utf-8") as file:
        return {
            row["consignment"]: {k: float(row[k]) for k in ("kg", "brix", "pol", "fibre", "ccs")}
            for row in csv.DictReader(file)
        }


def score_unmixed(
    answers: Sequence[Mapping[str, Any]], truth: Mapping[str, Mapping[str, float]]
) -> dict[str, float]:
    """Error of unmixed CCS against the day-average rule, and how often 95 % intervals hold it."""
    errors, rule, inside = [], [], []
    for day in answers:
        alone = [
            c for c in day["consignments"] if c["ccs"] and c["method"] in ("sample", "weighed")
        ]
        if not alone:
            continue
        mass = sum(c["kilograms"] for c in alone)
        mean = sum(c["kilograms"] * c["ccs"]["value"] for c in alone) / mass
        for c in day["consignments"]:
            if c["method"] != "unmixed" or not c["analysis"]["told_apart"]:
                continue
            true = truth[c["consignment"]]["ccs"]
            off = c["ccs"]["value"] - true
            errors.append(off)
            rule.append(mean - true)
            inside.append(abs(off) <= 1.96 * c["ccs"]["sigma"])
    return {
        "parcels": len(errors),
        "error": float(np.sqrt(np.mean(np.square(errors)))) if errors else 0.0,
        "day_average_error": float(np.sqrt(np.mean(np.square(rule)))) if rule else 0.0,
        "coverage": float(np.mean(inside)) if inside else 0.0,
    }


def score_exchanges(
    answers: Sequence[Mapping[str, Any]], folder: Path, kinds: Sequence[str], words: Sequence[str],
    since: int = 0,
) -> dict[str, Any]:  # fmt: skip
    """Exchanges found, by their true difference of CCS; and how many alarms are true.

    Parameters
    ----------
    kinds : of the truth's list, such as ("bottles",). words : that the codes of the flags hold.
    since : days at the beginning whose exchanges are left out, since nobody could judge them yet.
    """
    planted = json.loads((folder / "truth" / "cane.json").read_text(encoding="utf-8"))
    early = {c["consignment"] for day in answers[:since] for c in day["consignments"]}
    true = [p for p in planted if p["kind"] in kinds and not early & set(p.get("consignments", ()))]
    wrong = {c for p in planted for c in p.get("consignments", ())}
    flagged: set[str] = set()
    for day in answers:
        for c in day["consignments"]:
            if any(w in f["code"] for f in c["flags"] for w in words):
                flagged.add(c["consignment"])
    table = []
    for low, high in pairwise(STEPS):
        mine = [p for p in true if low <= p["ccs_apart"] < high]
        found = [p for p in mine if flagged & set(p["consignments"])]
        if mine:
            table.append({"from": low, "to": high, "planted": len(mine), "found": len(found)})
    alarms = len(flagged)
    return {"table": table, "alarms": alarms, "true": len(flagged & wrong)}


def score_alarms(answers: Sequence[Mapping[str, Any]], folder: Path) -> dict[str, int]:
    """All alarms of mis-identified cane, by consignment and by block, and how many are true.

    A block is true when a consignment among its week's was noted wrong for that week.
    """
    planted = json.loads((folder / "truth" / "cane.json").read_text(encoding="utf-8"))
    of_kind: dict[str, set[str]] = {}
    for one in planted:
        of_kind.setdefault(one["kind"], set()).update(one.get("consignments", ()))
    wrong = set().union(*of_kind.values())
    told = {c["consignment"] for day in answers for c in day["consignments"]
            if any(f["code"] in ALARMS for f in c["flags"])}  # fmt: skip
    blocks: dict[str, bool] = {}
    for day in answers:
        for f in (f for f in day["flags"] if f["code"] == "block mislabelled"):
            true = bool(set(f["others"]) & of_kind.get("week", set()))
            blocks[f["subject"]] = blocks.get(f["subject"], False) or true
    return {"alarms": len(told) + len(blocks),
            "true": len(told & wrong) + sum(blocks.values()),
            "blocks": len(blocks), "true blocks": sum(blocks.values())}  # fmt: skip
