"""A second district: every kilogram weighed is paid, held or refused, and nothing is paid twice.

One draw runs here, without days before it; `benchmarks/districts.py` runs thirty with a history,
and asks of all together what a single draw is too small to show.
"""

from __future__ import annotations

from pathlib import Path

from .scored import mended, mended_over_the_days_end, scored, shares


def test_each_load_is_paid_once_or_waits(tmp_path: Path) -> None:
    found = scored(tmp_path, 0)
    assert found["consignments"] > 80
    share = shares(found)
    assert share["intervals hold"] > 0.8
    assert share["own error holds, sample"] > 0.85
    assert found["held for nothing"] <= 1
    mended(tmp_path)
    mended_over_the_days_end(tmp_path)
