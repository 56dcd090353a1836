"""Three massecuites, crystalliser, centrifugals, magma, remelt and dryer."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from second_factory.properties import (
    N,
    S,
    Stream,
    W,
    X,
    all_purity,
    boils_at,
    brix,
    crystal,
    dissolved,
    heat,
    holds,
    juice,
    mass,
    pan_rise,
    purity,
    secant,
    stands,
    steam,
    stream,
    vapour,
    water,
)

Given = Mapping[str, float]
Out = dict[str, Any]
FEED = {"liquor": 68.0, "A_molasses": 68.0, "B_molasses": 66.0, "magma": 58.0}  # degC
STOCK = {"juice": 1035.0, "liquor": 1325.0, "A_massecuite": 1471.0, "B_massecuite": 1482.0,
         "C_massecuite": 1489.0, "A_molasses": 1360.0, "B_molasses": 1365.0,
         "magma": 1450.0}  # fmt: skip


def kept(g: Given, called: str, holding: Stream) -> Stream:
    """What a tank keeps: its growth in the composition of its stream, and what that rose."""
    opening, closing = g[f"stock.{called}.opening"], g[f"stock.{called}.closing"]
    each = STOCK[called] / g["hours.crushing"]
    grown = each * (closing - opening)
    dry = dissolved(holding) + holding[X]
    purity, dry = (holding[S] + holding[X]) / dry, dry / mass(holding)
    purer, drier = g[f"stock.{called}.purity_shift"], g[f"stock.{called}.dry_shift"]
    sucrose = dry * purity - (dry - drier) * (purity - purer)
    rise = stream(-drier, sucrose, drier - sucrose) * (each * opening)
    return holding * (grown / mass(holding)) + rise


def massecuite(water_in: float, sucrose: float, other: float, t: float, over: float) -> Stream:
    """Crystal and mother liquor: sucrose that the water holds at its supersaturation."""
    melt = water_in * over * holds(t) * (1.0 - 0.088 * other / water_in)
    return stream(water_in, melt, other, 0.0, 0.0, sucrose - melt)


def boiled(g: Given, letter: str, dry: float, sucrose: float) -> tuple[Stream, float]:
    """Massecuite at its dry substance, and its temperature under its vapour."""
    n = f"pan.{letter}"
    wet = dry * (1.0 / g[f"{n}.massecuite.dry_substance"] - 1.0)
    t_vapour, over = g[f"{n}.vapour.temperature"], g[f"{n}.supersaturation"]

    def made(t: float) -> Stream:
        return massecuite(wet, sucrose, dry - sucrose, t, over)

    def left(t: float) -> float:
        m = made(t)
        return t - t_vapour - 1.5 - pan_rise(brix(m), purity(m), t_vapour)

    t = secant(left, t_vapour + 12.0, t_vapour + 13.0)
    return made(t), t


def cured(g: Given, letter: str, feed: Stream, run_off: str) -> Out:
    """Sugar with its film, run-off with its rise of purity, and the water that was used."""
    low = purity(feed) + g[f"centrifugal.{letter}.purity_rise"]
    high, dry = g[f"sugar.{letter}.purity"], dissolved(feed) + feed[X]
    made = (feed[S] + feed[X] - low * dry) / (high - low)
    moist = g[f"sugar.{letter}.moisture"]
    sugar = stream(made * moist / (1.0 - moist), high * made, (1.0 - high) * made)
    off, ds = dry - made, g[f"{run_off}.dry_substance"]
    molasses = stream(off * (1.0 / ds - 1.0), low * off, (1.0 - low) * off)
    return {"sugar": sugar, "molasses": molasses, "wash": sugar[W] + molasses[W] - feed[W]}


def shared(g: Given, liquor: Stream, pools: dict[str, Stream], b_surplus: float) -> Out:
    """Dry substance of each massecuite and where liquor, A molasses and magma go.

    C: grain liquor, A molasses for its purity, all B molasses. B: A molasses left, magma footing,
    liquor for its purity. A: liquor left and magma footing.
    """
    a, b, magma = pools["A"], pools["B"], pools["magma"]
    dry, dry_a, dry_b = dissolved(liquor), dissolved(a), dissolved(b)
    pl, pa, pb, pm = purity(liquor), purity(a), purity(b), purity(magma)
    grain, aim = g["pan.C.grain_share"], g["pan.C.purity_set"]
    both = [[1.0 - grain, -1.0], [aim - pl * grain, -pa]]
    dry_c, a_to_c = np.linalg.solve(both, [dry_b, pb * dry_b])
    left = dry_a - a_to_c
    foot, aim = g["pan.B.magma_share"], g["pan.B.purity_set"] + b_surplus
    both = [[1.0 - foot, -1.0], [aim - pm * foot, -pl]]
    dry_bm, liquor_b = np.linalg.solve(both, [left, pa * left])
    liquor_c, foot_a = grain * dry_c, g["pan.A.magma_share"]
    liquor_a = dry - liquor_b - liquor_c
    dry_am = liquor_a / (1.0 - foot_a)
    magma_a, magma_b = foot_a * dry_am / dissolved(magma), foot * dry_bm / dissolved(magma)
    return {
        "dry": {"A": dry_am, "B": dry_bm, "C": dry_c},
        "pan.A.liquor.share": liquor_a / dry, "pan.B.liquor.share": liquor_b / dry,
        "pan.C.liquor.share": liquor_c / dry,
        "pan.B.A_molasses.share": left / dry_a, "pan.C.A_molasses.share": a_to_c / dry_a,
        "pan.A.magma.share": magma_a, "pan.B.magma.share": magma_b,
        "remelt.magma.share": 1.0 - magma_a - magma_b,
    }  # fmt: skip


FEEDS = {"A": ("liquor", "magma"), "B": ("liquor", "magma", "A_molasses"),
         "C": ("liquor", "A_molasses", "B_molasses")}  # fmt: skip


def feeds_of(letter: str, pools: dict[str, Stream], split: Out) -> dict[str, Stream]:
    named = {"liquor": "liquor", "magma": "magma", "A_molasses": "A", "B_molasses": "B"}
    return {f: pools[named[f]] * split.get(f"pan.{letter}.{f}.share", 1.0)
            for f in FEEDS[letter]}  # fmt: skip


def once(g: Given, thick: Stream, state: Out) -> Out:
    """The sugar end worked out once from what goes round in `state`."""
    new: Out = {}
    shipped = state["A.sugar"] + state["B.sugar"]
    dust = g["dryer.dust"] * shipped
    sweet = stream(0.4 / 3.6, dust[S], dust[N])
    remelt = state["remelt"]
    spilt = g["undetermined.sugar_end"] / state["pan_liquor"][S]
    comes = thick + remelt + sweet - kept(g, "liquor", state["pan_liquor"])
    tank = comes / (1.0 + spilt)
    pools = {"liquor": tank, "magma": state["magma"] - kept(g, "magma", state["magma"]),
             "A": state["A.molasses"] - kept(g, "A_molasses", state["A.molasses"]),
             "B": state["B.molasses"] - kept(g, "B_molasses", state["B.molasses"])}  # fmt: skip
    split = shared(g, tank, pools, state["b_surplus"])
    new.update(pan_liquor=tank, pools=pools, split=split)
    part = max(split["pan.B.liquor.share"], 1e-6)
    new["b_surplus"] = 0.05 * 1e-4**2 / 4.0 / part  # the rounded corner of its complementary pair
    for letter in "ABC":
        feeds = feeds_of(letter, pools, split)
        whole = sum(feeds.values())
        made, t = boiled(g, letter, split["dry"][letter], float(whole[S]))
        new[f"{letter}.pan"], new[f"{letter}.temperature"], new[f"{letter}.feeds"] = made, t, feeds
        goes = made - kept(g, f"{letter}_massecuite", made)
        if letter == "C":
            over = g["crystalliser.supersaturation"]
            over += 13.0 * ((dissolved(made) + made[X]) / mass(made) - 0.904)
            goes = massecuite(goes[W], goes[S] + goes[X], goes[N], g["crystalliser.temperature"],
                              over)  # fmt: skip
            new["cooled"] = goes
        run_off = "final_molasses" if letter == "C" else f"molasses.{letter}"
        new.update({f"{letter}.{k}": v for k, v in cured(g, letter, goes, run_off).items()})
    c = new["C.sugar"]
    new["magma"] = stream(dissolved(c) * (1.0 / g["magma.dry_substance"] - 1.0), c[S], c[N])
    surplus = pools["magma"] * split["remelt.magma.share"]
    wet = dissolved(surplus) * (1.0 / g["remelt.dry_substance"] - 1.0)
    new["remelt"], new["surplus"] = stream(wet, surplus[S], surplus[N]), surplus
    shipped = new["A.sugar"] + new["B.sugar"]
    dry = (1.0 - g["dryer.dust"]) * shipped
    moist = g["sugar.moisture"]
    new["sugar"] = stream(dissolved(dry) * moist / (1.0 - moist), dry[S], dry[N])
    return new


def begin(thick: Stream) -> Out:
    dry = dissolved(thick)
    return {"A.sugar": stream(0.005 * dry, 0.6 * dry, 0.004 * dry),
            "B.sugar": stream(0.002 * dry, 0.2 * dry, 0.002 * dry),
            "A.molasses": stream(0.2 * dry, 0.4 * dry, 0.17 * dry),
            "B.molasses": stream(0.1 * dry, 0.15 * dry, 0.13 * dry),
            "magma": stream(0.03 * dry, 0.19 * dry, 0.036 * dry),
            "remelt": stream(0.05 * dry, 0.08 * dry, 0.015 * dry),
            "pan_liquor": thick * 1.04, "b_surplus": 0.0}  # fmt: skip


ROUND = ("A.sugar", "B.sugar", "A.molasses", "B.molasses", "magma", "remelt", "pan_liquor")


def sugar_end(g: Given, thick: Stream, state: Out) -> Out:
    """All of it, gone round until nothing moves."""
    done: Out = {}

    def turn(x: Stream) -> Stream:
        nonlocal done
        parts = np.zeros((len(ROUND), 6))
        parts[:, :3] = x.reshape(-1, 3)
        done = once(g, thick, {**state, **done, **dict(zip(ROUND, parts, strict=True))})
        return np.concatenate([done[k][:3] for k in ROUND])

    stands(turn, np.concatenate([state[k][:3] for k in ROUND]), 1e-13 * mass(thick))
    return done


def pan_heat(g: Given, letter: str, end: Out, effect: Out | None) -> tuple[float, float]:
    """Water evaporated in the pans of a grade, and vapour of an effect (or exhaust) to them."""
    n = f"pan.{letter}"
    made, t, feeds = end[f"{letter}.pan"], end[f"{letter}.temperature"], end[f"{letter}.feeds"]
    movement = g[f"{n}.movement_water"] * (dissolved(made) + made[X])
    off = float(sum(f[W] for f in feeds.values())) + movement - made[W]
    t_vapour = g[f"{n}.vapour.temperature"]
    duty = heat(made, t) + off * (vapour(t_vapour) + 1900.0 * (t - t_vapour))
    duty -= movement * water(70.0)
    for name, f in feeds.items():
        if name == "magma":  # its crystal has the film of final molasses round it
            film = end["C.molasses"]
            liquid = stream(f[W], f[N] * film[S] / film[N], f[N])
            duty -= heat(liquid, FEED[name]) + (f[S] - liquid[S]) * crystal(FEED[name])
        else:
            duty -= heat(f, FEED[name])
    if effect is None:
        gives = steam(g["exhaust.pressure"], g["exhaust.temperature"])
        gives -= water(boils_at(g["exhaust.pressure"]) - 0.5)
    else:
        sat = effect["saturated"]
        gives = vapour(sat) + 1900.0 * (effect["boiling"] - sat) - water(sat - 0.5)
    return off, 1.10 * duty / gives


def reports(end: Out) -> dict[str, float]:
    """Purities and brixes as a laboratory would tell them, by address."""
    told: dict[str, float] = {}
    for letter in "ABC":
        made = end[f"{letter}.pan"]
        told[f"pan.{letter}.massecuite.purity"] = all_purity(made)
        told[f"pan.{letter}.nutsch.purity"] = purity(made)
        told[f"pan.{letter}.massecuite.crystal"] = made[X] / mass(made)
        told[f"sugar.{letter}.pol"] = end[f"{letter}.sugar"][S] / mass(end[f"{letter}.sugar"])
        name = "final_molasses" if letter == "C" else f"molasses.{letter}"
        told[f"{name}.purity"] = purity(end[f"{letter}.molasses"])
        told[f"{name}.flow"] = mass(end[f"{letter}.molasses"])
    told["crystalliser.nutsch.purity"] = purity(end["cooled"])
    told["magma.purity"], told["magma.flow"] = purity(end["magma"]), mass(end["magma"])
    told["remelt.flow"] = mass(end["remelt"])
    told["pan_liquor.brix"] = juice(end["pan_liquor"]) and brix(end["pan_liquor"])
    told["pan_liquor.purity"] = purity(end["pan_liquor"])
    told["sugar.pol"] = end["sugar"][S] / mass(end["sugar"])
    told["sugar.flow"] = mass(end["sugar"])
    return told
