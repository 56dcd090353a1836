"""Water and steam by IAPWS-IF97: regions 1 (liquid), 2 (steam) and 4 (saturation).

Read `saturation`, then `liquid` and `steam`; `formulation` is what the regions share, `region1` and
`region2` hold the release's tables.
Temperatures in degC, pressures in Pa absolute, enthalpies in J/kg.
"""

from ratoon.properties.water.liquid import (
    ATMOSPHERE,
    liquid_enthalpy,
    water_density,
    water_enthalpy,
    water_entropy,
    water_specific_heat,
    water_volume,
)
from ratoon.properties.water.saturation import (
    ZERO_CELSIUS,
    saturation_pressure,
    saturation_temperature,
)
from ratoon.properties.water.steam import (
    flash_fraction,
    isentropic_drop,
    latent_heat,
    steam_enthalpy,
    steam_entropy,
    steam_specific_heat,
    steam_volume,
    vapour_enthalpy_saturated,
    vapour_volume_saturated,
)

__all__ = [
    "ATMOSPHERE",
    "ZERO_CELSIUS",
    "flash_fraction",
    "isentropic_drop",
    "latent_heat",
    "liquid_enthalpy",
    "saturation_pressure",
    "saturation_temperature",
    "steam_enthalpy",
    "steam_entropy",
    "steam_specific_heat",
    "steam_volume",
    "vapour_enthalpy_saturated",
    "vapour_volume_saturated",
    "water_density",
    "water_enthalpy",
    "water_entropy",
    "water_specific_heat",
    "water_volume",
]
