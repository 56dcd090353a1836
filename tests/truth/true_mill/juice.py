"""Heaters, liming, clarifier and filters: from mixed juice to clear juice and cake.

Cake is washed by displacement: each part of wash on the cake's liquid takes the same share of what
is left. The filtrate is poorer than clear juice, for precipitate dissolves again and some sucrose
is destroyed on the filters.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from true_mill.properties import F, I, N, S, Stream, W, heat, juice, mass, rise, stream, vapour

LATENT = 2.257e9  # J/t at 100 degC
USUAL_WASH = 2.0  # parts of wash on the cake's liquid for which washing is stated


@dataclass
class Clarified:
    limed: Stream
    limed_temperature: float
    hot: Stream
    flash: float
    mud: Stream
    clear: Stream
    filtrate: Stream
    cake: Stream
    wash: float
    bagacillo: Stream
    inverted: float
    duty: dict[str, float]  # heat given to each heater's juice [J a day]


def inverted(a: Stream, sucrose: float) -> Stream:
    """The stream after that sucrose was split with water."""
    return a + stream(-0.0526 * sucrose, -sucrose, 1.0526 * sucrose)


def clarify(mixed: Stream, bagasse: Stream, cane: Stream, at: Mapping[str, float],
            c: Mapping[str, float]) -> Clarified:  # fmt: skip
    """`at` holds what people set: temperatures, lime, mud, wash, moisture of cake."""
    lime = at["lime"] * mass(cane)
    slurry = stream(lime * c["lime.water"] + c["flocculant"] * mass(cane), 0.0,
                    (1.0 - c["lime.to_mud"]) * lime, 0.0, c["lime.to_mud"] * lime)  # fmt: skip
    bagacillo = bagasse * (c["bagacillo"] * mass(cane) / bagasse[F])
    filtrate = 0.12 * mixed
    for _ in range(80):
        before = filtrate
        limed = mixed + slurry + filtrate
        brings = heat(mixed, at["primary"]) + heat(filtrate, c["filtrate.temperature"])
        brings += heat(slurry, at["cane"])
        warm = 70.0 + (brings - heat(limed, 70.0)) / (heat(limed, 71.0) - heat(limed, 70.0))
        hot = limed.copy()
        flash = 0.0
        for _ in range(4):
            after = limed - stream(flash)
            boils = 100.0 + rise(after, c["effect.rise"])
            over = (
                heat(limed, at["secondary"]) - heat(after, boils) - 1000.0 * flash * vapour(100.0)
            )
            flash = max(flash + over / LATENT, 0.0)
        removed = c["removal"] * mixed[N]
        treated = limed + stream(-flash, 0.0, -removed, 0.0, removed)
        lost = c["clarifier.inversion"] * float(treated[S])
        treated = inverted(treated, lost)
        solids = float(treated[F] + treated[I])
        share = solids * (1.0 / at["mud"] - 1.0) / juice(treated)
        mud = treated * share
        mud[F], mud[I] = treated[F], treated[I]
        clear = (1.0 - share) * stream(*treated[:3])
        filtrate, cake, wash = _filter(mud + bagacillo, at, c)
        if np.abs(filtrate - before).max() < 1e-9 * mass(cane):
            break
    clear = clear * (1.0 - c["unseen.juice"] * float(cane[S] / clear[S]))
    duty = {"primary": heat(mixed, at["primary"]) - heat(mixed, at["mixed"]),
            "secondary": heat(limed, at["secondary"]) - heat(limed, warm)}  # fmt: skip
    return Clarified(limed, warm, hot, flash, mud, clear, filtrate, cake, wash, bagacillo, lost,
                     duty)  # fmt: skip


def _filter(feed: Stream, at: Mapping[str, float], c: Mapping[str, float],
            ) -> tuple[Stream, Stream, float]:  # fmt: skip
    """Filtrate, cake and wash water."""
    fibre, soil = c["retention"] * feed[F], c["retention"] * feed[I]
    rate = -np.log(1.0 - c["washing"]) / USUAL_WASH
    liquid = (fibre + soil) * at["cake_moisture"] / (1.0 - at["cake_moisture"])
    strength = (feed[S] + feed[N]) / juice(feed)
    for _ in range(3):
        wash = at["wash_on_cake"] * (fibre + soil + liquid)
        left = strength * float(np.exp(-rate * wash / liquid))
        liquid = (fibre + soil) * at["cake_moisture"] / (1.0 - left - at["cake_moisture"])
    pure = feed[S] / (feed[S] + feed[N])
    cake = stream(liquid * (1.0 - left), liquid * left * pure, liquid * left * (1.0 - pure), fibre,
                  soil)  # fmt: skip
    through = feed + stream(wash) - cake
    return _spoilt(through, c), cake, wash


def _spoilt(filtrate: Stream, c: Mapping[str, float]) -> Stream:
    """Lower in purity: precipitate dissolved again, the rest of the drop by destruction."""
    s, n = float(filtrate[S]), float(filtrate[N])
    wanted = s / (s + n) - c["filtrate.purity_drop"]
    more = min(c["filtrate.redissolved"] * (s / wanted - s - n), 0.8 * float(filtrate[I]))
    solids = s + n + more
    lost = (s - wanted * solids) / (1.0 + 0.0526 * wanted)
    out = filtrate + stream(0.0, 0.0, more, 0.0, -more)
    return inverted(out, max(lost, 0.0))


__all__ = ["Clarified", "W", "clarify", "inverted"]
