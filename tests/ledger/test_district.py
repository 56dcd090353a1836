"""A second district: every kilogram weighed is paid, held or refused, and nothing is paid twice.

One draw runs always; ``RATOON_DRAWS=30 pytest -s tests/ledger`` runs thirty and asks,
of all together, what a single draw is too small to show: whether intervals hold the truth, and how
many consignments are held for nothing.
"""

from __future__ import annotations

import os
import re
from collections import Counter
from datetime import date
from pathlib import Path

import pytest

from ratoon.jobs.cane.correct import exchange
from ratoon.jobs.cane.days import cane_of_all, cane_of_day, days_with_cane
from ratoon.jobs.cane.pay import pay
from ratoon.jobs.imports import import_files
from ratoon.jobs.mills import in_mill, store_of

from .district import Draw, make

DRAWS = int(os.environ.get("RATOON_DRAWS", "1"))
ENOUGH = 20  # draws, before shares are asked of
FOUND: Counter[str] = Counter()


def _sums(answers: list[dict], draw: Draw) -> dict[str, str]:
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


def _count(answers: list[dict], draw: Draw) -> None:
    for a in answers:
        for c in a["consignments"]:
            name = c["consignment"]
            if name in draw.wrong or c["ccs"] is None:
                continue
            FOUND["consignments"] += 1
            FOUND["held for nothing"] += bool(c["waiting_bins"])
            if c["individual"] and c["analysed_on"] is None:
                off = abs(c["ccs"]["value"] - draw.ccs[name])
                FOUND["analysed"] += 1
                FOUND["inside"] += off <= 1.96 * c["ccs"]["sigma"]
        for f in (f for c in a["consignments"] for f in c["flags"]):
            if f["code"] == "bottles exchanged":
                FOUND["bottles told"] += f["consignment"] in draw.planted["bottles"]
                FOUND["bottles told wrongly"] += f["consignment"] not in draw.planted["bottles"]


@pytest.mark.parametrize("seed", range(DRAWS))
def test_each_load_is_paid_once_or_waits(tmp_path: Path, seed: int) -> None:
    draw = make(tmp_path, seed)
    report = import_files(tmp_path, sorted((tmp_path / "input").iterdir()))
    assert sum(len(f.refused) for f in report.files) == 0
    answers = in_mill(tmp_path, cane_of_all)
    state = _sums(answers, draw)
    for pair in draw.same_load:
        assert sum(state[key] == "to pay" for key in pair) <= 1, "one load weighed twice"
    assert all(state[key] == "held" for key in draw.twice_read), "read twice, unheld"
    crossing = [c for a in answers for c in a["consignments"] if c["analysed_on"]]
    of = {c["consignment"]: c["analysis"] for a in answers for c in a["consignments"]
          if not c["analysed_on"]}  # fmt: skip
    assert crossing and all(c["analysis"] == of[c["consignment"]] for c in crossing)
    # day by day, as if each were a week: nothing is paid in two statements
    paid: list[str] = []
    kilograms = 0
    for day in in_mill(tmp_path, days_with_cane)[:3]:
        for s in in_mill(tmp_path, pay, day, day):
            paid += [key for line in s["lines"] for key in line.get("loads", {})]
            kilograms += s["kilograms"]
    assert len(paid) == len(set(paid))
    assert set(paid) == {key for key, name in state.items() if name == "to pay"}
    assert kilograms == sum(draw.nets[key] or 0 for key in paid)
    with store_of(tmp_path) as store:
        assert store.verify() == []
    _count(answers, draw)
    _mended(tmp_path, answers)


def _mended(folder: Path, answers: list[dict]) -> None:
    """A proposed exchange of bottles, when it is kept, changes both analyses as it said."""
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
        assert not any(f["code"] == "bottles exchanged" for f in now[name]["flags"])


def test_of_all_draws_together_intervals_hold_and_few_are_held_for_nothing() -> None:
    print(dict(FOUND))
    assert FOUND["consignments"] > 0
    if DRAWS >= ENOUGH:
        assert 0.93 <= FOUND["inside"] / FOUND["analysed"] <= 0.97
        assert FOUND["held for nothing"] < 0.01 * FOUND["consignments"]
        assert FOUND["bottles told wrongly"] <= 0.1 * FOUND["bottles told"]
