"""Equity of supply."""

from __future__ import annotations

import pytest

from ratoon.cane.comparison import equity
from ratoon.cane.records import Block


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
