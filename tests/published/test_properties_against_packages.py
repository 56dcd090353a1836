"""Properties against an independent, general-purpose library (CoolProp), never against ourselves.

CoolProp carries IAPWS-95 and IF97 for water, and reference equations for air and gases; it knows no
sucrose.
"""

from __future__ import annotations

import pytest
from CoolProp import CoolProp

from ratoon.properties import air, flue_gas, water

# pressure [Pa], temperature [degC]: where a mill's liquid and steam live
LIQUID = [(1e5, 5.0), (1e5, 60.0), (1e5, 95.0), (5e5, 120.0), (3e6, 105.0), (7e6, 250.0)]
STEAM = [(1e4, 60.0), (1e5, 110.0), (2.08e5, 132.0), (1.8e6, 260.0), (2.5e6, 350.0), (4.5e6, 440.0)]


@pytest.mark.parametrize(("pressure", "temperature"), LIQUID)
def test_liquid_water_is_the_same_industrial_formulation(
    pressure: float, temperature: float
) -> None:
    state = ("P", pressure, "T", temperature + 273.15, "IF97::Water")
    assert water.water_enthalpy(pressure, temperature) == pytest.approx(
        CoolProp.PropsSI("H", *state), rel=1e-9
    )
    assert 1.0 / water.water_volume(pressure, temperature) == pytest.approx(
        CoolProp.PropsSI("D", *state), rel=1e-9
    )
    assert water.water_entropy(pressure, temperature) == pytest.approx(
        CoolProp.PropsSI("S", *state), rel=1e-9
    )
    assert water.water_specific_heat(pressure, temperature) == pytest.approx(
        CoolProp.PropsSI("C", *state), rel=1e-9
    )


@pytest.mark.parametrize(("pressure", "temperature"), STEAM)
def test_steam_agrees_with_the_scientific_formulation(pressure: float, temperature: float) -> None:
    """IAPWS-95 is another equation altogether: 0.2 kJ/kg and 0.05 % of volume between them."""
    state = ("P", pressure, "T", temperature + 273.15, "HEOS::Water")
    assert abs(water.steam_enthalpy(pressure, temperature) - CoolProp.PropsSI("H", *state)) < 250.0
    assert water.steam_volume(pressure, temperature) == pytest.approx(
        1.0 / CoolProp.PropsSI("D", *state), rel=5e-4
    )
    assert water.steam_entropy(pressure, temperature) == pytest.approx(
        CoolProp.PropsSI("S", *state), rel=1e-4
    )


@pytest.mark.parametrize(("pressure", "temperature", "behind"),
                         [(2.5e6, 350.0, 2.08e5), (2.5e6, 350.0, 1.0e4), (6.2e6, 480.0, 2.5e5),
                          (1.8e6, 300.0, 1.5e5)])  # fmt: skip
def test_isentropic_drop(pressure: float, temperature: float, behind: float) -> None:
    """To wet steam of the live steam's entropy; enthalpies differ by 0.2 kJ/kg as above."""
    state = ("P", pressure, "T", temperature + 273.15, "HEOS::Water")
    after = ("P", behind, "S", CoolProp.PropsSI("S", *state), "HEOS::Water")
    drop = CoolProp.PropsSI("H", *state) - CoolProp.PropsSI("H", *after)
    assert abs(water.isentropic_drop(pressure, temperature, behind) - drop) < 500.0


@pytest.mark.parametrize("temperature", [5.0, 40.0, 55.0, 80.0, 100.0, 121.5, 180.0, 250.0])
def test_saturation_line(temperature: float) -> None:
    kelvin = temperature + 273.15
    pressure = CoolProp.PropsSI("P", "T", kelvin, "Q", 0, "HEOS::Water")
    assert water.saturation_pressure(temperature) == pytest.approx(pressure, rel=2e-4)
    assert water.saturation_temperature(pressure) == pytest.approx(temperature, abs=0.01)
    vapour = CoolProp.PropsSI("H", "T", kelvin, "Q", 1, "HEOS::Water")
    liquid = CoolProp.PropsSI("H", "T", kelvin, "Q", 0, "HEOS::Water")
    assert abs(water.vapour_enthalpy_saturated(temperature) - vapour) < 600.0
    assert abs(water.liquid_enthalpy(temperature) - liquid) < 600.0


@pytest.mark.parametrize(("temperature", "relative"), [(20.0, 0.5), (30.0, 0.7), (46.0, 0.3)])
def test_humid_air(temperature: float, relative: float) -> None:
    """An ideal-gas mixture is 0.5 % dry of the real one: the enhancement of vapour pressure."""
    real = CoolProp.HAPropsSI("W", "T", temperature + 273.15, "P", 101325, "R", relative)
    assert air.humidity(temperature, relative) == pytest.approx(real, rel=6e-3)
    found = air.enthalpy(temperature, real) - air.enthalpy(0.0, 0.0)
    state = ("T", temperature + 273.15, "P", 101325, "W", real)
    enthalpy = CoolProp.HAPropsSI("H", *state) - CoolProp.HAPropsSI(
        "H", "T", 273.15, "P", 101325, "W", 0
    )
    assert found == pytest.approx(enthalpy, rel=5e-3)


@pytest.mark.parametrize(
    ("gas", "name"),
    [("CO2", "CarbonDioxide"), ("N2", "Nitrogen"), ("O2", "Oxygen"), ("SO2", "SulfurDioxide")],
)
@pytest.mark.parametrize("temperature", [100.0, 180.0, 250.0])
def test_mean_specific_heat_of_thin_gases(gas: str, name: str, temperature: float) -> None:
    thin = 100.0  # Pa, where a gas is ideal
    rise = CoolProp.PropsSI("H", "T", temperature + 273.15, "P", thin, name)
    rise -= CoolProp.PropsSI("H", "T", 298.15, "P", thin, name)
    assert flue_gas.mean_specific_heat(gas, temperature) == pytest.approx(
        rise / (temperature - 25.0), rel=2e-3
    )


def test_air_and_water_vapour_in_flue_gas() -> None:
    air_rise = CoolProp.PropsSI("H", "T", 473.15, "P", 100.0, "Air")
    air_rise -= CoolProp.PropsSI("H", "T", 298.15, "P", 100.0, "Air")
    assert flue_gas.mean_specific_heat("air", 200.0) == pytest.approx(air_rise / 175.0, rel=2e-3)
    vapour_rise = CoolProp.PropsSI("H", "T", 473.15, "P", 100.0, "Water")
    vapour_rise -= CoolProp.PropsSI("H", "T", 298.15, "P", 100.0, "Water")
    assert flue_gas.mean_specific_heat("H2O", 200.0) == pytest.approx(vapour_rise / 175.0, rel=3e-3)
