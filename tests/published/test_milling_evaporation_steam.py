"""Printed figures of mills, bagasse as fuel, boilers, filters and evaporators.

Source and place of each figure stand in its row; the tolerance is half the last printed digit or
the reason the row gives.
"""

from __future__ import annotations

import pytest

from ratoon.jobs.check.run import CheckRow, run_table

ROWS = [row for row in run_table("milling_evaporation_steam") if row.published]


@pytest.mark.parametrize("row", [pytest.param(row, id=row.id) for row in ROWS])
def test_printed_figure(row: CheckRow) -> None:
    assert row.found is not None, f"{row.id}: {row.note}"
    assert abs(row.found - row.expected) <= row.tolerance * (1 + 1e-9), (
        f"{row.id} [{row.source}] by {row.formula}: printed {row.expected} {row.unit}, "
        f"found {row.found}, tolerance {row.tolerance}"
    )


def test_enough_rows_are_answered() -> None:
    assert len(ROWS) >= 100
