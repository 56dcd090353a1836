"""Registered formulas of the room `laboratory`."""

from __future__ import annotations

from ratoon.base.validity import fitted_to
from ratoon.checks.registry import choice, formula, given, library
from ratoon.laboratory import (
    bagasse_analysis,
    cane_analysis,
    first_juice,
    molasses_analysis,
    polarimetry,
    raw_sugar,
    refractometry,
    rounding,
)

Q = float


@formula("impurities_in_cane", "%", brix_fej="Bx", pol_fej="%", fibre="%")
def _impurities(brix_fej: Q, pol_fej: Q, fibre: Q) -> Q:
    """Brix less pol in cane from first expressed juice."""
    return float(
        first_juice.brix_in_cane(brix_fej, fibre) - first_juice.pol_in_cane(pol_fej, fibre)
    )


@formula("ccs_slope", "", brix_fej="Bx", pol_fej="%", fibre="%", by="text")
def _ccs_slope(brix_fej: Q, pol_fej: Q, fibre: Q, by: str) -> Q:
    """Change of CCS per unit of brix, pol or fibre (exact: CCS is linear in each)."""
    point = {"brix": brix_fej, "pol": pol_fej, "fibre": fibre}
    choice("by", by, point)
    step = 0.001
    moved = {name: value + step * (name == by) for name, value in point.items()}
    return float((first_juice.ccs(**moved) - first_juice.ccs(**point)) / step)


@formula("recoverable_value_of_four_mills", "%", sucrose="%", brix="%", fibre="%")
@fitted_to("DavisAchary")
def value_of_four_mills(sucrose: Q, brix: Q, fibre: Q) -> Q:
    """Recoverable value of cane by factors fitted to four mills, non-sucrose as Brix less sucrose.

    They say that the print is consistent, and nothing of another mill.
    """
    return float(cane_analysis.recoverable_value(sucrose, brix - sucrose, fibre, 0.3803, 0.0208))


@formula("recoverable_crystal_of_four_mills", "%", sucrose="%", brix="%", fibre="%")
@fitted_to("DavisAchary")
def crystal_of_four_mills(sucrose: Q, brix: Q, fibre: Q) -> Q:
    """Estimated recoverable crystal in cane, fitted to four mills."""
    return 0.9734 * sucrose - 0.5420 * (brix - sucrose) - 0.0160 * fibre


@formula("pol_in_cane_from_press_juice", "%", pol_press="%", fibre_fraction="fraction")
def _press_pol(pol_press: Q, fibre_fraction: Q) -> Q:
    """Pol in cane from press juice of a core sample."""
    absolute = pol_press * first_juice.press_juice_factor(fibre_fraction)
    return float(first_juice.in_cane(absolute, fibre_fraction))


@formula(
    "recoverable_from_press_juice", "%", pol_press="%", fibre_fraction="fraction", purity="%",
    method="text",
)  # fmt: skip
def _press_recoverable(pol_press: Q, fibre_fraction: Q, purity: Q, method: str = "full") -> Q:
    """Recoverable sugar from press juice; method full or simplified."""
    found = first_juice.recoverable_from_press_juice(pol_press, fibre_fraction, purity, method)
    return float(found)


@formula("implied_molasses_purity", "%", a="", b="")
def _implied(a: Q, b: Q) -> Q:
    """Purity at which a - b/Q recovers nothing."""
    return b / a


@formula("absolute_juice_brix_factor", "", fibre="%")
def _brix_factor(fibre: Q) -> Q:
    """First-juice to absolute-juice Brix factor."""
    return float(first_juice.brix_of_absolute_juice(1.0, fibre))


@formula("dry_milling_factor", "", mixed="Bx", crusher="Bx")
def _dry_milling(mixed: Q, crusher: Q) -> Q:
    """Mixed-juice Brix over crusher-juice Brix, first expressed juice taken as the whole."""
    return mixed / crusher


@formula("fibre_by_direct_analysis", "%", brix_extract="Bx", moisture="%")
def _direct_fibre(brix_extract: Q, moisture: Q) -> Q:
    """Fibre in cane from a 1 : 2 extract."""
    return float(cane_analysis.fibre_by_direct_analysis(brix_extract, moisture))


@formula("brix_by_direct_analysis", "%", brix_extract="Bx", moisture="%")
def _direct_brix(brix_extract: Q, moisture: Q) -> Q:
    """Brix in cane from a 1 : 2 extract."""
    fibre = cane_analysis.fibre_by_direct_analysis(brix_extract, moisture)
    return float(cane_analysis.from_extract(brix_extract, fibre))


@formula("direct_analysis_sum", "%", brix_extract="Bx", moisture="%")
def _direct_sum(brix_extract: Q, moisture: Q) -> Q:
    """Fibre, Brix and moisture by direct analysis, summed."""
    return _direct_fibre(brix_extract, moisture) + _direct_brix(brix_extract, moisture) + moisture


@formula("pol_of_juice", "%", brix="Bx", reading="degZ", reading_Z="degZ")
def _pol_of_juice(brix: Q, reading: Q | None = None, reading_Z: Q | None = None) -> Q:
    """Pol of undiluted juice from a polarimeter reading."""
    return float(polarimetry.pol_of_juice(given(reading=reading, reading_Z=reading_Z), brix))


@formula("pol_of_weighed_sample", "%", reading="degZ", grams_in_100_ml="g", tube_dm="dm")
def _weighed(reading: Q, grams_in_100_ml: Q, tube_dm: Q = 2.0) -> Q:
    """Pol of a weighed sample made up to 100 mL, as of raw sugar and molasses."""
    return float(polarimetry.pol_of_weighed_sample(reading, grams_in_100_ml, tube_dm / 10.0))


@formula("pol_of_mud", "%", mass_g="g", volume_mL="mL", reading="degZ")
def _mud(mass_g: Q, volume_mL: Q, reading: Q = 1.0) -> Q:
    """Pol of filter mud per degree of the sugar scale."""
    return float(bagasse_analysis.pol_of_mud(reading, mass_g * 1e-3, volume_mL * 1e-6))


@formula(
    "weight_in_vacuo", "g", weight_in_air_g="g", air_g_mL="g/mL", weights_density="g/mL",
    sucrose_density="g/mL",
)  # fmt: skip
def _vacuo(weight_in_air_g: Q, air_g_mL: Q, weights_density: Q, sucrose_density: Q) -> Q:
    """Mass of a sample weighed in air."""
    densities = (1e3 * air_g_mL, 1e3 * weights_density, 1e3 * sucrose_density)
    return float(polarimetry.weight_in_vacuo(weight_in_air_g, *densities))


@formula("specific_rotation", "deg.mL/g.dm", rotation="deg", conc_g_per_mL="g/mL", tube_dm="dm")
def _rotation(rotation: Q, conc_g_per_mL: Q, tube_dm: Q) -> Q:
    """Specific rotation of a solution."""
    return float(polarimetry.specific_rotation(rotation, conc_g_per_mL, tube_dm / 10.0))


@formula("quartz_rotation", "deg", rotation_0C="deg", t_C="degC")
def _quartz(rotation_0C: Q, t_C: Q = 20.0) -> Q:
    """Rotation of a quartz plate at a temperature (20 degC unless given)."""
    return float(polarimetry.quartz_rotation(rotation_0C, t_C))


@formula("quartz_scale_value", "degZ", rotation="deg", deg_per_Z="deg")
def _scale_value(rotation: Q, deg_per_Z: Q) -> Q:
    """Sugar-scale value of a plate from its rotation."""
    return rotation / deg_per_Z


@formula(
    "bagasse_by_disintegrator", "%", bagasse_g="g", water_g="g", reading_400mm="degZ",
    moisture="%", purity="%", density="g/mL", bfw="", output="text",
)  # fmt: skip
def _disintegrator(
    bagasse_g: Q, water_g: Q, reading_400mm: Q, moisture: Q, purity: Q, density: Q, bfw: Q,
    output: str = "pol",
) -> Q:  # fmt: skip
    """Bagasse by wet disintegration: output pol, brix or fibre."""
    found = bagasse_analysis.bagasse_from_extract(
        bagasse_g, water_g, reading_400mm, moisture, purity, bfw, 1e3 * density
    )
    return float(choice("output", output, {k: getattr(found, k) for k in ("pol", "brix", "fibre")}))


@formula("pol_of_extract", "%", reading_400mm="degZ", density="g/mL")
def _extract(reading_400mm: Q, density: Q) -> Q:
    """Pol of a bagasse extract read in a 400 mm tube."""
    return float(bagasse_analysis.pol_of_extract(reading_400mm, 1e3 * density))


@formula("dilution_from_safety", "%", SF="")
def _dilution_from_safety(SF: Q) -> Q:
    """Dilution indicator from the safety factor."""
    return SF / (1.0 - SF)


@formula("duty_quantity", "t", quantity="t", yield_="%", standard="%")
def _duty(quantity: Q, yield_: Q, standard: Q = 0.92) -> Q:
    """Raw sugar at the standard white yield, from the yield 2 pol - 100."""
    return float(raw_sugar.duty_quantity(quantity, 0.5 * (1.0 + yield_), standard))


@formula("ash_coefficient", "percent", D="")
def _ash(D: Q) -> Q:
    """Conductivity ash per uS/cm, in ten-thousandths of a per cent, at D g in 100 mL."""
    return float(molasses_analysis.conductivity_ash(1.0, 0.0, D)) * 100.0 * 1e4


@formula("rounded", "", value="text", digits="", rule="text")
def _rounded(value: str, digits: Q, rule: str = "half_even") -> Q:
    """A decimal rounded as an agreement says."""
    return float(rounding.rounded(value, int(digits), rule))


library(
    ("brix_in_cane", "%", first_juice.brix_in_cane,
     "brix_fej [Bx], fibre [%]",
     "Brix in cane from first expressed juice."),
    ("pol_in_cane", "%", first_juice.pol_in_cane,
     "pol_fej [%], fibre [%]",
     "Pol in cane from first expressed juice."),
    ("ccs", "%", first_juice.ccs,
     "brix_fej [Bx], pol_fej [%], fibre [%]",
     "Commercial cane sugar."),
    ("recoverable_value", "%", cane_analysis.recoverable_value,
     "sucrose [%], nonsucrose [%], fibre [%], d [], c []",
     "Recoverable value of cane."),
    ("press_juice_factor", "", first_juice.press_juice_factor,
     "fibre_fraction [fraction]",
     "Press juice to absolute juice, core sampling."),
    ("recoverable_fraction", "", first_juice.recoverable_fraction,
     "purity [%]",
     "Recoverable share of pol, 1.4 - 40/Q."),
    ("java_ratio", "%", first_juice.java_ratio,
     "pol_cane [%], pol_fej [%]",
     "Pol in cane over pol of first expressed juice."),
    ("fibre_by_difference", "%", cane_analysis.fibre_by_difference,
     "moisture [%], brix [%]",
     "Fibre of bagasse by difference."),
    ("brix_at_20", "Bx", refractometry.brix_at_20,
     "brix_read [Bx], t_C [degC]",
     "Refractometer brix at 20 degC of a sample read at another prism temperature."),
    ("polarisation_allowance", "%", raw_sugar.polarisation_allowance,
     "pol [%]",
     "What is added to the weight or price of raw sugar of another pol than 96."),
    ("sugar_at_96", "t", raw_sugar.sugar_at_96,
     "quantity [t], pol [%]",
     "Raw sugar in 96 pol, by the polarisation allowance."),
    ("apparent_purity", "%", refractometry.apparent_purity, "pol [%], brix [%]", "Pol over Brix."),
    ("pol_factor", "%", polarimetry.pol_factor,
     "brix [Bx]",
     "Pol of undiluted juice per degree of the sugar scale."),
    ("pol_by_volume", "%", polarimetry.pol_by_volume,
     "reading [degZ], sg [], normal_weight [g]",
     "Pol of a juice taken by volume."),
    ("safety_factor", "", raw_sugar.safety_factor,
     "moisture [%], pol [%]",
     "Safety factor of raw sugar."),
    ("dilution_indicator", "%", raw_sugar.dilution_indicator,
     "moisture [%], pol [%]",
     "Dilution indicator of raw sugar."),
)  # fmt: skip
