"""Flue gas of bagasse: oxygen and air demand, composition, mean specific heats."""

from __future__ import annotations

from dataclasses import dataclass

from ratoon.base.maths import Quantity
from ratoon.base.validity import Range, valid_for

OXYGEN_IN_AIR = 0.2095  # [mol/mol]
MOLAR = {"C": 12.011, "H": 1.008, "O": 15.999, "N": 14.007, "S": 32.06}  # [g/mol]
ATMOSPHERIC_NITROGEN = 28.158  # [g/mol], nitrogen with the argon
_CO2, _H2O, _O2, _SO2 = 44.009, 18.015, 31.998, 64.06  # [g/mol]
_NORMAL_VOLUME = 22.414  # [m3/kmol] at 0 degC and 101 325 Pa
WATER_PER_HYDROGEN = _H2O / (2.0 * MOLAR["H"])  # 8.937 kg/kg


@dataclass(frozen=True, slots=True)
class DryFuel:
    """Ultimate analysis of the dry fuel [kg/kg dry]; what is left over is ash."""

    carbon: Quantity
    hydrogen: Quantity
    oxygen: Quantity
    nitrogen: float = 0.0
    sulphur: float = 0.0


# Both from memory; air demand differs by 0.3 % between them.
BAGASSE = {
    "Jenkins1998": DryFuel(0.4864, 0.0587, 0.4282, 0.0016, 0.0004),
    "Hugot": DryFuel(0.47, 0.065, 0.44),
}


def stoichiometric_oxygen(fuel: DryFuel = BAGASSE["Jenkins1998"]) -> Quantity:
    """Oxygen to burn the dry fuel completely [kg/kg dry].

    Examples
    --------
    >>> round(stoichiometric_oxygen(BAGASSE["Hugot"]), 3)
    1.328
    """
    carbon = fuel.carbon / MOLAR["C"] * _O2
    hydrogen = fuel.hydrogen / (4.0 * MOLAR["H"]) * _O2
    return carbon + hydrogen + fuel.sulphur / MOLAR["S"] * _O2 - fuel.oxygen


def stoichiometric_air(fuel: DryFuel = BAGASSE["Jenkins1998"]) -> Quantity:
    """Dry air to burn the dry fuel completely [kg/kg dry].

    Examples
    --------
    >>> round(stoichiometric_air(), 2)
    5.76
    """
    nitrogen = (1.0 - OXYGEN_IN_AIR) / OXYGEN_IN_AIR * ATMOSPHERIC_NITROGEN / _O2
    return stoichiometric_oxygen(fuel) * (1.0 + nitrogen)


@dataclass(frozen=True, slots=True)
class FlueGas:
    """Flue gas per kg of dry fuel [kmol x 1e-3 = mol/g; all in kmol/kg of dry fuel].

    Fields are floats, arrays or symbols: carbon dioxide, sulphur dioxide, oxygen, nitrogen (with
    argon) and water.
    """

    carbon_dioxide: Quantity
    sulphur_dioxide: Quantity
    oxygen: Quantity
    nitrogen: Quantity
    water: Quantity

    @property
    def dry(self) -> Quantity:
        """Dry gas [kmol/kg dry fuel]."""
        return self.carbon_dioxide + self.sulphur_dioxide + self.oxygen + self.nitrogen

    @property
    def dry_mass(self) -> Quantity:
        """Dry gas [kg/kg dry fuel]."""
        burnt = self.carbon_dioxide * _CO2 + self.sulphur_dioxide * _SO2
        return burnt + self.oxygen * _O2 + self.nitrogen * ATMOSPHERIC_NITROGEN

    @property
    def mass(self) -> Quantity:
        """Wet gas [kg/kg dry fuel]."""
        return self.dry_mass + self.water * _H2O

    @property
    def normal_volume(self) -> Quantity:
        """Wet gas at 0 degC and 101 325 Pa [m3/kg dry fuel]."""
        return (self.dry + self.water) * _NORMAL_VOLUME


def flue_gas(
    air_ratio: Quantity,
    moisture: Quantity,
    fuel: DryFuel = BAGASSE["Jenkins1998"],
    air_humidity: Quantity = 0.0,
) -> FlueGas:
    """What leaves the furnace per kg of dry fuel, burnt completely.

    Parameters
    ----------
    air_ratio : air used over air needed [-], 1 or more.
    moisture : of the fuel as fired [kg/kg].
    fuel : ultimate analysis. air_humidity : water in the air [kg/kg dry air].

    Examples
    --------
    >>> gas = flue_gas(1.3, 0.50, BAGASSE["Hugot"])
    >>> round(100 * gas.carbon_dioxide / gas.dry, 1), round(gas.mass, 2)
    (15.3, 9.43)
    """
    needed = stoichiometric_oxygen(fuel) / _O2
    nitrogen = air_ratio * needed * (1.0 - OXYGEN_IN_AIR) / OXYGEN_IN_AIR
    hydrogen_water = fuel.hydrogen / (2.0 * MOLAR["H"])
    air_water = air_ratio * stoichiometric_air(fuel) * air_humidity / _H2O
    return FlueGas(
        carbon_dioxide=fuel.carbon / MOLAR["C"],
        sulphur_dioxide=fuel.sulphur / MOLAR["S"],
        oxygen=(air_ratio - 1.0) * needed,
        nitrogen=nitrogen + fuel.nitrogen / (2.0 * MOLAR["N"]),
        water=hydrogen_water + moisture / (1.0 - moisture) / _H2O + air_water,
    )


# Shomate coefficients A, B, C, D, E of the ideal gas, J/mol.K with T/1000; known from memory and
# agreeing with CoolProp's gases at low pressure within 0.1 % (see the tests). A pure gas at 1 atm
# is up to 0.5 % (CO2) and 2 % (SO2) higher, but no flue gas is pure.
_SHOMATE = {
    "CO2": (24.99735, 55.18696, -33.69137, 7.948387, -0.136638, _CO2),
    "N2": (28.98641, 1.853978, -9.647459, 16.63537, 0.000117, 28.014),
    "O2": (31.32234, -20.23531, 57.86644, -36.50624, -0.007374, _O2),
    "H2O": (30.09200, 6.832514, 6.793435, -2.534480, 0.082139, _H2O),
    "SO2": (21.43049, 74.35094, -57.75217, 16.35534, 0.086731, _SO2),
}


@valid_for(Range("temperature", 30.0, 400.0, "degC"))
def mean_specific_heat(gas: str, temperature: Quantity, reference: float = 25.0) -> Quantity:
    """Mean specific heat of a gas between a reference and a temperature [J/kg.K].

    Parameters
    ----------
    gas : "CO2", "N2", "O2", "H2O", "SO2" or "air".
    temperature : [degC], 30 to 400. reference : [degC].

    Examples
    --------
    >>> round(mean_specific_heat("N2", 100.0) / 1e3, 2)
    1.04
    """
    if gas == "air":
        # by mass, argon counted with the nitrogen
        oxygen = 0.2314 * mean_specific_heat("O2", temperature, reference)
        nitrogen = 0.7552 * mean_specific_heat("N2", temperature, reference)
        return oxygen + nitrogen + 0.0134 * 520.0
    rise = _molar_heat(gas, temperature) - _molar_heat(gas, reference)
    return 1000.0 * rise / (_SHOMATE[gas][5] * (temperature - reference))


def _molar_heat(gas: str, temperature: Quantity) -> Quantity:
    """Integral of the molar heat capacity, without its constant [J/mol]."""
    a, b, c, d, e, _ = _SHOMATE[gas]
    t = (temperature + 273.15) / 1000.0
    return 1000.0 * (a * t + b * t**2 / 2 + c * t**3 / 3 + d * t**4 / 4 - e / t)
