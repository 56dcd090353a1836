"""Equity, age and means by mass."""

from __future__ import annotations

import pytest

from ratoon.cane.comparison import equity, groups_by, mean_by_mass
from ratoon.cane.day import cane_day
from ratoon.cane.receival import receive
from ratoon.cane.records import Block
from ratoon.cane.rules import ReceivalRules


def test_equity_adds_up_to_nothing_ahead_or_behind():
    blocks = [Block(f"B{n}", f"F{n}", f"G{n}", "V", estimate_kg=(n + 1) * 100_000)
              for n in range(4)]  # fmt: skip
    delivered = {"G0": 50_000, "G1": 50_000, "G2": 150_000}
    found = equity(blocks, delivered)
    assert sum(s.ahead_kg for s in found) == pytest.approx(0, abs=2)
    assert [s.grower for s in found] == ["G3", "G1", "G0", "G2"]
    assert found[0].share == 0.0 and found[0].district == pytest.approx(0.25)


def test_a_grower_without_an_estimate_is_last_and_moves_nobody():
    found = equity([Block("B", "F", "G", "V", estimate_kg=1000)], {"G": 500, "X": 9000})
    assert found[-1].grower == "X" and found[-1].share is None
    assert found[0].district == 0.5


def test_groups_cover_all_the_cane(cane_of, invented_cane):
    day = cane_of(0)
    received = receive(day.bins, day.tips, day.notes.values(), day.blocks, ReceivalRules())
    found = cane_day(received, day.notes, day.speeds, day.samples, day.fibre_samples, day.series,
                     invented_cane.TRACK, invented_cane.RULES, invented_cane.RATE)  # fmt: skip
    groups = groups_by(found.consignments, lambda c: c.note.variety)
    assert sum(g.kilograms for g in groups) == found.totals.tipped_kg
    whole = mean_by_mass((g.analysed_kg, g.ccs) for g in groups)
    assert whole == pytest.approx(found.totals.ccs, rel=1e-12)
    assert all(9.9 < g.oldest_hours < 40 and g.age_hours <= g.oldest_hours for g in groups)
    # one laboratory's error does not average out
    assert all(g.sigma_ccs > 0.0005 for g in groups)
