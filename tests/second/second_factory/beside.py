"""What hangs downstream of the balances: rolls, heaters, inversion, vessels, water, boilers."""

from __future__ import annotations

from collections.abc import Mapping
from math import exp, log, pi, sqrt
from typing import Any

from second_factory.evaporators import inverts, usual
from second_factory.houses import stores, sugar_house
from second_factory.properties import (
    F,
    S,
    W,
    X,
    boils_at,
    brix,
    density,
    dissolved,
    heat,
    juice,
    larger,
    mass,
    pressure_at,
    saturated,
    secant,
    steam,
    vapour,
    water,
)
from second_factory.steam_end import fuel

Given = Mapping[str, float]
Out = dict[str, float]
GRAVITY, ATMOSPHERE, GAS = 9.80665, 101325.0, 8.314463
FIBRE_DENSITY, JUICE_DENSITY = 1530.0, 1070.0
HOUR = 3600.0


def beside(f: Mapping[str, Any], g: Given, mill: Mapping[str, Any]) -> Out:
    """All of them by address [inside units]."""
    out = rolls(f, g, mill) | banks(f, g, mill) | inversions(f, g, mill) | vessels(f, g, mill)
    out |= condensates(f, g, mill) | turbines(f, g, mill)
    out |= boilers(f, g, mill) | cooling(f, g, mill) | sugar_house(f, g, mill)
    out |= stores(f, g, mill) | loads(f, g, mill)
    return {k: float(v) for k, v in out.items()}


def loads(f: Mapping[str, Any], g: Given, mill: Mapping[str, Any]) -> Out:
    """Clarifiers and pans against what they can take."""
    clear, c, end = f["settled"]["clear"], mill["clarifier"], f["end"]
    juice, whole = (g[f"hours.{h}"] / g["hours.crushing"] for h in ("evaporator", "period"))
    rises = mass(clear) / density(brix(clear), g["clear_juice.temperature"]) / c["area"] / juice
    out = {"clarifier.rise_rate": rises, "clarifier.load": rises / (c["rise_rate"] / 60e3)}
    for x, pan in mill["pans"].items():
        made = mass(end[f"{x}.pan"])
        may, more = whole * g[f"pan.{x}.room"] * pan["density"] / made, f["evaporated"][x] / made
        takes = pan["cycle"] * HOUR * (0.15 + 0.85 * more / (pan["evaporation"] / 100.0))
        out |= {f"pan.{x}.strike_time": may, f"pan.{x}.strike_takes": takes,
                f"pan.{x}.load": takes / may}  # fmt: skip
    tandem, sets = mill["tandem"], mill["turbines"]
    shredder = g["shredder.specific_power"] * f["cane"][F]
    cake = mass(f["filtered"]["cake"]) / mill["filters"]["area"] / juice
    out |= {
        "mills.load": float(f["cane"][F]) * 3.6 / tandem["fibre_rate"],
        "shredder.load": shredder / tandem["shredder_power"] / 1e6,
        "filter.load": cake * HOUR / mill["filters"]["cake_rate"],
    }  # fmt: skip
    for n, hours in (("back_pressure", 1.0), ("condensing", whole)):
        out[f"power.{n}.load"] = g[f"power.{n}"] / hours / sets[n] / 1e6
    return out


def rolls(f: Mapping[str, Any], g: Given, mill: Mapping[str, Any]) -> Out:
    fibre, count = float(f["cane"][F]), f["count"]
    work = g["drives.efficiency"] * f["power"]["drives.drop"]
    shredder = g["shredder.specific_power"] * fibre
    out = {
        "shredder.power": shredder,
        "shredder.steam.flow": shredder / 0.97 / work,
        "shredder.preparation_index": 0.445 + 0.001678 * (g["shredder.bulk_density"] - 400.0),
    }
    loads = sum(g[f"mill.{k}.load"] for k in range(1, count + 1))
    for i, m in enumerate(mill["mills"], 1):
        n, bagasse, before = f"mill.{i}", f["mills"]["bagasse"][i], f["mills"]["bagasse"][i - 1]
        speed, opening = g[f"{n}.surface_speed"], g[f"{n}.work_opening"]
        escribed = opening * m["roll_length"] * speed
        no_void = bagasse[F] / FIBRE_DENSITY + (mass(bagasse) - bagasse[F]) / JUICE_DENSITY
        power = count * g["mills.specific_power"] * fibre * g[f"{n}.load"] / loads
        turns = speed / (pi * m["roll_diameter"])
        out |= {
            f"{n}.escribed_volume": escribed, f"{n}.no_void_volume": no_void,
            f"{n}.reabsorption": no_void / escribed,
            f"{n}.filling_ratio": bagasse[F] / FIBRE_DENSITY / escribed,
            f"{n}.compaction": bagasse[F] / escribed,
            f"{n}.set_opening": opening - m["lift"] / 1e3 - m["groove_depth"] / 1e3,
            f"{n}.rotation": turns, f"{n}.power": power,
            f"{n}.torque": power / (2.0 * pi * turns), f"{n}.steam.flow": power / 0.97 / work,
            f"{n}.extraction": 1.0 - bagasse[S] / before[S],
            f"{n}.extraction_so_far": 1.0 - bagasse[S] / f["cane"][S],
        }  # fmt: skip
    return out


def banks(f: Mapping[str, Any], g: Given, mill: Mapping[str, Any]) -> Out:
    out: Out = {}
    for name, a, t_in, t_out, v in (
        ("primary", f["mixed"], f["t_mixed"], f["t1"], f["v1"]),
        ("secondary", f["limed"]["limed"], f["limed"]["temperature"], f["t2"], f["v2"]),
    ):
        n, h = f"heater.{name}", mill["heaters"][name]
        shell = f["effects"][h["vapour"] - 1]["saturated"] - 0.5
        duty, areas = heat(a, t_out) - heat(a, t_in), h["vessels"]
        near = larger(shell - t_out, 0.2, 0.1)
        far = larger(shell - t_in, 0.4, 0.1)
        capacity = duty / larger(t_out - t_in, 0.2, 0.01)
        passed = capacity * log(far / near) / sum(areas)
        speed = mass(a) / (density(brix(a), 0.5 * (t_in + t_out)) * h["tube_section"])
        usual = 4186.8 / 3600.0 * 6.0 * shell * (larger(speed, 0.05, 0.01) / 1.8) ** 0.8
        out |= {f"{n}.approach": shell - t_out, f"{n}.htc_in_effect": passed,
                f"{n}.velocity": speed, f"{n}.htc_expected": usual,
                f"{n}.cleanliness": passed / usual,
                f"{n}.condensate.temperature": shell - 3.0}  # fmt: skip
        before = t_in
        for k, area in enumerate(areas, 1):
            after = t_out
            if k < len(areas):
                after = shell - (shell - before) * exp(-passed * area / capacity)
                out[f"{n}.{k}.temperature"] = after
            out[f"{n}.{k}.duty"] = heat(a, after) - heat(a, before)
            out[f"{n}.{k}.vapour.flow"] = v * out[f"{n}.{k}.duty"] / duty
            before = after
    return out


def inversions(f: Mapping[str, Any], g: Given, mill: Mapping[str, Any]) -> Out:
    limed, effects = f["limed"]["limed"], f["effects"]
    own = g["hours.evaporator"] / g["hours.crushing"]
    fall = (g["liquor.ph"] - g["clear_juice.ph"]) / len(effects)
    places = [
        ("heater.primary", mill["heaters"]["primary"]["volume"], f["mixed"], f["mixed"], f["t1"],
         g["mixed_juice.ph"], own),
        ("heater.secondary", mill["heaters"]["secondary"]["volume"], limed, limed, f["t2"],
         g["limed_juice.ph"], own),
        ("clarifier", mill["clarifier"]["volume"], limed, limed, g["clear_juice.temperature"],
         g["clear_juice.ph"], own),
    ]  # fmt: skip
    for i, e in enumerate(effects, 1):
        places.append((f"effect.{i}", mill["effects"][i - 1]["volume"], e["juice"], e["feed"],
                       e["boiling"], g["clear_juice.ph"] + i * fall, own))  # fmt: skip
    out: Out = {}
    total, known = 0.0, f["settled"]["inverts"] * limed[S]
    for name, volume, a, feed, t, ph, hours in places:
        hot, time, rate, share = inverts(g, volume, a, t, ph, hours)
        n = f"inversion.{name}"
        out |= {f"{n}.ph": hot, f"{n}.residence": time, f"{n}.rate": 1.0 - exp(-rate * HOUR),
                f"{n}.share": share}  # fmt: skip
        total += share * feed[S]
        if name.startswith("effect"):
            known += effects[int(name[-1]) - 1]["inverts"] * feed[S]
    out["inversion.expected.flow"] = total
    out["inversion.expected_on_stated"] = total / (known + 1e-9)
    return out


def vessels(f: Mapping[str, Any], g: Given, mill: Mapping[str, Any]) -> Out:
    own, out = g["hours.evaporator"] / g["hours.crushing"], {}
    for i, (e, m) in enumerate(zip(f["effects"], mill["effects"]), 1):
        n, t, sat, chest = f"effect.{i}", e["boiling"], e["saturated"], e["chest"]
        rho = density(brix(e["juice"]), t)
        head = 0.5 * rho * GRAVITY * g["evaporator.level"] * m["tube_length"]
        up = boils_at(pressure_at(sat) + head) - sat
        made = e["vapour"] / own
        volume = 1.0 / saturated(sat, 1.0, "rhomass")
        out |= {
            f"{n}.head_rise": up,
            f"{n}.htc_net_of_head": e["heat"] / (m["area"] * larger(chest - t - up, 0.2, 0.1)
                                                 * own),
            f"{n}.htc_expected": usual(brix(e["juice"]), chest),
            f"{n}.cleanliness": e["htc"] / (m["htc"] * 1e3),
            f"{n}.evaporation_rate": made / m["area"],
            f"{n}.vapour.velocity": made * volume / m["vapour_area"],
            f"{n}.vapour.velocity_limit": 0.045 * sqrt(rho * volume - 1.0),
            f"{n}.condensate.flow": f["effects"][i - 2]["net"] if i > 1 else f["flow"],
        }  # fmt: skip
        areas = m.get("vessels", [])
        weights = [a * (g[f"{n}.vessel.{j}.htc_ratio"] if j > 1 else 1.0)
                   for j, a in enumerate(areas, 1)]  # fmt: skip
        takes = [a * (g[f"{n}.vessel.{j}.juice_ratio"] if j > 1 else 1.0)
                 for j, a in enumerate(areas, 1)]  # fmt: skip
        for j, area in enumerate(areas, 1):
            v, part = f"{n}.vessel.{j}", weights[j - 1] / sum(weights)
            share = takes[j - 1] / sum(takes)
            out |= {f"{v}.heat": part * e["heat"],
                    f"{v}.htc": part * e["heat"] / (area * larger(chest - t, 0.2, 0.1) * own),
                    f"{v}.vapour.flow": part * e["vapour"],
                    f"{v}.condensate.flow": part * out[f"{n}.condensate.flow"],
                    f"{v}.brix": share * dissolved(e["feed"]) / (
                        share * juice(e["feed"]) - part * e["vapour"])}  # fmt: skip
    total = sum(e["vapour"] for e in f["effects"])
    out["evaporator.evaporation.flow"] = total
    out["evaporator.economy"] = total / f["flow"]
    out["evaporator.evaporation_rate"] = total / sum(m["area"] for m in mill["effects"]) / own
    return out


def condensates(f: Mapping[str, Any], g: Given, mill: Mapping[str, Any]) -> Out:
    effects, end, power = f["effects"], f["end"], f["power"]
    parts = [(f["flow"], effects[0]["chest"], 0)]
    parts += [(effects[i - 1]["net"], effects[i]["chest"], i) for i in range(1, len(effects))]
    for name, v in (("primary", f["v1"]), ("secondary", f["v2"])):
        source = mill["heaters"][name]["vapour"]
        parts.append((v, effects[source - 1]["saturated"] - 3.5, source))
    for x in "ABC":
        source = mill["pans"][x]["heating"]
        t = effects[source - 1]["saturated"] if source else effects[0]["chest"]
        parts.append((f["pans"][x], t, source))
    exhaust = sum(v for v, _, source in parts if not source)
    condensed = sum(v for v, _, source in parts if source)
    feed = 1.02 * power["boiler.steam.flow"]
    make_up = feed + power["spray.flow"] - exhaust - power["deaerator.steam.flow"]
    used = f["mills"]["imbibition"] + f["filtered"]["wash"] + 9.0 * f["limed"]["lime"]
    for x in "ABC":
        made = end[f"{x}.pan"]
        used += g[f"pan.{x}.movement_water"] * (dissolved(made) + made[X]) + end[f"{x}.wash"]
    used += end["magma"][W] - end["C.sugar"][W] + end["remelt"][W] - end["surplus"][W]
    warm = sum(v * t for v, t, source in parts if source) / condensed
    sugar = sum(v * g[f"effect.{source}.vapour.sugar"] for v, _, source in parts if source)
    out = {"condensate.exhaust.flow": exhaust, "condensate.vapour.flow": condensed,
           "feed_water.flow": feed, "feed_water.make_up.flow": make_up,
           "condensate.used.flow": used, "condensate.surplus.flow": condensed - make_up - used,
           "condensate.temperature": warm,
           "condensate.heat": 4187.0 * condensed * (warm - g["cane.temperature"]),
           "condensate.sugar": sugar / condensed,
           "feed_water.sugar": g["effect.1.vapour.sugar"] * make_up / feed}  # fmt: skip
    for i in range(2, len(effects) + 1):
        carried = effects[i - 2]["net"] * g[f"effect.{i - 1}.vapour.sugar"]
        out[f"effect.{i}.condensate.sugar.flow"] = carried
    return out


def turbines(f: Mapping[str, Any], g: Given, mill: Mapping[str, Any]) -> Out:
    s, power, p = mill["steam"], f["power"], g["exhaust.pressure"]
    live_at = s["live_pressure"] * 1e3, s["live_temperature"]
    live = steam(*live_at)
    out: Out = {}
    for machine, shaft in (("drives", f["shaft"]), ("back_pressure", g["power.back_pressure"]),
                           ("condensing", g["power.condensing"])):  # fmt: skip
        vacuum = machine == "condensing"
        work = g[f"{machine}.efficiency"] * power["condensing.drop" if vacuum else "drives.drop"]
        out[f"{machine}.exhaust.enthalpy"] = live - work
        out[f"{machine}.steam_rate"] = shaft / power[f"{machine}.steam.flow"]
        if not vacuum:
            found = secant(lambda t, h=live - work: steam(p, t) - h, 160.0, 170.0, 1e-13)
            out[f"{machine}.exhaust.temperature"] = found
    t = boils_at(g["condensing.pressure"])
    left = out["condensing.exhaust.enthalpy"] - water(t)
    out["condensing.exhaust.dryness"] = left / (vapour(t) - water(t))
    made = g["power.back_pressure"] + g["power.condensing"]
    process, gross = power["process_steam.flow"], power["bagasse.gross_heat"]
    useful = process * (steam(p, g["exhaust.temperature"]) - water(boils_at(p)))
    fired = power["boiler.fuel.flow"] * gross
    out |= {"exhaust.superheat": g["exhaust.temperature"] - boils_at(p),
            "exhaust.live_share": power["let_down.flow"] / process, "power.generated": made,
            "power.own": made - power["power.export"],
            "power.generated_on_cane": made / g["cane.rate"],
            "power.own_on_cane": (made - power["power.export"]) / g["cane.rate"],
            "power.export_on_cane": power["power.export"] / g["cane.rate"],
            "process_steam.heat": useful, "power.on_process_heat": (made + f["shaft"]) / useful,
            "power.fuel_use": (made + f["shaft"] + useful) / fired}  # fmt: skip
    return out


def boilers(f: Mapping[str, Any], g: Given, mill: Mapping[str, Any]) -> Out:
    power, b = f["power"], fuel(g, f["mills"]["bagasse"][f["count"]])
    burnt, made, dry = power["boiler.fuel.flow"], power["boiler.steam.flow"], 1.0 - b["moisture"]
    stack = g["boiler.stack.temperature"]
    moles = (b["dry"] + b["water"]) * dry * burnt * 1e3
    volume = moles * GAS * (stack + 273.15) / ATMOSPHERE
    air = b["air"] * g["boiler.air_ratio"] * dry * burnt
    from_hydrogen = 18.015 / 2.016 * g["bagasse.hydrogen"] * dry
    blown = air * 1e3 / 28.96 * GAS * 303.15 / ATMOSPHERE
    wet = ATMOSPHERE * b["water"] / (b["dry"] + b["water"])
    out = {
        "boiler.loss.moisture": b["moisture"] * b["each"] / b["gross"],
        "boiler.loss.hydrogen": from_hydrogen * b["each"] / b["gross"],
        "boiler.loss.dry_gas": b["carried"] / b["gross"],
        "boiler.loss.unburnt": g["boiler.unburnt"] - g["boiler.radiation"],
        "bagasse.net_heat": b["net"],
        "boiler.efficiency_net": b["efficiency"] * b["gross"] / b["net"],
        "boiler.heat_in": burnt * b["gross"],
        "boiler.heat_out": burnt * b["gross"] * b["efficiency"],
        "boiler.steam_on_bagasse": made / burnt, "boiler.blowdown.flow": 0.02 * made,
        "boiler.air.flow": air, "boiler.flue_gas.flow": b["mass"] * dry * burnt,
        "boiler.flue_gas.volume": volume, "boiler.flue_gas.oxygen": b["oxygen"] / b["dry"],
        "boiler.flue_gas.carbon_dioxide": b["carbon_dioxide"] / b["dry"],
        "boiler.flue_gas.dew_point": boils_at(wet),
        "boiler.carbon_dioxide.flow": b["carbon_dioxide"] * 44.009 * dry * burnt,
        "boiler.ash.flow": b["ash"] * burnt,
        "boiler.forced_draught.power": blown * 3.0e3 / 0.60,
        "boiler.induced_draught.power": volume * 2.5e3 / 0.60,
        "boiler.feed_pump.power": 1.02 * made / 955.0 * 3.2e6 / 0.60,
    }  # fmt: skip
    ratings = [r / 3.6 for r in mill["boiler_house"]["ratings"]]
    weights = [r * g.get(f"boiler.{k}.load_ratio", 1.0) for k, r in enumerate(ratings, 1)]
    for k, (weight, rating) in enumerate(zip(weights, ratings), 1):
        part = weight / sum(weights)
        hours = g["hours.period"] / g["hours.crushing"]
        out |= {f"boiler.{k}.steam.flow": part * made, f"boiler.{k}.fuel.flow": part * burnt,
                f"boiler.{k}.load": part * made / hours / rating}  # fmt: skip
    return out


def cooling(f: Mapping[str, Any], g: Given, mill: Mapping[str, Any]) -> Out:
    last, s, power = f["effects"][-1], mill["steam"], f["power"]
    live = steam(s["live_pressure"] * 1e3, s["live_temperature"])
    vapours = [("condenser", last["net"], last["saturated"], last["enthalpy"])]
    for x in "ABC":
        t = g[f"pan.{x}.vapour.temperature"]
        hot = vapour(t) + 1900.0 * (f["end"][f"{x}.temperature"] - t)
        vapours.append((f"pan.{x}.condenser", f["evaporated"][x], t, hot))
    vapours.append(("condensing.condenser", power["condensing.steam.flow"],
                    boils_at(g["condensing.pressure"]),
                    live - g["condensing.efficiency"] * power["condensing.drop"]))  # fmt: skip
    comes, out, whole, all_heat = g["cooling_water.temperature"], {}, 0.0, 0.0
    for stem, v, t, h in vapours:
        leaves = t - g["condenser.approach"]
        given = v * (h - water(leaves))
        flow = given / larger(water(leaves) - water(comes), 2e3, 1e3)
        out |= {f"{stem}.water.temperature": leaves, f"{stem}.heat": given,
                f"{stem}.water.flow": flow}  # fmt: skip
        whole, all_heat = whole + flow, all_heat + given
    gone = 0.85 * all_heat / 2.43e6
    settings = mill.get("cooling", {})
    let_go = settings.get("losses", 0.8) / 100.0 * whole
    condensed = sum(v for stem, v, _, _ in vapours if stem != "condensing.condenser")
    pump = settings.get("pump_efficiency", 75.0) / 100.0
    return out | {
        "cooling_water.flow": whole, "cooling_water.heat": all_heat,
        "cooling_water.return_temperature": comes + all_heat / (4187.0 * whole),
        "cooling_water.evaporated.flow": gone,
        "cooling_water.make_up.flow": gone + let_go - condensed,
        "cooling_water.pump.power": whole * GRAVITY * settings["head"] / pump,
    }  # fmt: skip
