"""The factory from cane to sugar and steam, its recycles closed by going round."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from second_factory import juice_end, steam_end, sugar_end
from second_factory.beside import beside, boilers, cooling
from second_factory.evaporators import evaporator, inverts, liquor
from second_factory.juice_end import over_the_day
from second_factory.properties import (
    Stream,
    boils_at,
    brix,
    dissolved,
    heat,
    juice,
    mass,
    pressure_at,
    purity,
    stream,
)

COMPONENTS = ("water", "sucrose", "nonsucrose", "fibre", "insolubles", "crystal")
Given = Mapping[str, float]


def asked(plant: Any, change: Mapping[str, float]) -> dict[str, float]:
    """All that is stated or set when a plant is asked with some settings changed."""
    stated = {v.name: v.start for v in plant.equations.variables.values()
              if v.kind in ("constant", "assumed")}  # fmt: skip
    return stated | plant.solve(change).given


def moved(g: Given, crushed: Stream) -> dict[str, float]:
    """What goes with cane and imbibition, from what it was on the day."""
    fibre = over_the_day(g, "cane.flow.fibre", float(crushed[3]))
    water = over_the_day(g, "imbibition.on_fibre", g["imbibition.on_fibre"])
    falls = fibre ** g["mills.mixing_fall_with_rate"]
    falls *= water ** g["mills.mixing_fall_with_imbibition"]
    pol = over_the_day(g, "cane.flow.sucrose", float(crushed[1]), 0.0)
    lost = {f"undetermined.{x}": pol * g[f"undetermined.{x}"]
            for x in ("juice_end", "evaporators", "sugar_end")}  # fmt: skip
    return {"mills.mixing": g["mills.mixing"] / falls, **lost}


def driven(f: Mapping[str, Any], g: Given, mill: Mapping[str, Any]) -> float:
    """What pumps and fans take beyond the day's in step with the cane [W]."""
    cane = over_the_day(g, "cane.rate", g["cane.rate"], 0.0)
    powers = boilers(f, g, mill) | cooling(f, g, mill)
    takes = ("cooling_water.pump", "boiler.feed_pump", "boiler.forced_draught",
             "boiler.induced_draught")  # fmt: skip
    return sum(powers[f"{x}.power"] - cane * g[f"day.{x}.power"] for x in takes)


def factory(g: Given, mill: Mapping[str, Any]) -> dict[str, Any]:
    """Every stream, temperature and steam flow; `mill` is the mill file as it stands."""
    crushed = juice_end.cane(g)
    g = {**g, **moved(g, crushed)}
    count, effects = len(mill["mills"]), mill["effects"]
    mills = juice_end.tandem(g, mill["mills"], mill["tandem"]["screen_returns_to"], crushed)
    shaft = (g["shredder.specific_power"] + count * g["mills.specific_power"]) * float(crushed[3])
    t_mixed = juice_end.mixed_temperature(g, crushed, mills, shaft, count)
    mixed, last = mills["mixed"], mills["bagasse"][count]
    shells = [{"saturated": t, "boiling": t + 0.5} for t in np.linspace(112.0, 54.0, len(effects))]
    filtrate, clear = stream(*(0.08 * mixed[:3])), 0.98 * mixed[:3]
    clear, bled, guess = stream(*clear), [0.0] * len(effects), hand(g, clear, len(effects))
    pans, end = dict.fromkeys("ABC", 0.0), None
    for turn in range(300):
        before = (filtrate, clear, np.array(bled), np.array(guess))
        t1, v1 = juice_end.heater(g, "heater.primary", mill["heaters"]["primary"]["area"],
                                  shells[mill["heaters"]["primary"]["vapour"] - 1], mixed,
                                  t_mixed)  # fmt: skip
        limed = juice_end.liming(g, mixed, t1, filtrate, sugar_end.kept(g, "juice", clear))
        t2, v2 = juice_end.heater(g, "heater.secondary", mill["heaters"]["secondary"]["area"],
                                  shells[mill["heaters"]["secondary"]["vapour"] - 1],
                                  limed["limed"], limed["temperature"])  # fmt: skip
        by_heat = inverts(g, mill["clarifier"]["volume"], limed["limed"],
                          g["clear_juice.temperature"], g["clear_juice.ph"],
                          g["hours.evaporator"] / g["hours.crushing"])[-1]  # fmt: skip
        settled = juice_end.clarifier(g, limed["limed"], t2, mixed, by_heat)
        clear = settled["clear"]
        filtered = juice_end.filters(g, settled["mud"], last)
        filtrate = filtered["filtrate"]
        bled = [0.0] * len(effects)
        bled[mill["heaters"]["primary"]["vapour"] - 1] += v1
        bled[mill["heaters"]["secondary"]["vapour"] - 1] += v2
        for letter in "ABC":
            if mill["pans"][letter]["heating"]:
                bled[mill["pans"][letter]["heating"] - 1] += pans[letter]
        shells, guess = evaporator(g, effects, clear, bled, guess)
        thick = liquor(g, shells[-1]["juice"])
        end = sugar_end.sugar_end(g, thick, end or sugar_end.begin(thick))
        off = {}
        for letter in "ABC":
            source = mill["pans"][letter]["heating"]
            shell = shells[source - 1] if source else None
            off[letter], pans[letter] = sugar_end.pan_heat(g, letter, end, shell)
        now = (filtrate, clear, np.array(bled), np.array(guess))
        if turn and all(np.allclose(a, b, rtol=1e-12, atol=1e-12) for a, b in zip(before, now)):
            break
    exhaust = guess[0] + sum(pans[x] for x in "ABC" if not mill["pans"][x]["heating"])
    s = {k: v * 1e3 for k, v in mill["steam"].items() if k.startswith("live_p")}
    s["live_temperature"] = mill["steam"]["live_temperature"]
    power = steam_end.steam_end(g, s, exhaust, shaft, last, mass(filtered["bagacillo"]))
    return {"cane": crushed, "mills": mills, "shaft": shaft, "mixed": mixed, "t_mixed": t_mixed,
            "t1": t1, "t2": t2, "v1": v1, "v2": v2, "limed": limed, "settled": settled,
            "filtered": filtered, "effects": shells, "flow": guess[0], "liquor": thick,
            "end": end, "evaporated": off, "pans": dict(pans), "power": power,
            "count": count}  # fmt: skip


def hand(g: Given, clear: Stream, count: int) -> tuple[float, float]:
    """Exhaust flow and first chest to begin with: a little less water than must go."""
    water = 0.9 * juice(clear) * (1.0 - brix(clear) / g["liquor.brix_set"])
    return water / count, boils_at(g["exhaust.pressure"]) - 6.0


def streams(f: Mapping[str, Any]) -> dict[str, Stream]:
    end = f["end"]
    named = {"cane": f["cane"], "mixed_juice": f["mixed"], "limed_juice": f["limed"]["limed"],
             "screen.return": f["mills"]["screen.return"], "clear_juice": f["settled"]["clear"],
             "mud": f["settled"]["mud"], "cake": f["filtered"]["cake"],
             "filtrate": f["filtered"]["filtrate"], "liquor": f["liquor"],
             "pan_liquor": end["pan_liquor"], "crystalliser.massecuite": end["cooled"],
             "magma": end["magma"], "sugar": end["sugar"],
             "final_molasses": end["C.molasses"], "molasses.A": end["A.molasses"],
             "molasses.B": end["B.molasses"]}  # fmt: skip
    for i in range(1, f["count"] + 1):
        named[f"mill.{i}.bagasse"] = f["mills"]["bagasse"][i]
        named[f"mill.{i}.juice"] = f["mills"]["juices"][i]
    for i, e in enumerate(f["effects"], 1):
        named[f"effect.{i}.juice"] = e["juice"]
    for letter in "ABC":
        named[f"pan.{letter}.massecuite"] = end[f"{letter}.pan"]
        named[f"sugar.{letter}"] = end[f"{letter}.sugar"]
    return named


def told(f: Mapping[str, Any], g: Given, mill: Mapping[str, Any]) -> dict[str, float]:
    """Every figure by the address under which the program tells it [inside units]."""
    out: dict[str, float] = {}
    for name, a in streams(f).items():
        out |= {f"{name}.flow.{c}": float(v) for c, v in zip(COMPONENTS, a) if v != 0.0}
    for name in ("mixed_juice", "limed_juice", "clear_juice", "liquor", "filtrate"):
        a = streams(f)[name]
        out |= {f"{name}.brix": brix(a), f"{name}.purity": purity(a), f"{name}.flow": mass(a),
                f"{name}.pol": float(a[1]) / juice(a)}  # fmt: skip
    last = f["mills"]["bagasse"][f["count"]]
    out |= {"bagasse.pol": last[1] / mass(last), "bagasse.moisture": last[0] / mass(last),
            "bagasse.weight": mass(last), "bagasse.purity": purity(last),
            "bagasse.brix": dissolved(last) / mass(last)}  # fmt: skip
    crushed, water = f["cane"], f["mills"]["imbibition"]
    out |= {"cane.fibre": float(crushed[3]) / mass(crushed),
            "cane.brix": dissolved(crushed) / mass(crushed),
            "imbibition.on_fibre": water / float(crushed[3] + crushed[4])}  # fmt: skip
    out |= {"imbibition.flow": water, "mixed_juice.temperature": f["t_mixed"],
            "screen.juice_share": float(f["mills"]["screen.return"][0] / (
                f["mills"]["juices"][1][0] + f["mills"]["juices"][2][0])),
            "mills.power": f["shaft"], "lime.used": f["limed"]["lime"],
            "limed_juice.temperature": f["limed"]["temperature"],
            "heater.primary.temperature": f["t1"], "heater.secondary.temperature": f["t2"],
            "heater.primary.vapour.flow": f["v1"], "heater.secondary.vapour.flow": f["v2"],
            "heater.primary.duty": heat(f["mixed"], f["t1"]) - heat(f["mixed"], f["t_mixed"]),
            "flash.vapour.flow": f["settled"]["flash"],
            "clarifier.mud_share": f["settled"]["share"],
            "filter.wash.flow": f["filtered"]["wash"],
            "filter.water_on_liquid": f["filtered"]["wash"] / juice(f["filtered"]["cake"]),
            "evaporator.steam.flow": f["flow"]}  # fmt: skip
    for i, e in enumerate(f["effects"], 1):
        n = f"effect.{i}"
        out |= {f"{n}.vapour.flow": e["vapour"], f"{n}.vapour.temperature": e["saturated"],
                f"{n}.temperature": e["boiling"], f"{n}.chest.temperature": e["chest"],
                f"{n}.heat": e["heat"], f"{n}.htc": e["htc"], f"{n}.brix": brix(e["juice"]),
                f"{n}.vapour.pressure": pressure_at(e["saturated"]),
                f"{n}.chest.pressure": pressure_at(e["chest"])}  # fmt: skip
    end = f["end"]
    out |= {k: v for k, v in end["split"].items() if k != "dry"}
    for letter in "ABC":
        out |= {f"pan.{letter}.massecuite.temperature": end[f"{letter}.temperature"],
                f"pan.{letter}.evaporation": f["evaporated"][letter],
                f"pan.{letter}.steam.flow": f["pans"][letter],
                f"centrifugal.{letter}.wash.flow": end[f"{letter}.wash"]}  # fmt: skip
    out |= sugar_end.reports(end) | f["power"]
    if g["day.known"]:
        f["power"]["power.export"] = out["power.export"] = out["power.export"] - driven(f, g, mill)
    pol = float(f["cane"][1])
    out["account.extraction"] = 1.0 - float(last[1]) / pol
    out |= beside(f, g, mill)
    return {k: float(v) for k, v in out.items()}
