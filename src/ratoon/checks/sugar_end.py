"""Registered formulas of the sugar end: purity algebra, supersaturation, centrifugals."""

from __future__ import annotations

from math import exp

from ratoon.account.figures import purities
from ratoon.checks.registry import choice, formula, library
from ratoon.properties import air, drying, solution
from ratoon.properties.centrifuge import gravity_factor
from ratoon.properties.water.saturation import saturation_pressure

Q = float
INCH = 0.0254  # m


@formula("supersaturation", "", brix="Bx", purity="%", t_C="degC")
def _supersaturation(brix: Q, purity: Q, t_C: Q) -> Q:
    """Supersaturation of a liquor, its impurities counted."""
    return float(solution.supersaturation(brix * purity, 1.0 - brix, t_C))


@formula("centrifugal_throughput", "t/h", charge_t="t", cycles_h="")
def _throughput(charge_t: Q, cycles_h: Q) -> Q:
    """Massecuite through a batch centrifugal."""
    return charge_t * cycles_h / 3600.0


@formula("gravity_factor", "", D_m="m", D_in="", rpm="rpm")
def _gravity(rpm: Q, D_m: Q | None = None, D_in: Q = 0.0) -> Q:
    """Acceleration at a basket's wall over gravity; diameter in m or, as D_in, in inches."""
    return float(gravity_factor(D_in * INCH if D_m is None else D_m, rpm))


def _magnus(t: Q) -> Q:
    """Pressure of saturated vapour [Pa] at a temperature [degC], as the dryer's rows take it."""
    return 611.2 * exp(17.62 * t / (243.12 + t))


@formula("dryer", "", F_DS="t/h", x1="", x2="", Ts1="degC", Ts2="degC", Ta="degC", RH_in="",
         Ga="t/h", cp_sugar="", T2="degC", output="text", vapour="text")  # fmt: skip
def _dryer(
    F_DS: Q, x1: Q, x2: Q, output: str, Ts1: Q = 0.0, Ts2: Q = 0.0, Ta: Q = 0.0, RH_in: Q = 0.0,
    Ga: Q = 1.0, cp_sugar: Q = 1.25, T2: Q = 0.0, vapour: str = "",
) -> Q:  # fmt: skip
    """Sugar dryer: output W1, W2 [kg/kg], T2 [degC], RH2 [%], water, heat [kg/h, MJ/h], air."""
    gone, heat = F_DS * (x1 - x2), drying.heat_given_up(F_DS, x1, x2, Ts1, Ts2)
    if vapour:  # pressure of saturated vapour by another formula than the steam table
        RH_in *= choice("vapour", vapour, {"Magnus": _magnus(Ta)}) / saturation_pressure(Ta)
    inlet = air.humidity(Ta, RH_in)
    outlet = drying.outlet_humidity(inlet, gone, Ga)
    leaves = drying.outlet_temperature(heat, Ga, Ta, inlet, outlet)
    if output == "RH2":
        return 100.0 * float(air.relative_humidity(leaves, outlet))
    if output == "air":
        return 3.6 * float(drying.air_needed(heat, gone, Ta, inlet, T2))
    answers = {"W1": inlet, "W2": outlet, "T2": leaves, "water": 3600.0 * gone,
               "heat": heat * 3600.0 / 1e6}  # fmt: skip
    return float(choice("output", output, answers))


library(
    ("crystal_content", "%", purities.crystal_content,
     "Pmc [%], Pml [%]",
     "Crystal on dry solids of a massecuite, by purities."),
    ("exhaustion", "%", purities.exhaustion,
     "Pmc [%], Pml [%]",
     "Share of a massecuite's sucrose that is crystal."),
    ("two_product_yield", "kg/kg", purities.two_product_yield,
     "J [%], S [%], M [%]",
     "Share of dry solids that leaves in sugar, by purities."),
    ("blend_share", "%", purities.two_product_yield,
     "target [%], high [%], low [%]",
     "Share of the richer stream in a blend of a purity."),
    ("crystal_dissolved", "%", purities.crystal_dissolved,
     "P [%], rise [%]",
     "Crystal dissolved by a rise of purity, per dry solids of molasses."),
    ("pan_evaporation", "kg/kg", purities.pan_evaporation,
     "feed [%], massecuite [%]",
     "Water boiled off in a pan per dry solids."),
)  # fmt: skip
