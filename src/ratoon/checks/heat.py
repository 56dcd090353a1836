"""Registered formulas for heat transfer, inversion and boiler losses."""

from __future__ import annotations

from ratoon.checks.registry import choice, formula, library
from ratoon.plant.stations.boiler import Boiler
from ratoon.plant.stations.filters import Filters
from ratoon.plant.streams import RAW_JUICE, Stream, put
from ratoon.properties import bagasse, heat_transfer, solution

Q = float
KCAL = heat_transfer.KILOCALORIE


@formula("inverted", "%", brix="Bx", t_C="degC", pH="pH", hours="h", purity="%")
def _inverted(brix: Q, t_C: Q, pH: Q, hours: Q = 3600.0, purity: Q = 1.0) -> Q:
    """Sucrose inverted in a time (an hour unless given), pH at the juice's temperature."""
    rate = solution.inversion_rate(brix, purity, t_C, pH)
    return float(solution.inverted(rate, hours))


@formula("heater_coefficient_kcal", "", t_vapour="degC", velocity="m/s")
def _coefficient_kcal(t_vapour: Q, velocity: Q) -> Q:
    """Coefficient of a juice heater in the old unit [kcal/m2.h.degC]."""
    return float(heat_transfer.heater_coefficient(t_vapour, velocity)) / KCAL


@formula("heater", "", flow_t_h="t/h", cp_kcal="", t_in="degC", t_out="degC", t_vapour="degC",
         velocity="m/s", output="text")  # fmt: skip
def _heater(flow_t_h: Q, cp_kcal: Q, t_in: Q, t_out: Q, t_vapour: Q, velocity: Q, output: str) -> Q:
    """Juice heater: output coefficient [kcal/m2.h.K], area [m2], duty [MW] or vapour [t/h]."""
    capacity = flow_t_h * cp_kcal * 4186.8
    coefficient = heat_transfer.heater_coefficient(t_vapour, velocity)
    duty = capacity * (t_out - t_in)
    answers = {
        "coefficient": coefficient / KCAL,
        "area": heat_transfer.heater_area(capacity, t_in, t_out, t_vapour, coefficient),
        "duty": duty / 1e6,
        "vapour": duty / (530.0 * 4186.8) * 3.6,
    }
    return float(choice("output", output, answers))


@formula("bagasse_boiler_loss", "", moisture="%", ash="%", brix="%", air_ratio="",
         t_gas_C="degC", t_air_C="degC", output="text")  # fmt: skip
def _loss(moisture: Q, ash: Q, brix: Q, air_ratio: Q, t_gas_C: Q, t_air_C: Q, output: str) -> Q:
    """Losses by the plant's boiler, % of GCV or NCV: dry_gas, dry_gas_net, water, vapour_net."""
    boiler = Boiler("bagasse", Filters("bagasse"), air_temperature=t_air_C, ash_of_fibre=0.0)
    fuel = {v.name: v.start for v in boiler.table()} | {"boiler.air_ratio": air_ratio}
    fibre = 1.0 - moisture - brix - ash
    put(fuel, "bagasse", Stream(moisture, brix, 0.0, fibre, ash), RAW_JUICE)
    dry, vapour = boiler.losses(fuel | {"boiler.stack.temperature": t_gas_C})
    _, latent = boiler.losses(fuel | {"boiler.stack.temperature": 25.0})
    on_net = boiler.gross(fuel) / bagasse.net_calorific_value(moisture, ash, brix)
    answers = {
        "dry_gas": dry,
        "dry_gas_net": dry * on_net,
        "water": vapour,
        "vapour_net": (vapour - latent) * on_net,
    }
    return 100.0 * float(choice("output", output, answers))


@formula("calorific_gain", "%", moisture_before="%", moisture_after="%", ash="%", brix="%",
         basis="text")  # fmt: skip
def _gain(moisture_before: Q, moisture_after: Q, ash: Q, brix: Q, basis: str) -> Q:
    """Gain in net calorific value of bagasse dried a little, per kg wet or dry."""
    before, after = (
        bagasse.net_calorific_value(m, ash, brix) for m in (moisture_before, moisture_after)
    )
    dry = {"wet": 1.0, "dry": (1.0 - moisture_before) / (1.0 - moisture_after)}
    return float(after / before * choice("basis", basis, dry) - 1.0)


library(
    ("evaporator_coefficient", "W/m2.K", heat_transfer.evaporator_coefficient,
     "brix_out [Bx], t_juice [degC], t_chest [degC], method [text]",
     "Coefficient of a clean evaporator vessel; methods Dessin, Swedish."),
    ("heater_coefficient", "W/m2.K", heat_transfer.heater_coefficient,
     "t_vapour [degC], velocity [m/s]",
     "Coefficient of a juice heater."),
)  # fmt: skip
