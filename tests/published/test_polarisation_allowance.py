"""The polarisation allowance of a raw sugar contract, as its scale is printed."""

from __future__ import annotations

import pytest

from ratoon.laboratory.raw_sugar import polarisation_allowance, sugar_at_96


@pytest.mark.parametrize(
    ("degree", "per_cent"),
    [(94, -2.00), (95, -1.60), (96, 1.50), (97, 1.25), (98, 1.00), (99, 1.00)],
)  # fmt: skip
def test_what_a_degree_adds(degree: int, per_cent: float) -> None:
    """[PolScale], on 96: for the degree from 94, 95 (off), 96, 97 and for each above 98."""
    whole = 100.0 * (
        polarisation_allowance((degree + 1) / 100.0) - polarisation_allowance(degree / 100.0)
    )
    assert whole == pytest.approx(abs(per_cent), abs=1e-9)
    # below 96 it is taken off, above it is added, and a part of a degree counts pro rata
    half = 100.0 * polarisation_allowance((degree + 0.5) / 100.0)
    assert half * per_cent > 0.0
    ends = polarisation_allowance(degree / 100.0), polarisation_allowance((degree + 1) / 100.0)
    assert half == pytest.approx(50.0 * sum(ends), abs=1e-9)


def test_sugar_of_96_is_worth_itself_and_the_scale_ends() -> None:
    assert sugar_at_96(1000.0, 0.96) == pytest.approx(1000.0)
    assert polarisation_allowance(0.90) == pytest.approx(polarisation_allowance(0.94))


def test_allowance_of_a_brand_of_98_9() -> None:
    """1.50 + 1.25 + 0.9 x 1.00: the 3.65 % by which such sugar counts as standard sugar."""
    assert 100.0 * polarisation_allowance(0.989) == pytest.approx(3.65, abs=1e-9)
