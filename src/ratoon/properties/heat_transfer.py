"""Published formulas for heat-transfer coefficients of evaporators and juice heaters.

They scatter widely: a mill fits its own. They serve as starts and for comparison.
"""

from __future__ import annotations

from ratoon.base.maths import Quantity, log, power
from ratoon.base.validity import Range, choose, valid_for
from ratoon.properties.water.steam import latent_heat

KILOCALORIE = 4186.8 / 3600.0  # W/m2.K in one kcal/m2.h.degC


@valid_for(
    Range("brix", 0.05, 0.80, "kg/kg"),
    Range("juice_temperature", 40.0, 130.0, "degC"),
    Range("chest_temperature", 55.0, 140.0, "degC"),
)
def evaporator_coefficient(
    brix: Quantity,
    juice_temperature: Quantity,
    chest_temperature: Quantity,
    method: str = "Dessin",
) -> Quantity:
    """Heat-transfer coefficient of a clean evaporator vessel [W/m2.K].

    Parameters
    ----------
    brix : of the juice leaving [kg/kg].
    juice_temperature, chest_temperature : [degC].
    method : "Dessin" (take 0.7 to 0.8 of it) or "Swedish"; both from memory [Hugot].

    Examples
    --------
    >>> round(evaporator_coefficient(0.20, 115.0, 121.0))
    3275
    """
    function = choose("evaporator_coefficient", method, _EVAPORATOR)
    return function(100.0 * brix, juice_temperature, chest_temperature)


def _dessin(brix_pct: Quantity, juice: Quantity, chest: Quantity) -> Quantity:
    # kg of vapour per m2, h and K, times its latent heat
    evaporation = 0.001 * (100.0 - brix_pct) * (chest - 54.0)
    return evaporation / 3600.0 * latent_heat(chest)


def _swedish(brix_pct: Quantity, juice: Quantity, chest: Quantity) -> Quantity:
    return 465.0 * juice / brix_pct


_EVAPORATOR = {"Dessin": _dessin, "Swedish": _swedish}


@valid_for(
    Range("vapour_temperature", 50.0, 140.0, "degC"),
    Range("velocity", 0.3, 4.0, "m/s"),
)
def heater_coefficient(vapour_temperature: Quantity, velocity: Quantity) -> Quantity:
    """Heat-transfer coefficient of a juice heater [W/m2.K].

    Parameters
    ----------
    vapour_temperature : [degC]. velocity : of juice in the tubes [m/s].

    Notes
    -----
    6 T (u/1.8)^0.8 kcal/m2.h.K. Source: [HugotHeater] (seen), form from memory.

    Examples
    --------
    >>> round(heater_coefficient(100.0, 1.8), 1)
    697.8
    """
    return KILOCALORIE * 6.0 * vapour_temperature * power(velocity / 1.8, 0.8)


def heater_area(
    heat_capacity_flow: Quantity,
    inlet: Quantity,
    outlet: Quantity,
    vapour_temperature: Quantity,
    coefficient: Quantity,
) -> Quantity:
    """Area of a juice heater [m2].

    Parameters
    ----------
    heat_capacity_flow : juice flow times specific heat [W/K].
    inlet, outlet, vapour_temperature : [degC], the vapour hotter than the outlet.
    coefficient : [W/m2.K].

    Examples
    --------
    250 t/h of juice from 70 to 103 degC by vapour of 114 degC at 684 kcal/m2.h.K; the
    coefficient is [HugotHeater]'s, the figures are ours.

    >>> flow = 250e3 / 3600 * 0.91 * 4186.8  # W/K
    >>> round(heater_area(flow, 70.0, 103.0, 114.0, 684 * 4186.8 / 3600), 0)  # m2
    461.0
    """
    ratio = (vapour_temperature - inlet) / (vapour_temperature - outlet)
    return heat_capacity_flow * log(ratio) / coefficient
