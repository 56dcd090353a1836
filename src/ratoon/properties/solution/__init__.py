"""Sucrose solutions: juice, liquor, mother liquor, molasses. One property a file.

Read `density`, `specific_gravity`, `refractive_index` (what the laboratory reads), then
`boiling_point`, `specific_heat`, `enthalpy`, `transport`, `inversion` (what evaporators need) and
`solubility` (what pans need). Dry substance and purity are fractions.
"""

from ratoon.properties.solution.boiling_point import (
    boiling_point_elevation,
    elevation_ratio,
    water_activity,
)
from ratoon.properties.solution.density import density
from ratoon.properties.solution.enthalpy import departure_from_water, enthalpy
from ratoon.properties.solution.inversion import inversion_rate, inverted, ph_at_temperature
from ratoon.properties.solution.refractive_index import (
    brix_from_refractive_index,
    refractive_index,
    refractometer_correction,
)
from ratoon.properties.solution.solubility import (
    saturation_coefficient,
    solubility,
    sucrose_water_ratio,
    supersaturation,
)
from ratoon.properties.solution.specific_gravity import (
    apparent_specific_gravity,
    degrees_baume,
    hydrometer_correction,
    hydrometer_density,
    sugar_in_volume,
)
from ratoon.properties.solution.specific_heat import specific_heat
from ratoon.properties.solution.transport import thermal_conductivity, viscosity

__all__ = [
    "apparent_specific_gravity",
    "boiling_point_elevation",
    "brix_from_refractive_index",
    "degrees_baume",
    "density",
    "departure_from_water",
    "elevation_ratio",
    "enthalpy",
    "hydrometer_correction",
    "hydrometer_density",
    "inversion_rate",
    "inverted",
    "ph_at_temperature",
    "refractive_index",
    "refractometer_correction",
    "saturation_coefficient",
    "solubility",
    "specific_heat",
    "sucrose_water_ratio",
    "sugar_in_volume",
    "supersaturation",
    "thermal_conductivity",
    "viscosity",
    "water_activity",
]
