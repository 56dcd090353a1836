"""What is true of a day: each reading as a faultless instrument has it, and the headline figures.

Names are the addresses by which the program's files call them; values stand in trade units.
"""

from __future__ import annotations

import numpy as np

from true_mill.days import Day, Mill
from true_mill.properties import (
    F,
    I,
    N,
    S,
    Stream,
    W,
    all_sucrose,
    brix,
    dry_substance,
    juice,
    mass,
    pressure,
    purity,
    true_purity,
)  # fmt: skip

MW = 8.64e10  # J a day for a megawatt


def _pct(part: float, whole: float) -> float:
    return 100.0 * float(part) / float(whole)


def _juice(found: dict[str, float], name: str, a: Stream) -> None:
    found[f"{name}.brix"] = 100.0 * brix(a)
    found[f"{name}.pol"] = _pct(a[S], juice(a))
    found[f"{name}.purity"] = 100.0 * purity(a)


def read(mill: Mill, day: Day) -> dict[str, float]:
    """Every reading of a day without its error, by address."""
    at, hours, ran = day.at, day.hours, 24.0
    cane, last, count = day.cane, day.milled.bagasse[-1], mill.plate.mills
    f: dict[str, float] = {}
    f["cane.weight"] = mass(cane)
    f["cane.fibre_laboratory"] = _pct(cane[F] + cane[I], mass(cane))
    f["first_juice.brix"], f["first_juice.pol"] = (100.0 * x for x in day.first)
    f["cane.temperature"], f["imbibition.temperature"] = at["cane"], at["imbibition"]
    f["imbibition.flow"] = day.water / hours
    for name, bagasse in (("mill.1.bagasse", day.milled.bagasse[0]), ("bagasse", last)):
        f[f"{name}.pol"] = _pct(bagasse[S], mass(bagasse))
        f[f"{name}.moisture"] = _pct(bagasse[W], mass(bagasse))
    f["bagasse.ash"], f["bagasse.temperature"] = 100.0 * day.steam.ash, at["bagasse"]
    _juice(f, f"mill.{count}.juice", day.milled.juices[-1])
    _juice(f, "mixed_juice", day.milled.mixed)
    mixed, cl = day.milled.mixed, day.clarified
    f["mixed_juice.flow"] = mass(mixed) / hours
    f["mixed_juice.insolubles"] = _pct(mixed[F] + mixed[I], mass(mixed))
    f["mixed_juice.temperature"] = day.milled.temperature
    f["heater.primary.temperature"] = at["primary"]
    f["heater.secondary.temperature"] = at["secondary"]
    _juice(f, "clear_juice", cl.clear)
    f["clear_juice.flow"], f["clear_juice.temperature"] = mass(cl.clear) / hours, at["clear"]
    f["lime.used"] = at["lime"] * mass(cane)
    f["mud.insolubles"] = _pct(cl.mud[F] + cl.mud[I], mass(cl.mud))
    _juice(f, "filtrate", cl.filtrate)
    f["filter.wash.flow"], f["cake.weight"] = cl.wash / hours, mass(cl.cake)
    f["cake.pol"], f["cake.moisture"] = (_pct(cl.cake[k], mass(cl.cake)) for k in (S, W))
    _evaporator(f, mill, day)
    _sugar_end(f, mill, day)
    s = day.steam
    f["pan.vapour1.steam.flow"] = sum(v for x, v in day.pan_steam.items() if x != "C") / ran
    f["pan.exhaust.steam.flow"] = day.pan_steam["C"] / ran
    f["exhaust.pressure"] = at["exhaust.pressure"] / 1e3
    f["exhaust.temperature"], f["feed_water.temperature"] = at["exhaust.temperature"], at["feed"]
    f["boiler.steam.flow"], f["condensing.steam.flow"] = s.made / ran, s.condensing / ran
    f["let_down.flow"], f["bagasse.store.weight"] = s.let_down / ran, s.stored
    f["boiler.stack.temperature"], f["boiler.air_ratio"] = at["stack"], at["air"]
    f["power.back_pressure"] = s.power_back_pressure / (MW * hours / 24.0)
    f["power.condensing"], f["power.export"] = s.power_condensing / MW, s.export / MW
    return f


def _evaporator(f: dict[str, float], mill: Mill, day: Day) -> None:
    e, hours = day.effects, day.hours
    f["effect.1.chest.pressure"] = pressure(e.chests[0]) / 1e3
    for i, (t, a) in enumerate(zip(e.saturated, e.juices), 1):
        f[f"effect.{i}.vapour.pressure"] = pressure(t) / 1e3
        f[f"effect.{i}.brix"] = 100.0 * brix(a)
    f["evaporator.steam.flow"] = e.steam / hours
    _juice(f, "liquor", e.liquor)
    f["liquor.flow"] = mass(e.liquor) / hours
    f["condenser.sugar"] = (
        1e6 * e.entrained / (day.constants["condenser.water"] * mill.plate.condenser * hours)
    )


def _sugar_end(f: dict[str, float], mill: Mill, day: Day) -> None:
    c = day.constants
    for x, end in day.ends.items():
        n, made = f"pan.{x}", end.made
        f[f"{n}.massecuite.brix"] = 100.0 * dry_substance(made) / c[f"dry_on_brix.{x}"]
        f[f"{n}.massecuite.purity"] = 100.0 * true_purity(made)
        dense = mill.density[f"{x}_massecuite"] * c["density"]
        f[f"{n}.massecuite.volume"] = 1000.0 * mass(made) / dense
        f[f"{n}.massecuite.temperature"] = end.temperature
        final, kind = x == "C", "final" if x == "C" else f"{x}_molasses"
        run = "final_molasses" if final else f"molasses.{x}"
        f[f"{run}.purity"] = 100.0 * purity(end.molasses)
        f[f"{run}.brix"] = 100.0 * brix(end.molasses) / c[f"dry_on_brix.{kind}"]
        if final:
            f["crystalliser.nutsch.purity"] = 100.0 * end.cooled_mother
            f["crystalliser.temperature"] = day.at["cooled"]
            f["final_molasses.weight"] = mass(end.molasses)
        else:
            f[f"{n}.nutsch.purity"] = 100.0 * end.mother
    f["final_molasses.reducing_sugars"] = 100.0 * c["molasses.reducing"]
    f["final_molasses.ash"] = 100.0 * c["molasses.ash"]
    whole = day.whole
    f["magma.purity"] = 100.0 * true_purity(whole.magma)
    f["magma.brix"] = 100.0 * dry_substance(whole.magma) / c["dry_on_brix.magma"]
    f["remelt.flow"], f["sugar.weight"] = mass(whole.remelt) / 24.0, mass(whole.sugar)
    f["sugar.pol"], f["sugar.moisture"] = (_pct(whole.sugar[k], mass(whole.sugar))
                                           for k in (S, W))  # fmt: skip
    first = day.ends["A"].sugar
    f["sugar.A.pol"] = _pct(first[S], mass(first))


def stocks(mill: Mill, held: dict[str, Stream]) -> dict[str, float]:
    """What is in each tank [m3], by address."""
    return {f"stock.{k}": 1000.0 * mass(a) / mill.density[k] for k, a in held.items()}


def headline(mill: Mill, day: Day) -> dict[str, float]:
    """The true figures of the account, by address, in trade units."""
    cane, hours, whole = day.cane, day.hours, day.whole
    last, mixed, sugar = day.milled.bagasse[-1], day.milled.mixed, day.whole.sugar
    tonnes, pol = mass(cane), float(cane[S])
    fibre = float(cane[F] + cane[I]) / tonnes
    b, p = day.first
    extraction = 1.0 - float(last[S]) / pol
    moisture, titre = (float(sugar[k]) / mass(sugar) for k in (W, S))
    molasses, c = day.ends["C"].molasses, day.constants
    grown = sum(all_sucrose(day.closing[k]) - all_sucrose(day.opening[k]) for k in day.closing)
    lost = {
        "bagasse": float(last[S] - day.clarified.bagacillo[S]),
        "mud": float(day.clarified.cake[S]),
        "molasses": float(molasses[S]),
        "known": day.clarified.inverted + day.effects.inverted + day.effects.entrained,
    }
    lost["undetermined"] = pol - float(sugar[S]) - grown - sum(lost.values())
    f = {
        "cane": tonnes, "rate": tonnes / hours,
        "ccs": 100.0 * (1.5 * p * (0.95 - fibre) - 0.5 * b * (0.97 - fibre)),
        "fibre_in_cane": 100.0 * fibre, "pol_in_cane": _pct(pol, tonnes),
        "extraction": 100.0 * extraction,
        "reduced_extraction": 100.0 * (1.0 - (1.0 - extraction) * (1.0 - fibre) / (7.0 * fibre)),
        "imbibition_on_fibre": _pct(day.water, fibre * tonnes),
        "bagasse_pol": _pct(last[S], mass(last)), "bagasse_moisture": _pct(last[W], mass(last)),
        "mixed_juice_purity": 100.0 * purity(mixed),
        "clear_juice_purity": 100.0 * purity(day.clarified.clear),
        "liquor_brix": 100.0 * brix(day.effects.liquor),
        "molasses_purity": 100.0 * purity(molasses),
        "target_purity": 40.67 - 17.80 * float(np.log10(c["molasses.reducing"]
                                                        / c["molasses.ash"])),
        "sugar": mass(sugar), "sugar_pol": 100.0 * titre, "sugar_moisture": 100.0 * moisture,
        "dilution_indicator": 100.0 * moisture / (1.0 - titre - moisture),
        "boiling_house_recovery": _pct(sugar[S], mixed[S]),
        "overall_recovery": _pct(sugar[S], pol),
        "steam_on_cane": _pct(day.steam.made, tonnes),
        "process_steam_on_cane": _pct(day.steam.demand, tonnes),
        "pol.stock_change_share": _pct(grown, pol),
        **{f"loss.{k}_share": _pct(v, pol) for k, v in lost.items()},
        "undetermined": _pct(lost["undetermined"], pol),
    }  # fmt: skip
    for x, end in day.ends.items():
        f[f"{x.lower()}_massecuite_purity"] = 100.0 * true_purity(end.made)
    assert abs(whole.spilt) < 0.05 * pol
    return {f"account.{k}": v for k, v in f.items()}


__all__ = ["N", "headline", "read", "stocks"]
