"""Rows that prove agreement, not truth: our own arithmetic, and figures known from memory.

They hold the program to its second implementation; none of them is a published check.
"""

from __future__ import annotations

import pytest

from ratoon.checks.run import NAMES, PUBLISHED, CheckRow, library_rows, not_built

MISSING = {row_id for ids in not_built().values() for row_id in ids}
KEPT = [
    row["id"]
    for name in NAMES
    for row in library_rows(name)
    if row["confidence"] not in PUBLISHED and row["id"] not in MISSING
]


@pytest.mark.parametrize("name", KEPT)
def test_kept_figure(name: str, check_rows: dict[str, CheckRow]) -> None:
    row = check_rows[name]
    assert not row.published
    assert row.passed, f"{row.id} by {row.formula}: {row.expected}, found {row.found} {row.note}"


def test_every_row_is_answered_or_said_to_be_missing(check_rows: dict[str, CheckRow]) -> None:
    answered, missing = set(check_rows), MISSING
    every = [row["id"] for name in NAMES for row in library_rows(name)]
    assert len(every) == len(set(every)) == 1716
    assert answered | missing == set(every)
    assert not answered & missing


def test_published_rows_of_the_tables() -> None:
    tags = [row["confidence"] for name in NAMES for row in library_rows(name)]
    assert sum(tag in ("seen", "seen-2nd") for tag in tags) == 513


def test_what_the_program_takes_otherwise_than_a_kept_figure() -> None:
    """Pure CO2 at 1 atm is not ideal; in flue gas it is: 0.5 % between them at 100 degC."""
    from ratoon.properties.flue_gas import mean_specific_heat

    assert mean_specific_heat("CO2", 100.0) == pytest.approx(886.0, rel=6e-3)
    assert mean_specific_heat("CO2", 100.0) < 884.0


def test_oxygen_demand_of_a_composition_known_from_memory() -> None:
    """2.025 kmol by molar masses of 12, 1 and 16; by ours 2.018, both the print's 2.02."""
    from ratoon.properties.flue_gas import DryFuel, stoichiometric_oxygen

    found = 100.0 * stoichiometric_oxygen(DryFuel(0.234, 0.028, 0.20)) / 31.998
    assert found == pytest.approx(2.025, rel=4e-3)
    assert round(found, 2) == 2.02
