"""Honest intervals of weeks and seasons to date: common errors and assumptions that last.

Few seasons, since each is three weeks of true days: the goal (93 to 97 % together, each figure 90
to 99 %) is judged on 300 seasons by `benchmarks/weeks.py`, figures in
`docs/explanations/reconciliation.md`. What is asked here is that goal less what so few seasons
leave to chance; a common error that is averaged away over the days, or counted again for each of
them, is far outside it.
"""

from __future__ import annotations

import pytest

from ratoon.demo.write import mill_text
from trials.days import HEADLINES, coverage
from trials.weeks import Stretch, run_stretches

SEED, SEASONS, DAYS = 20310613, 14, 21


@pytest.fixture(scope="module")
def found() -> list[tuple[Stretch, Stretch]]:
    return run_stretches(mill_text(), SEED, range(SEASONS), DAYS)


@pytest.mark.parametrize("which", [0, 1], ids=["week", "season"])
def test_intervals_hold_the_truth(found: list[tuple[Stretch, Stretch]], which: int) -> None:
    stretches = [pair[which] for pair in found]
    assert not [s.failed for s in stretches if s.failed]
    shares = coverage(stretches)
    print({k: round(100 * v) for k, v in shares.items()})
    assert set(shares) == {*HEADLINES, "all"}
    assert 0.91 <= shares["all"] <= 0.985
    assert {n: s for n, s in shares.items() if s < 0.75} == {}


def test_a_season_doubts_more_than_its_days_alone_would_leave(
    found: list[tuple[Stretch, Stretch]],
) -> None:
    """Errors of a season and of its first week have much in common, since common errors last."""
    pairs = [(w.off["sugar"], s.off["sugar"]) for w, s in found]
    together = sum(a * b for a, b in pairs) / len(pairs)
    assert together > 0.4
