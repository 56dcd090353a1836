"""Printed figures of every table: properties, laboratory, control, mills and evaporators, pans,
reconciliation.

Source and place of each figure stand in its row; the tolerance is half the last printed digit or
the reason the row gives. A row marked NEGATIVE TEST holds a print that must be found out.
"""

from __future__ import annotations

import pytest

from ratoon.checks.run import NAMES, PUBLISHED, CheckRow, library_rows, not_built

MISSING = {row_id for ids in not_built().values() for row_id in ids}
PRINTED = [
    (table, row["id"])
    for table in NAMES
    for row in library_rows(table)
    if row["confidence"] in PUBLISHED and row["id"] not in MISSING
]
# at least so many rows of each table must be answered
LEAST = {
    "properties": 166,
    "laboratory": 16,
    "control": 66,
    "milling_evaporation_steam": 103,
    "pans_shed": 3,
    "reconciliation": 149,
}


@pytest.mark.parametrize("name", [pytest.param(n, id=f"{t}:{n}") for t, n in PRINTED])
def test_printed_figure(name: str, check_rows: dict[str, CheckRow]) -> None:
    row = check_rows[name]
    assert row.published
    assert row.found is not None, f"{row.id}: {row.note}"
    assert abs(row.found - row.expected) <= row.tolerance * (1 + 1e-9), (
        f"{row.id} [{row.source}] by {row.formula}: printed {row.expected} {row.unit}, "
        f"found {row.found}, tolerance {row.tolerance}"
    )


@pytest.mark.parametrize("table", LEAST)
def test_enough_rows_are_answered(table: str) -> None:
    assert sum(name == table for name, _ in PRINTED) >= LEAST[table]
