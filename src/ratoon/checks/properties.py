"""Registered formulas of the room `properties`."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from ratoon.base.validity import unchecked
from ratoon.checks.registry import choice, formula, given, library
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


@formula("sugar_in_volume", "g/100 mL", brix="Bx")
def _sugar_in_volume(brix: Q) -> Q:
    """Sucrose in 100 mL of solution at 20 degC."""
    return float(solution.sugar_in_volume(brix)) / 10.0


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


@formula("viscosity", "mPa.s", brix="Bx", t_C="degC", purity="%")
def _viscosity(brix: Q, t_C: Q, purity: Q = 1.0) -> Q:
    """Viscosity of a sugar solution."""
    return float(solution.viscosity(brix, purity, t_C))


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


library(
    ("density", "kg/m3", solution.density,
     "brix [Bx], t_C [degC], method [text]",
     "Density of a sucrose solution; method Bubnik1995 or Baloh."),
    ("massecuite_density", "kg/m3", massecuite.density,
     "x_crystal [fraction], rho_liquor [kg/m3], rho_crystal [kg/m3]",
     "Density of a gas-free massecuite by mixing."),
    ("apparent_specific_gravity", "", solution.apparent_specific_gravity,
     "brix [Bx]",
     "Apparent specific gravity 20/20 of a sucrose solution."),
    ("degrees_baume", "deg Be", solution.degrees_baume, "brix [Bx]", "Degrees Baume, modulus 145."),
    ("hydrometer_correction", "Bx", solution.hydrometer_correction,
     "brix_read [Bx], t_C [degC], glass_expansion []",
     "Brix to add to a hydrometer read away from 20 degC."),
    ("refractive_index", "", solution.refractive_index,
     "brix [Bx]",
     "Refractive index at 589 nm, 20 degC."),
    ("brix_from_refractive_index", "Bx", solution.brix_from_refractive_index,
     "index []",
     "Brix from the refractive index at 589 nm, 20 degC."),
    ("refractometer_correction", "Bx", solution.refractometer_correction,
     "brix_read [Bx], t_C [degC]",
     "Brix to add to a refractometer read away from 20 degC."),
    ("thermal_conductivity", "W/m.K", solution.thermal_conductivity,
     "brix [Bx], t_C [degC], method [text]",
     "Thermal conductivity of a sugar solution."),
    ("solubility", "%", solution.solubility,
     "t_C [degC], method [text]",
     "Sucrose in a saturated pure solution."),
    ("sucrose_water_ratio", "kg/kg", solution.sucrose_water_ratio,
     "t_C [degC], method [text]",
     "Sucrose per water in a saturated pure solution."),
    ("saturation_coefficient", "", solution.saturation_coefficient,
     "I_over_W [kg/kg]",
     "Saturation coefficient of cane liquor, linear form."),
    ("crystal_specific_heat", "kJ/kg.K", crystal.specific_heat,
     "t_C [degC], method [text]",
     "Specific heat of crystal sucrose."),
    ("heat_of_crystallisation", "kJ/kg", crystal.heat_of_crystallisation,
     "t_C [degC]",
     "Heat freed when sucrose crystallises from its saturated solution."),
    ("latent_heat", "kJ/kg", water.latent_heat,
     "t_C [degC], method [text]",
     "Heat of evaporation of water; method IF97, Rein2007 or Hugot."),
    ("flash_fraction", "%", water.flash_fraction,
     "t1_C [degC], t2_C [degC]",
     "Share of a condensate that flashes when its pressure falls."),
    ("mean_specific_heat", "kJ/kg.K", flue_gas.mean_specific_heat,
     "gas [text], t_C [degC]",
     "Mean specific heat of a flue-gas component from 25 degC, ideal gas."),
    ("humidity", "kg/kg", air.humidity,
     "t_C [degC], RH [fraction], p_Pa [Pa a]",
     "Water in air per dry air."),
)  # fmt: skip
