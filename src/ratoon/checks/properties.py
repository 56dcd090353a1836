"""Registered formulas of the room `properties`."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from ratoon.base.validity import unchecked
from ratoon.checks.registry import choice, formula, given
from ratoon.properties import (
    air,
    bagasse,
    crystal,
    flue_gas,
    massecuite,
    solution,
    water,
)

Q = float


@formula("density", "kg/m3", brix="Bx", t_C="degC", method="text")
def _density(brix: Q, t_C: Q, method: str = "Bubnik1995") -> Q:
    """Density of a sucrose solution; method Bubnik1995 or Baloh."""
    return float(solution.density(brix, t_C, method))


@formula(
    "massecuite_density", "kg/m3", x_crystal="fraction", rho_crystal="kg/m3", rho_liquor="kg/m3"
)
def _massecuite_density(x_crystal: Q, rho_crystal: Q, rho_liquor: Q) -> Q:
    """Density of a gas-free massecuite by mixing."""
    return float(massecuite.density(x_crystal, rho_liquor, rho_crystal))


@formula("apparent_specific_gravity", "", brix="Bx")
def _apparent(brix: Q) -> Q:
    """Apparent specific gravity 20/20 of a sucrose solution."""
    return float(solution.apparent_specific_gravity(brix))


@formula("degrees_baume", "deg Be", brix="Bx")
def _baume(brix: Q) -> Q:
    """Degrees Baume, modulus 145."""
    return float(solution.degrees_baume(brix))


@formula("sugar_in_volume", "g/100 mL", brix="Bx")
def _sugar_in_volume(brix: Q) -> Q:
    """Sucrose in 100 mL of solution at 20 degC."""
    return float(solution.sugar_in_volume(brix)) / 10.0


@formula("hydrometer_correction", "Bx", brix_read="Bx", t_C="degC", glass_expansion="")
def _hydrometer(brix_read: Q, t_C: Q, glass_expansion: Q = 25e-6) -> Q:
    """Brix to add to a hydrometer read away from 20 degC."""
    return float(solution.hydrometer_correction(brix_read, t_C, glass_expansion))


@formula("refractive_index", "", brix="Bx")
def _index(brix: Q) -> Q:
    """Refractive index at 589 nm, 20 degC."""
    return float(solution.refractive_index(brix))


@formula("brix_from_refractive_index", "Bx", index="")
def _brix(index: Q) -> Q:
    """Brix from the refractive index at 589 nm, 20 degC."""
    return float(solution.brix_from_refractive_index(index))


@formula("refractometer_correction", "Bx", brix_read="Bx", t_C="degC")
def _refractometer(brix_read: Q, t_C: Q) -> Q:
    """Brix to add to a refractometer read away from 20 degC."""
    return float(solution.refractometer_correction(brix_read, t_C))


@formula(
    "boiling_point_elevation", "K", brix="Bx", purity="%", t_sat_C="degC", t_C="degC",
    p_kPa="kPa a", method="text",
)  # fmt: skip
def _elevation(
    brix: Q,
    purity: Q = 1.0,
    t_sat_C: Q | None = None,
    t_C: Q | None = None,
    p_kPa: Q | None = None,
    method: str = "blend",
) -> Q:
    """Boiling-point elevation over the vapour's saturation temperature (or its pressure)."""
    saturated = t_sat_C if t_sat_C is not None else t_C
    if saturated is None:
        saturated = float(water.saturation_temperature(p_kPa or water.ATMOSPHERE))
    bare = unchecked(solution.boiling_point_elevation)
    return float(bare(brix, purity, saturated, method=method))


@formula("elevation_ratio", "", t_C="degC")
def _elevation_ratio(t_C: Q) -> Q:
    """Boiling-point elevation at a pressure over that at 1 atm, textbook rule."""
    return float(solution.elevation_ratio(t_C, water.latent_heat(t_C)))


@formula("specific_heat", "kJ/kg.K", brix="Bx", t_C="degC", purity="%", method="text")
def _specific_heat(brix: Q, t_C: Q, purity: Q = 1.0, method: str = "Bubnik1995") -> Q:
    """Specific heat of a sugar solution."""
    return float(solution.specific_heat(brix, purity, t_C, method))


@formula("solution_enthalpy", "kJ/kg", brix="Bx", t_C="degC", purity="%", method="text")
def _enthalpy(brix: Q, t_C: Q, purity: Q = 1.0, method: str = "steam table") -> Q:
    """Enthalpy of a sugar solution above 0 degC."""
    return float(solution.enthalpy(brix, purity, t_C, method))


@formula("thermal_conductivity", "W/m.K", brix="Bx", t_C="degC", method="text")
def _conductivity(brix: Q, t_C: Q, method: str = "Riedel1949") -> Q:
    """Thermal conductivity of a sugar solution."""
    return float(solution.thermal_conductivity(brix, t_C, method))


@formula("viscosity", "mPa.s", brix="Bx", t_C="degC", purity="%")
def _viscosity(brix: Q, t_C: Q, purity: Q = 1.0) -> Q:
    """Viscosity of a sugar solution."""
    return float(solution.viscosity(brix, purity, t_C))


@formula("solubility", "%", t_C="degC", method="text")
def _solubility(t_C: Q, method: str = "Vavrinecz1962") -> Q:
    """Sucrose in a saturated pure solution."""
    return float(solution.solubility(t_C, method))


@formula("sucrose_water_ratio", "kg/kg", t_C="degC", method="text")
def _ratio(t_C: Q, method: str = "Vavrinecz1962") -> Q:
    """Sucrose per water in a saturated pure solution."""
    return float(solution.sucrose_water_ratio(t_C, method))


@formula("saturation_coefficient", "", I_over_W="kg/kg")
def _coefficient(I_over_W: Q) -> Q:
    """Saturation coefficient of cane liquor, linear form."""
    return float(solution.saturation_coefficient(I_over_W))


@formula("crystal_specific_heat", "kJ/kg.K", t_C="degC", method="text")
def _crystal_heat(t_C: Q, method: str = "Bubnik1995") -> Q:
    """Specific heat of crystal sucrose."""
    return float(crystal.specific_heat(t_C, method))


@formula(
    "crystal_density_from_cell", "g/mL", a="angstrom", b="angstrom", c="angstrom", beta="deg", Z=""
)
def _cell(a: Q, b: Q, c: Q, beta: Q, Z: Q) -> Q:
    """Density of sucrose from its unit cell."""
    volume = a * b * c * 1e-24 * math.sin(math.radians(beta))  # mL
    return Z * 1000.0 * crystal.MOLAR_MASS / (6.02214076e23 * volume)


@formula("heat_of_combustion", "kJ/kg", M="", kJ_per_mol="kJ/mol")
def _combustion(M: Q, kJ_per_mol: Q) -> Q:
    """Heat of combustion per mass from that per mole; molar mass in g/mol."""
    return kJ_per_mol * 1e3 / (M / 1e3)


@formula("heat_of_crystallisation", "kJ/kg", t_C="degC")
def _crystallisation(t_C: Q) -> Q:
    """Heat freed when sucrose crystallises from its saturated solution."""
    return float(crystal.heat_of_crystallisation(t_C))


ICE_POINT = 273.15


@formula("saturation_pressure", "MPa a", T_K="K abs", t_C="degC")
def _saturation_pressure(T_K: Q | None = None, t_C: Q | None = None) -> Q:
    """Saturation pressure of water."""
    return float(water.saturation_pressure(_celsius(T_K, t_C)))


@formula("saturation_temperature", "K abs", p_MPa="MPa a")
def _saturation_temperature(p_MPa: Q) -> Q:
    """Saturation temperature of water [K]."""
    return float(water.saturation_temperature(p_MPa)) + ICE_POINT


def _celsius(kelvin: Q | None, celsius: Q | None) -> Q:
    return given(t_C=celsius, T_K=None if kelvin is None else kelvin - ICE_POINT)


def _register_state(name: str, unit: str, function: Callable[..., Any], text: str) -> None:
    def shell(p_MPa: Q, T_K: Q | None = None, t_C: Q | None = None) -> Q:
        return float(function(p_MPa, _celsius(T_K, t_C)))

    shell.__doc__ = text
    formula(name, unit, p_MPa="MPa a", T_K="K abs", t_C="degC")(shell)


_register_state("water_volume", "m3/kg", water.water_volume, "Volume of liquid water.")
_register_state("water_enthalpy", "kJ/kg", water.water_enthalpy, "Enthalpy of liquid water.")
_register_state("water_entropy", "kJ/kg.K", water.water_entropy, "Entropy of liquid water.")
_register_state(
    "water_specific_heat", "kJ/kg.K", water.water_specific_heat, "Specific heat of liquid water."
)
_register_state("steam_volume", "m3/kg", water.steam_volume, "Volume of steam.")
_register_state("steam_enthalpy", "kJ/kg", water.steam_enthalpy, "Enthalpy of steam.")
_register_state("steam_entropy", "kJ/kg.K", water.steam_entropy, "Entropy of steam.")
_register_state(
    "steam_specific_heat", "kJ/kg.K", water.steam_specific_heat, "Specific heat of steam."
)


def _register_saturated(name: str, unit: str, function: Callable[..., Any], text: str) -> None:
    def shell(T_K: Q | None = None, t_C: Q | None = None) -> Q:
        return float(function(_celsius(T_K, t_C)))

    shell.__doc__ = text
    formula(name, unit, T_K="K abs", t_C="degC")(shell)


_register_saturated("water_density", "kg/m3", water.water_density, "Density of water at 1 atm.")
_register_saturated(
    "saturated_liquid_enthalpy", "kJ/kg", water.liquid_enthalpy, "Enthalpy of boiling water."
)
_register_saturated(
    "saturated_vapour_enthalpy",
    "kJ/kg",
    water.vapour_enthalpy_saturated,
    "Enthalpy of dry saturated steam.",
)
_register_saturated(
    "saturated_vapour_volume",
    "m3/kg",
    water.vapour_volume_saturated,
    "Volume of dry saturated steam.",
)


@formula("latent_heat", "kJ/kg", t_C="degC", method="text")
def _latent_heat(t_C: Q, method: str = "IF97") -> Q:
    """Heat of evaporation of water; method IF97, Rein2007 or Hugot."""
    return float(water.latent_heat(t_C, method))


@formula("flash_fraction", "%", t1_C="degC", t2_C="degC")
def _flash(t1_C: Q, t2_C: Q) -> Q:
    """Share of a condensate that flashes when its pressure falls."""
    return float(water.flash_fraction(t1_C, t2_C))


@formula("gross_calorific_value", "kJ/kg", moisture="%", ash="%", brix="%", pol="%", method="text")
def _gross(
    moisture: Q, ash: Q = 0.0, brix: Q = 0.0, pol: Q | None = None, method: str = "Don1977"
) -> Q:
    """Gross calorific value of bagasse as fired; method Hugot asks pol, the other ash and brix."""
    third = brix if pol is None else pol
    return float(bagasse.gross_calorific_value(moisture, ash, third, method))


@formula("net_calorific_value", "kJ/kg", moisture="%", ash="%", brix="%", pol="%", method="text")
def _net(
    moisture: Q, ash: Q = 0.0, brix: Q = 0.0, pol: Q | None = None, method: str = "Don1977"
) -> Q:
    """Net calorific value of bagasse as fired; methods Don1977, SASTA-LM, Hugot."""
    third = brix if pol is None else pol
    return float(bagasse.net_calorific_value(moisture, ash, third, method))


@formula("mean_specific_heat", "kJ/kg.K", t_C="degC", gas="text")
def _gas_heat(t_C: Q, gas: str) -> Q:
    """Mean specific heat of a flue-gas component from 25 degC, ideal gas."""
    return float(flue_gas.mean_specific_heat(gas, t_C))


@formula(
    "combustion", "", C="%", H="%", O_="%", N="%", S="%", air_ratio="", moisture="%", output="text"
)
def _combustion_figure(
    C: Q,
    H: Q,
    O_: Q,
    N: Q,
    S: Q,
    output: str,
    air_ratio: Q = 1.0,
    moisture: Q = 0.0,
) -> Q:
    """Burning dry bagasse: output oxygen, air, carbon_dioxide, free_oxygen [%], mass or volume."""
    fuel = flue_gas.DryFuel(C, H, O_, N, S)
    gas = flue_gas.flue_gas(air_ratio, moisture, fuel)
    answers = {
        "oxygen": flue_gas.stoichiometric_oxygen(fuel),
        "air": flue_gas.stoichiometric_air(fuel),
        "carbon_dioxide": 100.0 * gas.carbon_dioxide / gas.dry,
        "free_oxygen": 100.0 * gas.oxygen / gas.dry,
        "mass": gas.mass,
        "volume": gas.normal_volume,
    }
    return float(choice("output", output, answers))


@formula("humidity", "kg/kg", t_C="degC", RH="fraction", p_Pa="Pa a")
def _humidity(t_C: Q, RH: Q, p_Pa: Q = water.ATMOSPHERE) -> Q:
    """Water in air per dry air."""
    return float(air.humidity(t_C, RH, p_Pa))
