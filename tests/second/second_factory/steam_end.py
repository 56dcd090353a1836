"""Boiler by losses, turbines, let-down, exhaust main, deaerator, power."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from second_factory.properties import (
    F,
    I,
    Stream,
    W,
    boils_at,
    dissolved,
    mass,
    saturated,
    steam,
    vapour,
    water,
)

Given = Mapping[str, float]
T_PER_H = 1.0 / 3.6
FUEL_N, SULPHUR = 0.0016, 0.0004  # [Jenkins1998]


def burning(g: Given, moisture: float) -> dict[str, float]:
    """Flue gas of bagasse burnt completely [kmol or kg for each kg dry]."""
    C, H, air_ratio = g["bagasse.carbon"], g["bagasse.hydrogen"], g["boiler.air_ratio"]
    oxygen = C / 12.011 + H / 4.032 + SULPHUR / 32.06 - g["bagasse.oxygen"] / 31.998  # kmol
    nitrogen = air_ratio * oxygen * 0.7905 / 0.2095 + FUEL_N / 28.014
    spare = (air_ratio - 1.0) * oxygen
    dry = C / 12.011 + SULPHUR / 32.06 + spare + nitrogen
    kilos = C / 12.011 * 44.009 + SULPHUR / 32.06 * 64.06 + spare * 31.998 + nitrogen * 28.158
    wet = H / 2.016 + moisture / (1.0 - moisture) / 18.015
    air = oxygen * 31.998 * (1.0 + 0.7905 / 0.2095 * 28.158 / 31.998)
    return {"dry": dry, "dry_mass": kilos, "water": wet, "mass": kilos + wet * 18.015,
            "oxygen": spare, "carbon_dioxide": C / 12.011, "air": air}  # fmt: skip


def fuel(g: Given, bagasse: Stream) -> dict[str, float]:
    """Gross heat by [Don1977] and efficiency on it, by dry gas, water vapour and the rest."""
    moisture, whole = bagasse[W] / mass(bagasse), mass(bagasse)
    ash, brix = (bagasse[I] + 0.015 * bagasse[F]) / whole, dissolved(bagasse) / whole
    gross = 1e3 * (19605.0 * (1.0 - moisture - ash) - 3114.0 * brix)
    net = 1e3 * (18309.0 - 20760.0 * moisture - 19605.0 * ash - 3114.0 * brix)
    gas, t = burning(g, moisture), g["boiler.stack.temperature"]
    dry = 1.0 - moisture
    carried = gas["dry_mass"] * dry * 1015.0 * (t - 30.0)
    each = 1e3 * (2442.0 + 1.9 * (t - 25.0))
    gone = carried + (moisture + 18.015 / 2.016 * g["bagasse.hydrogen"] * dry) * each
    return {"moisture": moisture, "ash": ash, "gross": gross, "net": net, **gas,
            "efficiency": 1.0 - gone / gross - g["boiler.unburnt"], "each": each,
            "carried": carried}  # fmt: skip


def drop(pressure: float, temperature: float, behind: float) -> float:
    """From live steam to wet steam of the same entropy [J/kg]."""
    t, live = boils_at(behind), steam(pressure, temperature)
    wet, dry = saturated(t, 0.0, "smass"), saturated(t, 1.0, "smass")
    quality = (steam(pressure, temperature, "smass") - wet) / (dry - wet)
    return live - water(t) - quality * (vapour(t) - water(t))


def steam_end(
    g: Given, m: Mapping[str, float], process: float, shaft: float, bagasse: Stream,
    bagacillo: float,
) -> dict[str, float]:  # fmt: skip
    """Every flow of steam [kg/s] for what the process takes and the shafts need.

    `m` holds what the mill file states of live steam.
    """
    hours = g["hours.period"] / g["hours.crushing"]
    live = steam(m["live_pressure"], m["live_temperature"])
    to_exhaust, to_vacuum = (
        drop(m["live_pressure"], m["live_temperature"], g[p])
        for p in ("exhaust.pressure", "condensing.pressure")
    )
    drive, back = (g[f"{k}.efficiency"] * to_exhaust for k in ("drives", "back_pressure"))
    vacuum = g["condensing.efficiency"] * to_vacuum
    drives = shaft / 0.97 / drive
    set_ = g["power.back_pressure"] / 0.96 / back
    condensing = g["power.condensing"] / 0.96 / vacuum
    main = steam(g["exhaust.pressure"], g["exhaust.temperature"])
    hot, cool = water(105.0), water(g["feed_water.temperature"])
    other = g["exhaust.other.flow"] * hours
    fixed = drives + set_ + condensing + 2.0 * T_PER_H * hours
    blows, shut, solved = False, 0.0, np.zeros(4)
    for _ in range(200):
        # unknown: let-down, vent, spray, deaerator steam; one of the first two is shut
        a = [[1.0, -1.0, 1.0, -1.0], [live, -main, hot, -main],
             [1.02 * (cool - hot), 0.0, 0.0, main - cool],
             [float(blows), float(not blows), 0.0, 0.0]]  # fmt: skip
        leaves = process + other
        b = [leaves - drives - set_,
             leaves * main - drives * (live - drive) - set_ * (live - back),
             1.02 * fixed * (hot - cool), shut]  # fmt: skip
        before, solved = solved, np.linalg.solve(a, b)
        if not blows and solved[0] <= 0.0:
            blows, shut = True, 0.0
            continue
        shut = 1e-6**2 / 4.0 / solved[1 if blows else 0]  # the pair's rounded corner
        if np.abs(solved - before).max() < 1e-14:
            break
    made = fixed + solved[0]
    f = fuel(g, bagasse)
    each = live - hot + 0.02 * (962.0e3 - hot)
    burnt = made * each / (f["gross"] * f["efficiency"])
    own = g["own_power.fixed"] * hours + g["own_power.on_cane"] * g["cane.rate"]
    return {
        "drives.drop": to_exhaust, "condensing.drop": to_vacuum,
        "drives.steam.flow": drives, "back_pressure.steam.flow": set_,
        "condensing.steam.flow": condensing, "let_down.flow": float(solved[0]),
        "spray.flow": float(solved[2]), "deaerator.steam.flow": float(solved[3]),
        "vent.flow": float(solved[1]), "boiler.steam.flow": made, "boiler.fuel.flow": burnt,
        "bagasse.store.flow": mass(bagasse) - bagacillo - burnt,
        "power.export": g["power.back_pressure"] + g["power.condensing"] - own,
        "process_steam.flow": process + other + float(solved[3]),
        "boiler.efficiency": f["efficiency"], "bagasse.ash": f["ash"],
        "bagasse.gross_heat": f["gross"],
    }  # fmt: skip
