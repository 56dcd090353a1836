"""What must hold of laboratory determinations whatever the reading."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratoon.base.errors import OutOfRange, UnknownName
from ratoon.laboratory import (
    bagasse_analysis,
    cane_analysis,
    first_juice,
    polarimetry,
    raw_sugar,
    rounding,
)

brix = st.floats(0.12, 0.27)
purity = st.floats(0.72, 0.96)
fibre = st.floats(0.09, 0.22)


@given(brix, purity, fibre)
def test_ccs_lies_below_pol_in_cane_and_rises_with_purity(b: float, p: float, f: float) -> None:
    ccs = first_juice.ccs(b, b * p, f)
    assert ccs < first_juice.pol_in_cane(b * p, f)
    assert first_juice.ccs(b, b * (p + 0.01), f) > ccs
    assert first_juice.ccs(b, b * p, f + 0.01) < ccs


@given(st.floats(0.2, 3.0), st.floats(0.42, 0.55), st.floats(0.65, 0.85))
def test_bagasse_by_disintegrator_adds_up_and_has_converged(
    reading: float, moisture: float, last: float
) -> None:
    found = bagasse_analysis.bagasse_from_extract(0.1, 1.0, reading, moisture, last)
    assert found.brix + found.fibre + moisture == pytest.approx(1.0, abs=1e-12)
    extract = bagasse_analysis.pol_of_extract(reading)
    assert found.pol == pytest.approx(extract * (11.0 - 1.25 * found.fibre), rel=1e-6)


@given(st.floats(0.04, 0.06), st.floats(0.65, 0.75))
def test_direct_analysis_adds_up(extract: float, moisture: float) -> None:
    f = cane_analysis.fibre_by_direct_analysis(extract, moisture)
    assert f + cane_analysis.from_extract(extract, f) + moisture == pytest.approx(1.0, abs=1e-12)


@given(st.floats(0.0005, 0.008), st.floats(0.96, 0.99))
def test_safety_factor_and_dilution_indicator_are_one_thing(moisture: float, pol: float) -> None:
    factor = raw_sugar.safety_factor(moisture, pol)
    indicator = raw_sugar.dilution_indicator(moisture, pol)
    assert indicator == pytest.approx(factor / (1.0 - factor), rel=1e-9)


@given(st.floats(0.90, 1.0), st.floats(0.0, 0.02))
def test_richer_sugar_is_never_worth_less(pol: float, more: float) -> None:
    assert raw_sugar.sugar_at_96(1.0, pol + more) >= raw_sugar.sugar_at_96(1.0, pol)


@given(st.floats(0.05, 0.7))
def test_a_normal_weight_of_pure_sugar_reads_a_hundred(sample: float) -> None:
    assert polarimetry.pol_of_weighed_sample(100.0, 26.0) == pytest.approx(1.0)
    assert polarimetry.pol_of_weighed_sample(100.0 * sample, 26.0) == pytest.approx(sample)


def test_pure_juice_has_as_much_pol_as_brix() -> None:
    """15 Brix of pure sucrose reads 61.068 degZ; weighing in air leaves 0.0005."""
    assert polarimetry.pol_of_juice(61.068, 0.15) == pytest.approx(0.15, abs=1e-4)


def test_rounding_is_decimal_and_named() -> None:
    assert rounding.rounded("2.675", 2) == Decimal("2.68")
    assert rounding.rounded("2.665", 2) == Decimal("2.66")
    assert rounding.rounded("2.665", 2, "half_up") == Decimal("2.67")
    with pytest.raises(UnknownName, match="Did you mean half_even"):
        rounding.rounded("1.5", 0, "half_evn")


def test_a_brix_in_per_cent_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"brix 21\.2 kg/kg is outside"):
        first_juice.ccs(21.2, 18.25, 12.58)
