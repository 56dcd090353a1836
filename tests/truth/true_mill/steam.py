"""Boilers by losses, turbines or motors, exhaust main, feed water, power."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from true_mill.properties import (
    F,
    I,
    S,
    Stream,
    W,
    boils_at,
    exhaust,
    gross_heat,
    liquid,
    live,
    mass,
)  # fmt: skip

MWH = 3.6e9  # J


@dataclass
class Steam:
    """Flows [t a day], power [J a day]."""

    made: float
    drives: float
    back_pressure: float
    condensing: float
    let_down: float
    spray: float
    deaerator: float
    demand: float
    fuel: float
    stored: float
    ash: float
    efficiency: float
    power_back_pressure: float
    power_condensing: float
    export: float


def steam(process: float, work: float, cane: Stream, bagasse: Stream, bagacillo: Stream,
          plate: Mapping[str, float], at: Mapping[str, float],
          c: Mapping[str, float]) -> Steam:  # fmt: skip
    """A day.

    Parameters
    ----------
    process : exhaust that evaporators and pans take. work : shaft work of the mills [J a day].
    plate : drops, pressures, powers [W]; a set that is not there has no power. at : `hours` of
    crushing, temperatures, air ratio.
    """
    day, size = 24.0, plate["rate"] / 470.0
    hot = live(c["boiler.pressure"] * plate["live.pressure"],
               plate["live.temperature"] + c["boiler.temperature"])  # fmt: skip
    main = exhaust(at["exhaust.pressure"], at["exhaust.temperature"])
    feed, cool = liquid(c["boiler.feed"]), liquid(at["feed"])
    other = c["exhaust.other"] * size * day
    drives = 0.0
    if plate["electric"] < 0.5:
        drives = work / c["gear"] / (1000.0 * c["drives"] * plate["drop"])
    back_power = at["back_pressure"] * at["hours"] * 3600.0
    back = back_power / c["alternator"] / (1000.0 * c["back_pressure"] * plate["drop"])
    condensing_power = at["condensing"] * 86400.0
    condensing = condensing_power / c["alternator"] / (
        1000.0 * c["condensing"] * plate["drop.vacuum"]
    )  # fmt: skip
    made = drives + back + condensing
    let_down = spray = deaerator = demand = 0.0
    for _ in range(60):
        water = (1.0 + c["boiler.blowdown"]) * made
        deaerator = water * (feed - cool) / (main - cool)
        demand = process + deaerator + other
        # mass and heat of the main: turbines and let-down give, spray fills up
        given = drives * (hot - c["drives"] * plate["drop"]) + back * (
            hot - c["back_pressure"] * plate["drop"]
        )
        let_down = (demand * (main - feed) - given + (drives + back) * feed) / (hot - feed)
        if let_down < 0.01 * demand:  # people back the set off rather than blow exhaust away
            back_power *= 1.0 - (0.012 * demand - let_down) / max(back, 1.0)
            back = back_power / c["alternator"] / (1000.0 * c["back_pressure"] * plate["drop"])
        spray = demand - drives - back - let_down
        before, made = made, drives + back + condensing + let_down + c["live.other"] * size * day
        if abs(made - before) < 1e-9 * made:
            break
    moisture = float(bagasse[W]) / mass(bagasse)
    ash = float(bagasse[I] + c["ash_of_fibre"] * bagasse[F]) / mass(bagasse)
    gross = gross_heat(moisture, ash, float(bagasse[S]) / mass(bagasse), c["boiler.heat"])
    dry_fuel = 1.0 - moisture
    gas = (0.45 + c["air.needed"] * at["air"]) * c["boiler.gas"] * (at["stack"] - c["boiler.air"])
    gas *= dry_fuel
    wet = (moisture + c["hydrogen.water"] * dry_fuel) * (2.442e6 + 1900.0 * (at["stack"] - 25.0))
    efficiency = 1.0 - (gas + wet) / gross - c["boiler.unburnt"]
    drum = liquid(min(boils_at(plate["live.pressure"]), 150.0)) + 4500.0 * max(
        boils_at(plate["live.pressure"]) - 150.0, 0.0
    )
    taken = made * (hot - feed + c["boiler.blowdown"] * (drum - feed))
    fuel = taken / (gross * efficiency)
    stored = mass(bagasse) - mass(bagacillo) - fuel
    own = (c["own_power.fixed"] * size * day + c["own_power.on_cane"] * mass(cane) / 1000.0) * MWH
    if plate["electric"] > 0.5:
        own += work / c["motors"]
    export = back_power + condensing_power - own
    return Steam(made, drives, back, condensing, let_down, spray, deaerator, demand, fuel, stored,
                 ash, efficiency, back_power, condensing_power, export)  # fmt: skip
