"""Crystallisers as coolers, machines, the dryer with its air, and the stores."""

from __future__ import annotations

from collections.abc import Mapping
from math import pi
from typing import Any

from second_factory.properties import (
    N,
    S,
    W,
    X,
    boils_at,
    dissolved,
    heat,
    larger,
    mass,
    pressure_at,
    purity,
)
from second_factory.sugar_end import kept

Given = Mapping[str, float]
Out = dict[str, float]
GRAVITY, ATMOSPHERE, HOUR = 9.80665, 101325.0, 3600.0


def press(m: Mapping[str, float]) -> float:
    """Press at the basket over gravity."""
    return 2.0 * (pi * m["speed"] / 60.0) ** 2 * m["diameter"] / GRAVITY


def sugar_house(f: Mapping[str, Any], g: Given, mill: Mapping[str, Any]) -> Out:
    end, out = f["end"], {}
    made, cooled, t = end["C.pan"], end["cooled"], g["crystalliser.temperature"]
    comes = made - kept(g, "C_massecuite", made)
    whole = g["hours.period"] / g["hours.crushing"]  # the sugar end's own hours
    stays = mill["crystalliser"]["volume"] * mill["pans"]["C"]["density"] / mass(cooled) * whole
    taken = heat(comes, end["C.temperature"]) - heat(cooled, t)
    fall = end["C.temperature"] - t
    out |= {"crystalliser.residence": stays, "crystalliser.cooling": fall,
            "crystalliser.cooling_in_an_hour": fall / stays * HOUR, "crystalliser.heat": taken,
            "crystalliser.water.flow": taken / (4187.0 * g["crystalliser.water.rise"]),
            "crystalliser.crystal_grown.flow": cooled[X] - comes[X],
            "crystalliser.purity_drop": purity(made) - purity(cooled)}  # fmt: skip
    for x, m in mill["centrifugals"].items():
        n, sugar, run_off = f"centrifugal.{x}", end[f"{x}.sugar"], end[f"{x}.molasses"]
        feed = cooled if x == "C" else end[f"{x}.pan"] - kept(g, f"{x}_massecuite", end[f"{x}.pan"])
        crystals = sugar[S] - sugar[N] * run_off[S] / run_off[N]
        out |= {f"{n}.gravity_factor": press(m),
                f"{n}.massecuite.flow": mass(feed),
                f"{n}.load": mass(feed) * 3.6 / whole / (m["count"] * m["capacity"]),
                f"{n}.wash_on_massecuite": end[f"{x}.wash"] / mass(feed),
                f"{n}.crystal_kept.flow": crystals, f"{n}.crystal_lost": 1.0 - crystals / feed[X],
                f"{n}.sugar_on_massecuite": mass(sugar) / mass(feed)}  # fmt: skip
        if "charge" in m:
            out[f"{n}.cycle"] = m["count"] * m["charge"] / mass(feed) * whole
    return out | drying(f, g, mill)


def drying(f: Mapping[str, Any], g: Given, mill: Mapping[str, Any]) -> Out:
    end = f["end"]
    wet, sugar = end["A.sugar"] + end["B.sugar"], end["sugar"]
    dry, gone = dissolved(sugar), wet[W] - sugar[W]
    hot, cool = g["dryer.sugar.in.temperature"], g["dryer.sugar.out.temperature"]
    gives = dry * 1250.0 * (hot - cool) + 4190.0 * (wet[W] * hot - sugar[W] * cool)
    comes, leaves = g["dryer.air.in.temperature"], g["dryer.air.out.temperature"]
    steam_in = g["dryer.air.in.relative_humidity"] * pressure_at(comes)
    inlet = 0.621945 * steam_in / (ATMOSPHERE - steam_in)
    used = (gives - gone * (2501e3 + 1860.0 * leaves)) / (
        (1006.0 + 1860.0 * inlet) * (leaves - comes))  # fmt: skip
    outlet = inlet + gone / used
    steam_out = ATMOSPHERE * outlet / (0.621945 + outlet)
    return {"dryer.air.in.humidity": inlet, "dryer.heat": gives, "dryer.air.flow": used,
            "dryer.air.out.humidity": outlet,
            "dryer.air.out.relative_humidity": steam_out / pressure_at(leaves),
            "dryer.air.out.dew_point": boils_at(steam_out),
            "dryer.air.on_sugar": used / mass(sugar),
            "dryer.load": mass(sugar) * g["hours.crushing"] / g["hours.period"] * 3.6
            / mill["drying"]["rating"]}  # fmt: skip


def stores(f: Mapping[str, Any], g: Given, mill: Mapping[str, Any]) -> Out:
    room = {k: v * 1e3 for k, v in mill["stores"].items()}
    power, cake = f["power"], f["filtered"]["cake"]
    burnt, held = power["boiler.fuel.flow"], g["store.bagasse.held"]
    ash, tanks = power["bagasse.ash"] * burnt, g["store.molasses.held"]
    made = mass(f["end"]["C.molasses"]) - g.get("final_molasses.despatched", 0.0)
    juice, whole = (g[f"hours.{h}"] / g["hours.crushing"] for h in ("evaporator", "period"))
    return {"store.bagasse.fill": held / room["bagasse"],
            "store.bagasse.lasts": held / burnt * whole,
            "store.bagasse.days_to_full": (room["bagasse"] - held) / larger(
                power["bagasse.store.flow"] / whole, 1e-3, 1e-3),
            "store.mud.fill": g["store.mud.held"] / room["mud"],
            "store.mud.fills": room["mud"] / mass(cake) * juice,
            "store.mud.on_cane": (mass(cake) - cake[W]) / g["cane.rate"],
            "store.molasses.fill": tanks / room["molasses"],
            "store.molasses.days_to_full": (room["molasses"] - tanks)
            / larger(made / whole, 1e-3, 1e-3),
            "store.sugar.fill": g["store.sugar.held"] / room["sugar"],
            "store.sugar.days_to_full": (room["sugar"] - g["store.sugar.held"]) / larger(
                (mass(f["end"]["sugar"]) - g.get("sugar.despatched", 0.0)) / whole, 1e-3, 1e-3),
            "store.ash.flow": ash, "store.ash.fills": room["ash"] / ash * whole}  # fmt: skip
