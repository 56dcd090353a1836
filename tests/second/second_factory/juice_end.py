"""Cane, mills, heaters, liming, clarifier and filters."""

from __future__ import annotations

from collections.abc import Mapping
from math import exp
from typing import Any

import numpy as np

from second_factory.properties import (
    F,
    I,
    N,
    S,
    Stream,
    brix,
    dissolved,
    heat,
    juice,
    mass,
    purity,
    rise,
    secant,
    smaller,
    stream,
    vapour,
    water,
)

Given = Mapping[str, float]
Out = dict[str, Any]


def over_the_day(g: Given, address: str, now: float, least: float = 0.01) -> float:
    """A figure over the day's, each with a little added; one where no day is given."""
    return (now + least) / (g[f"day.{address}"] + least) if g["day.known"] else 1.0


def cane(g: Given) -> Stream:
    """From laboratory fibre, soil, brix and pol of cane."""
    rate, solids = g["cane.rate"], g["cane.fibre_laboratory"]
    parts = [1.0 - solids - g["cane.brix"], g["cane.pol"], g["cane.brix"] - g["cane.pol"],
             solids - g["cane.insolubles"], g["cane.insolubles"]]  # fmt: skip
    return rate * stream(*parts)


def mill(g: Given, m: dict[str, float], i: int, feeds: list[Stream]) -> tuple[Stream, Stream]:
    """Bagasse and juice of one mill from all that is fed to it."""
    feed = sum(feeds)
    fibre, soil = m["fines"] / 100.0 * feed[F], m["insolubles_to_juice"] / 100.0 * feed[I]
    left_fibre, left_soil = feed[F] - fibre, feed[I] - soil
    held = left_fibre / g[f"mill.{i}.fibre_content"] - left_fibre - left_soil  # juice in bagasse
    pressed = juice(feed) - held

    def free(a: Stream) -> float:
        return juice(a) - 0.20 * float(a[F])

    if i == 1:
        out = dissolved(feed) / free(feed) * pressed
        ratio = g["mill.1.purity_ratio"]
    else:
        ideal, comes = dissolved(feed) / free(feed), dissolved(feeds[0]) / free(feeds[0])
        left = ideal + (1.0 - g["mills.mixing"]) * (comes - ideal)
        out = dissolved(feed) - left * (held - 0.20 * left_fibre)
        ratio = g["mills.purity_ratio"]
    stays = dissolved(feed) - out
    pure = feed[S] / (ratio * out + stays)
    sugar = ratio * pure * out
    pressed_juice = stream(pressed - out, sugar, out - sugar, fibre, soil)
    return feed - pressed_juice, pressed_juice


def tandem(g: Given, mills: list[dict[str, float]], returns_to: int, crushed: Stream) -> Out:
    """Compound imbibition and the screen's return, gone round until they stand still."""
    count = len(mills)
    imbibition = g["imbibition.on_fibre"] * (crushed[F] + crushed[I])
    juices = [np.zeros(6) for _ in range(count + 2)]
    juices[count + 1] = stream(imbibition)
    back, before, bagasse = np.zeros(6), np.ones(6), [crushed] * (count + 1)
    while np.abs(back - before).max() > 1e-15 * mass(crushed):
        before = back
        for i in range(1, count + 1):
            feeds = [bagasse[i - 1]] + ([juices[i + 1]] if i > 1 else [])
            feeds += [back] if i == returns_to else []
            bagasse[i], juices[i] = mill(g, mills[i - 1], i, feeds)
        both = juices[1] + juices[2]
        caught = g["screen.capture"] * both[F]
        share = g["screen.juice_on_fibre"] * caught / juice(both)
        back = stream(*(share * both[:3]), caught, 0.05 * both[I])
    return {"bagasse": bagasse, "juices": juices, "screen.return": back, "mixed": both - back,
            "imbibition": imbibition}  # fmt: skip


def heater(
    g: Given, name: str, area: float, shell: dict[str, float], a: Stream, t_in: float
) -> tuple[float, float]:
    """Outlet temperature and vapour of a heater on the vapour of an effect."""
    t_vapour = shell["saturated"] - 0.5

    def short(t: float) -> float:
        capacity = (heat(a, t) - heat(a, t_in)) / (t - t_in)
        reach = t_vapour - (t_vapour - t_in) * exp(-g[f"{name}.htc"] * area / capacity)
        return t - smaller(g[f"{name}.set_point"], reach, 1e-4)

    t = secant(short, g[f"{name}.set_point"], g[f"{name}.set_point"] - 1.0)
    gives = vapour(shell["saturated"]) + 1900.0 * (shell["boiling"] - shell["saturated"])
    gives -= water(t_vapour - 3.0)
    return t, 1.02 * (heat(a, t) - heat(a, t_in)) / gives


def liming(g: Given, mixed: Stream, t_mixed: float, filtrate: Stream, kept: Stream) -> Out:
    """Mixed juice, slurry of lime and filtrate, less what the juice tanks keep."""
    lime = g["lime.on_cane"] * g["cane.rate"]
    slurry = stream(9.0 * lime, 0.0, 0.4 * lime, 0.0, 0.6 * lime)
    limed = mixed + slurry + filtrate - kept
    comes = heat(mixed, t_mixed) + heat(filtrate, g["filtrate.temperature"])
    comes += 9.0 * lime * water(g["cane.temperature"])
    whole = 1.0 + juice(kept) / mass(limed)
    t = secant(lambda x: comes - whole * heat(limed, x), t_mixed, t_mixed + 1.0)
    return {"limed": limed, "temperature": t, "lime": lime}


def inverted(a: Stream, share: float) -> Stream:
    """Sucrose takes up 18.015/342.297 of water and becomes non-sucrose."""
    lost = share * a[S]
    return a + stream(-0.0526 * lost, -lost, 1.0526 * lost)


def clarifier(g: Given, limed: Stream, t_hot: float, mixed: Stream, by_heat: float) -> Out:
    """Flash to the air, precipitation, inversion, mud and clear juice.

    `by_heat` is the share that pH, heat and time invert.
    """

    def left(v: float) -> float:
        after = limed - stream(v)
        boils = 100.0 + rise(brix(after), purity(after), 100.0)
        return heat(limed, t_hot) - heat(after, boils) - v * vapour(100.0)

    # It flashes, or it is below boiling: one of the two is zero, with a rounded corner.
    corner = 1e-3**2 / 4.0
    if left(0.0) > 0.0:
        first = secant(left, 0.0, 0.005 * mass(limed))
        flash = secant(lambda v: left(v) + 2.257e6 * corner / v, first, 1.0001 * first)
    else:
        flash = 0.0
        for _ in range(20):
            flash = corner / (-left(flash) / 2.257e6)
    gone = g["clarifier.removal"] * mixed[N]
    settles = limed + stream(g["flocculant.water"] * g["cane.rate"] - flash, 0.0, -gone, 0.0, gone)
    inverts = g["clarifier.inversion"]
    if g["day.known"]:
        inverts *= by_heat / g["day.inversion.clarifier.share"]
    inside = inverted(settles, inverts)
    solids = inside[F] + inside[I]
    share = solids * (1.0 / g["mud.insolubles"] - 1.0) / juice(inside)
    spilt = g["undetermined.juice_end"] / inside[S]
    clear, mud = stream(*((1.0 - share - spilt) * inside[:3])), share * inside
    mud[F], mud[I] = inside[F], inside[I]
    return {"flash": flash, "share": share, "clear": clear, "mud": mud,
            "inverts": inverts}  # fmt: skip


def filters(g: Given, mud: Stream, last_bagasse: Stream) -> Out:
    """Mud with bagacillo and wash water to cake and filtrate."""
    fine = last_bagasse * (g["bagacillo.on_cane"] * g["cane.rate"] / last_bagasse[F])
    feed = mud + fine
    strength, moist = (1.0 - g["filter.washing"]) / juice(feed), g["cake.moisture"]
    taken = 0.0  # of the mud: non-sucrose, until filtrate is so far under the clear juice
    for _ in range(60):
        soil = g["filter.retention"] * (feed[I] - taken)
        kept = g["filter.retention"] * feed[F] + soil
        liquid = moist * kept / (1.0 - strength * dissolved(feed) - moist)
        sugar, other = strength * liquid * feed[S], strength * liquid * feed[N]
        cake = stream(liquid - sugar - other, sugar, other, g["filter.retention"] * feed[F], soil)
        wash = g["filter.wash_on_cake"] * mass(cake)
        strength = (1.0 - g["filter.washing"]) ** (0.5 * wash / liquid) / juice(feed)
        left = feed + stream(wash) - cake
        taken = left[S] / (purity(mud) - g["filtrate.purity_drop"]) - left[S] - left[N]
    back = left + stream(0.0, 0.0, taken, 0.0, -taken)
    return {"cake": cake, "wash": wash, "filtrate": back, "bagacillo": fine}


def mixed_temperature(g: Given, crushed: Stream, mills: Out, power: float, count: int) -> float:
    """Heat of cane, imbibition and nine tenths of the power goes with juice and bagasse."""
    comes = heat(crushed, g["cane.temperature"]) + 0.9 * power
    comes += mills["imbibition"] * water(g["imbibition.temperature"])
    comes -= heat(mills["bagasse"][count], g["bagasse.temperature"])
    return secant(lambda t: comes - heat(mills["mixed"], t), 40.0, 41.0)
