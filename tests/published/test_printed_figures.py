"""Printed figures of every table: properties, laboratory, control, mills and evaporators, pans,
reconciliation.

Source and place of each figure stand in its row; the tolerance is half the last printed digit or
the reason the row gives. A row marked NEGATIVE TEST holds a print that must be found out.
"""

from __future__ import annotations

import pytest

from ratoon.checks.run import CheckRow, run_checks

ROWS = [row for row in run_checks() if row.published]
# at least so many rows of each table must be answered
LEAST = {
    "properties": 166,
    "laboratory": 16,
    "control": 66,
    "milling_evaporation_steam": 103,
    "pans_shed": 3,
    "reconciliation": 149,
}


@pytest.mark.parametrize("row", [pytest.param(row, id=f"{row.table}:{row.id}") for row in ROWS])
def test_printed_figure(row: CheckRow) -> None:
    assert row.found is not None, f"{row.id}: {row.note}"
    assert abs(row.found - row.expected) <= row.tolerance * (1 + 1e-9), (
        f"{row.id} [{row.source}] by {row.formula}: printed {row.expected} {row.unit}, "
        f"found {row.found}, tolerance {row.tolerance}"
    )


@pytest.mark.parametrize("table", LEAST)
def test_enough_rows_are_answered(table: str) -> None:
    assert sum(row.table == table for row in ROWS) >= LEAST[table]
