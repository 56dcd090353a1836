"""What must hold of properties whatever the numbers; one line for float, array and symbol."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import casadi
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ratoon.account.figures import formulas as account
from ratoon.base.errors import OutOfRange, UnknownName
from ratoon.base.symbol import Symbol
from ratoon.laboratory import first_juice
from ratoon.properties import air, bagasse, crystal, solution, water

# function and one point inside its range
POINTS: list[tuple[str, Callable[..., Any], tuple[float, ...]]] = [
    ("saturation_pressure", water.saturation_pressure, (100.0,)),
    ("saturation_temperature", water.saturation_temperature, (1.5e4,)),
    ("liquid_enthalpy", water.liquid_enthalpy, (80.0,)),
    ("vapour_enthalpy", water.vapour_enthalpy_saturated, (55.0,)),
    ("steam_enthalpy", water.steam_enthalpy, (2.5e6, 350.0)),
    ("steam_entropy", water.steam_entropy, (2.08e5, 132.0)),
    ("water_density", water.water_density, (60.0,)),
    ("density", solution.density, (0.65, 60.0)),
    ("elevation", solution.boiling_point_elevation, (0.65, 0.86, 57.0)),
    ("specific_heat", solution.specific_heat, (0.15, 0.88, 90.0)),
    ("enthalpy", solution.enthalpy, (0.15, 0.88, 100.0)),
    ("viscosity", solution.viscosity, (0.70, 0.9, 60.0)),
    ("solubility", solution.solubility, (65.0,)),
    ("supersaturation", solution.supersaturation, (0.62, 0.18, 65.0)),
    ("refractive_index", solution.refractive_index, (0.6,)),
    ("correction", solution.refractometer_correction, (0.2, 28.0)),
    ("crystal_enthalpy", crystal.enthalpy, (65.0,)),
    ("calorific_value", bagasse.gross_calorific_value, (0.5, 0.02, 0.03)),
    ("humidity", air.humidity, (30.0, 0.7)),
    ("air_enthalpy", air.enthalpy, (46.0, 0.02)),
    ("ccs", first_juice.ccs, (0.212, 0.1825, 0.1258)),
    ("reduced_extraction", account.reduced_extraction, (0.963, 0.15)),
    ("basic_recovery", account.basic_recovery, (0.989, 0.87, 0.40)),
    ("target_purity", account.target_purity, (0.94,)),
]


@pytest.mark.parametrize(
    ("function", "point"), [pytest.param(f, p, id=name) for name, f, p in POINTS]
)
def test_float_array_and_symbol_give_one_answer(
    function: Callable[..., Any], point: tuple[float, ...]
) -> None:
    number = function(*point)
    array = function(*(np.array([x, x]) for x in point))
    symbols = [casadi.SX.sym(f"x{i}") for i in range(len(point))]
    written: dict[Any, Symbol] = {}
    told = function(*(Symbol(s, written) for s in symbols)).of
    compiled = casadi.Function("f", symbols, [told])
    assert np.allclose(array, number, rtol=1e-12)
    assert float(compiled(*point)) == pytest.approx(number, rel=1e-12)
    slope = casadi.Function("g", symbols, [casadi.gradient(told, symbols[0])])
    step = 1e-5 * max(1.0, abs(point[0]))
    rise = function(point[0] + step, *point[1:]) - function(point[0] - step, *point[1:])
    assert float(slope(*point)) == pytest.approx(rise / (2 * step), rel=2e-4, abs=1e-9)


@given(st.floats(1.0, 350.0))
def test_saturation_line_goes_both_ways(temperature: float) -> None:
    pressure = water.saturation_pressure(temperature)
    assert water.saturation_temperature(pressure) == pytest.approx(temperature, abs=1e-5)


@given(st.floats(0.001, 0.85))
def test_refractometer_goes_both_ways(brix: float) -> None:
    index = solution.refractive_index(brix)
    assert solution.brix_from_refractive_index(index) == pytest.approx(brix, abs=1e-9)


@given(st.floats(0.01, 0.85), st.floats(45.0, 120.0))
def test_pure_solution_boils_where_its_water_has_the_vapours_pressure(
    brix: float, saturated: float
) -> None:
    rise = solution.boiling_point_elevation(brix, 1.0, saturated, "StarzakPeacock1998")
    boiling = saturated + rise
    activity = solution.water_activity(brix, boiling)
    pressure = activity * water.saturation_pressure(boiling)
    assert pressure == pytest.approx(water.saturation_pressure(saturated), rel=1e-6)


@given(st.floats(0.0, 0.75), st.floats(0.0, 0.09), st.floats(0.4, 1.0), st.floats(45.0, 120.0))
def test_elevation_rises_with_dry_substance_and_falls_with_purity(
    brix: float, more: float, purity: float, saturated: float
) -> None:
    low = solution.boiling_point_elevation(brix, purity, saturated)
    assert solution.boiling_point_elevation(brix + more, purity, saturated) >= low - 1e-9
    assert solution.boiling_point_elevation(brix, min(1.0, purity + 0.05), saturated) <= low + 1e-9


@given(st.floats(0.0, 0.8), st.floats(0.0, 0.8), st.floats(0.1, 0.9), st.floats(1.0, 120.0))
def test_mixing_juices_of_one_temperature_makes_no_heat(
    first: float, second: float, share: float, temperature: float
) -> None:
    mixed = share * first + (1.0 - share) * second
    parts = share * solution.enthalpy(first, 0.88, temperature)
    parts += (1.0 - share) * solution.enthalpy(second, 0.88, temperature)
    assert solution.enthalpy(mixed, 0.88, temperature) == pytest.approx(parts, rel=1e-9)


@given(st.floats(0.0, 0.85), st.floats(0.0, 100.0))
def test_density_without_sugar_is_waters_and_grows_with_brix(
    brix: float, temperature: float
) -> None:
    here = solution.density(brix, temperature)
    assert here >= solution.density(0.0, temperature) - 1e-9
    assert solution.density(0.0, temperature) == pytest.approx(
        water.water_density(temperature), rel=3e-5
    )


def test_an_empty_solution_does_not_raise_the_boiling_point() -> None:
    assert solution.boiling_point_elevation(0.0, 0.88, 100.0) == pytest.approx(0.0, abs=1e-9)
    assert solution.saturation_coefficient(0.0) == 1.0


@given(st.floats(0.2, 0.84), st.floats(0.86, 0.999), st.floats(0.15, 0.19))
def test_recovery_lies_between_nothing_and_all(molasses: float, juice: float, fibre: float) -> None:
    recovery = account.basic_recovery(1.0, juice, molasses)
    assert 0.0 <= recovery <= 1.0
    assert account.virtual_molasses_purity(juice, recovery) == pytest.approx(molasses, rel=1e-9)
    assert account.reduced_recovery(juice, recovery) == pytest.approx(
        account.reduced_recovery(juice, recovery, "ratio"), rel=1e-9
    )
    assert account.reduced_extraction(1.0, fibre) == 1.0
    assert account.reduced_extraction(0.96, 0.125) == pytest.approx(0.96)


def test_outside_its_range_a_formula_refuses_in_one_line() -> None:
    with pytest.raises(OutOfRange, match=r"dry_substance 0.9 kg/kg .* 0 to 0.85 kg/kg"):
        solution.density(0.90, 20.0)
    with pytest.raises(OutOfRange):
        solution.density(np.array([0.1, 0.9]), 20.0)
    with pytest.raises(OutOfRange):
        solution.density(float("nan"), 20.0)
    assert solution.density(0.90, 20.0, method="Baloh") > 1400.0  # another range


def test_an_unknown_method_is_refused_with_the_nearest() -> None:
    with pytest.raises(UnknownName, match="Did you mean Hoekstra1981"):
        solution.boiling_point_elevation(0.6, 0.9, 80.0, method="Hoekstra1980")
    with pytest.raises(UnknownName):
        solution.solubility(60.0, method="Vavrinec")
    with pytest.raises(UnknownName):
        account.target_purity(1.0, method="ReinSmith")


def test_orders_of_magnitude_a_shift_chemist_would_expect() -> None:
    assert 1.25e3 < solution.density(0.65, 60.0) < 1.32e3
    assert 3.0 < solution.boiling_point_elevation(0.68, 0.87, 54.0) < 5.0
    assert 6.5e6 < bagasse.net_calorific_value(0.50, 0.02, 0.025) < 8e6
    assert 2.2e6 < water.latent_heat(100.0) < 2.3e6
    assert 0.13 < first_juice.ccs(0.2154, 0.1914, 0.1505) < 0.15
