"""One draw of the second district, accounted and paid: what must hold, and what is counted."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from datetime import date
from itertools import pairwise
from math import sqrt
from pathlib import Path
from typing import Any

import numpy as np

from ratoon.jobs.cane.correct import exchange
from ratoon.jobs.cane.days import cane_of_all, cane_of_day
from ratoon.jobs.cane.pay import pay
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.mills import in_mill, store_of

from .district import BEGIN, Draw, make

NAMED = ("unlike its history", "notes exchanged")


def scored(folder: Path, seed: int, before: int = 0) -> Counter[str]:
    """Make a draw in an empty folder and take it from its files to its statements.

    Raises
    ------
    AssertionError : a kilogram or a bin is lost, doubled, or paid while something is wrong with it.

    Returns
    -------
    Counts, to be added up over draws and judged by `shares`.
    """
    draw = make(folder, seed, before)
    report = import_files(folder, sorted((folder / "input").iterdir()))
    assert sum(len(f.refused) for f in report.files) == 0
    answers = in_mill(folder, cane_of_all)
    state = _sums(answers, draw)
    for pair in draw.same_load:
        assert sum(state[key] == "to pay" for key in pair) <= 1, "one load weighed twice"
    assert all(state[key] == "held" for key in draw.twice_read), "read twice, unheld"
    assert all(state[key] == "held" for key in draw.lost), "never tipped, unheld"
    every = [c for a in answers for c in a["consignments"]]
    crossing = [c for c in every if c["analysed_on"]]
    of = {c["consignment"]: c["analysis"] for c in every if not c["analysed_on"]}
    assert crossing and all(c["analysis"] == of[c["consignment"]] for c in crossing)
    for c in (c for c in every if c["consignment"] in draw.burnt):
        (flag,) = (f for f in c["flags"] if f["code"] == "burn time missing")
        assert flag["severity"] == "look", "burnt cane without its time is paid"
    _paid(folder, answers, draw, state)
    return _counts(answers, draw) + Counter({"draws": 1})


def _sums(answers: Sequence[Mapping[str, Any]], draw: Draw) -> dict[str, str]:
    """Each bin's state by its name, compared with what the weighbridge wrote."""
    state: dict[str, str] = {}
    for a in answers:
        t = a["totals"]
        assert t["weighed_kg"] == t["payable_kg"] + t["held_kg"] + t["refused_kg"]
        assert t["weighed_bins"] == t["payable_bins"] + t["held_bins"] + t["refused_bins"]
        for c in a["consignments"]:
            for name, told in (("to pay", c["loads"]), ("held", c["waiting"])):
                for key, net in told.items():
                    assert key not in state, "one bin on two days"
                    state[key] = name
                    assert net == draw.nets[key]
    assert set(state) == set(draw.nets)
    weighed = sum(a["totals"]["weighed_kg"] for a in answers)
    assert weighed == sum(net or 0 for net in draw.nets.values())
    return state


def _paid(
    folder: Path, answers: Sequence[Mapping[str, Any]], draw: Draw, state: Mapping[str, str]
) -> None:
    """Day by day, as if each were a week: nothing is paid in two statements, and all is."""
    paid: list[str] = []
    kilograms = 0
    of_days = [a for a in answers if a["date"] >= str(BEGIN.date()) and a["totals"]["payable_kg"]]
    for day in (date.fromisoformat(a["date"]) for a in of_days):
        for s in in_mill(folder, pay, day, day):
            paid += [key for line in s["lines"] for key in line.get("loads", {})]
            kilograms += s["kilograms"]
    assert len(paid) == len(set(paid))
    assert set(paid) == {key for a in of_days for c in a["consignments"] for key in c["loads"]}
    assert all(state[key] == "to pay" for key in paid)
    assert kilograms == sum(draw.nets[key] or 0 for key in paid)
    with store_of(folder) as store:
        assert store.verify() == []


def mended(folder: Path) -> None:
    """A proposed exchange of bottles, when it is kept, changes both analyses as it said."""
    answers = in_mill(folder, cane_of_all)
    told = [(a["date"], c, f) for a in answers for c in a["consignments"] for f in c["flags"]
            if f["code"] == "bottles exchanged"]  # fmt: skip
    assert told
    day, _, flag = told[0]
    before = {c["consignment"]: (c, f["text"]) for on, c, f in told
              if on == day and set(f["exchange"]) == set(flag["exchange"])}  # fmt: skip
    assert set(before) == {flag["consignment"], *flag["others"]}
    in_mill(folder, exchange, "sample", *flag["exchange"], "the labels were exchanged", "L. Moss")
    again = in_mill(folder, cane_of_day, date.fromisoformat(day))
    now = {c["consignment"]: c for c in again["consignments"]}
    for name, (old, text) in before.items():
        (other,) = set(before) - {name}
        for figure in ("brix", "pol"):
            assert now[name][figure]["value"] == before[other][0][figure]["value"]
        said = re.search(r"its CCS goes from ([\d.]+) to ([\d.]+) %", text)
        assert said is not None
        assert said.groups() == (f"{old['ccs']['value']:.2f}", f"{now[name]['ccs']['value']:.2f}")
        assert not any(f["code"].startswith("bottle") for f in now[name]["flags"])


def mended_over_the_days_end(folder: Path) -> None:
    """Bottles exchanged over the day's end: both consignments wait, until it is set right."""
    days = in_mill(folder, cane_of_all)
    pairs = [
        (last, c) for day, following in pairwise(days) for last in day["last_bottles"][-1:]
        for c in [c for c in following["consignments"]
                  if c["method"] == "sample" and c["analysed_on"] is None][:3]
    ]  # fmt: skip
    last, first = max(pairs, key=lambda p: abs(100 * p[0]["read"][1] - p[1]["pol"]["value"]))
    bottles = (last["bottle"], first["analysis"]["bottle"])
    names = {last["consignment"], first["consignment"]}
    sound = _about(in_mill(folder, cane_of_all), names)
    for turn in ("by mistake", "set right"):
        in_mill(folder, exchange, "sample", *bottles, turn, "L. Moss")
        found = _about(in_mill(folder, cane_of_all), names)
        proposed = {name: [f for f in c["flags"] if f["code"] == "bottles exchanged"]
                    for name, c in found.items()}  # fmt: skip
        if turn == "set right":
            assert not any(proposed.values())
            assert all(found[n]["analysis"] == sound[n]["analysis"] for n in names)
            return
        for name, (flag,) in proposed.items():
            assert flag["others"] == [*(names - {name})] and set(flag["exchange"]) == set(bottles)
            assert found[name]["waiting"] and not found[name]["loads"]
        kept = in_mill(folder, cane_of_all)
        assert _about(kept, names) == found, "asked again, it is not made again"


def _about(answers: Sequence[Mapping[str, Any]], names: set[str]) -> dict[str, Any]:
    """Consignments where they were analysed."""
    return {c["consignment"]: c for a in answers for c in a["consignments"]
            if c["consignment"] in names and c["analysed_on"] is None}  # fmt: skip


def _counts(answers: Sequence[Mapping[str, Any]], draw: Draw) -> Counter[str]:
    found: Counter[str] = Counter()
    codes: dict[str, set[str]] = {}
    errors: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for c in (c for a in answers for c in a["consignments"]):
        name = c["consignment"]
        codes.setdefault(name, set()).update(f["code"] for f in c["flags"])
        if name in draw.wrong or c["ccs"] is None:
            continue
        found["consignments"] += 1
        found["held for nothing"] += bool(c["waiting_bins"])
        if c["individual"] and c["analysed_on"] is None:
            off, sigma = c["ccs"]["value"] - draw.ccs[name], c["ccs"]["sigma"]
            held = abs(off) <= 1.96 * sigma
            found["analysed"] += 1
            found["inside"] += held
            found[f"{c['method']} inside"] += held
            own = sqrt(sigma**2 - (100.0 * c["analysis"]["common_ccs"]) ** 2)
            errors[c["method"]].append((off, own))
    for method, both in errors.items():  # the lasting error of a draw is one error, not many
        off, own = np.array(both).reshape(-1, 2).T
        found[f"{method} analysed"] += off.size
        found[f"{method} own inside"] += int(np.sum(np.abs(off - off.mean()) <= 1.96 * own))
    told = {f["subject"] for a in answers for f in a["flags"] if f["code"] == "block mislabelled"}
    for one in draw.mislabels:
        kind = "blocks" if one.week else "notes"
        found[f"{kind} mislabelled"] += 1
        found[f"{kind} named"] += one.block in told or any(
            codes[c] & set(NAMED) for c in one.consignments
        )
    found["blocks named wrongly"] = len(told - {m.block for m in draw.mislabels})
    for name, flags in codes.items():
        if "bottles exchanged" in flags:
            true = name in draw.planted["bottles"]
            found["bottles told" if true else "bottles told wrongly"] += 1
        found["told for nothing"] += bool(flags & set(NAMED)) and name not in draw.wrong
    return found


def shares(found: Mapping[str, int]) -> dict[str, float]:
    """What the counts of many draws come to."""
    by_method = {
        f"{words}, {method}": found[f"{method} {inside}"] / max(found[f"{method} analysed"], 1)
        for method in ("sample", "unmixed")
        for words, inside in (("intervals hold", "inside"), ("own error holds", "own inside"))
    }
    return {
        "intervals hold": found["inside"] / found["analysed"],
        **by_method,
        "held for nothing": found["held for nothing"] / found["consignments"],
        "mislabels named": (found["notes named"] + found["blocks named"])
        / max(found["notes mislabelled"] + found["blocks mislabelled"], 1),
        "told for nothing": found["told for nothing"] / found["consignments"],
        "bottles exchanged, told": found["bottles told"] / (2 * found["draws"]),
    }
