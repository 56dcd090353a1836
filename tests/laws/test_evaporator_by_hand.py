"""The plant's evaporator against a hand's linear balances: a loss of each effect, parallel effects.

Liquor like water (1 Btu/lb.degF), no boiling-point rise, latent heats given: the unknown vapours
enter in straight lines, so that a hand with a table of four equations finds them.
"""

from __future__ import annotations

import numpy as np
import pytest

from ratoon.checks.registry import formulas

FEED, THIN, THICK, FED, STEAM = 49500.0, 0.10, 0.50, 200.0, 244.0
BOILS, LATENT, U = (230.0, 190.0, 125.0), (949.0, 961.0, 981.0, 1022.0), (600.0, 250.0, 125.0)


def by_hand(losses: tuple[float, ...], bled: float) -> dict[str, float]:
    """Steam and vapours [lb/h], areas [ft2]: by balances of heat, one for each effect."""
    t1, t2, t3 = BOILS
    kept = [1.0 - loss for loss in losses]
    own = 0.5 * FEED if bled else FEED  # juice of the first effect; the one beside takes the rest
    evaporated = FEED * (1.0 - THIN / THICK)
    # of S, V1, V2, V3; L is what is left of the juice
    a = np.array([
        [kept[0] * LATENT[0], -LATENT[1], 0.0, 0.0],
        [0.0, kept[1] * LATENT[1] + t2 - t1, -LATENT[2], 0.0],
        [0.0, t3 - t2, kept[2] * LATENT[2] + t3 - t2, -LATENT[3]],
        [0.0, 1.0, 1.0, 1.0],
    ])  # fmt: skip
    left = FEED - bled
    b = np.array([own * (t1 - FED), left * (t2 - t1), left * (t3 - t2), evaporated - bled])
    steam, *vapours = np.linalg.solve(a, b)
    found = {"steam": steam, **{f"vapour.{i}": v for i, v in enumerate(vapours, 1)}}
    gives = (steam * LATENT[0], vapours[0] * LATENT[1], vapours[1] * LATENT[2])
    above = (STEAM, t1, t2)
    for i in range(3):
        found[f"area.{i + 1}"] = gives[i] / (U[i] * (above[i] - BOILS[i]))
    if bled:
        beside = (bled * LATENT[1] + own * (t1 - FED)) / (kept[0] * LATENT[0])
        found |= {"steam.beside": beside, "vapour.beside": bled}
        found["area.beside"] = beside * LATENT[0] / (U[0] * (STEAM - t1))
    whole = found["steam"] + found.get("steam.beside", 0.0)
    return found | {"economy": evaporated / whole}


@pytest.mark.parametrize("bled", [0.0, 5000.0])
@pytest.mark.parametrize("losses", [(0.0, 0.0, 0.0), (0.01, 0.02, 0.03)])
def test_the_station_finds_what_the_hand_finds(losses: tuple[float, ...], bled: float) -> None:
    station = formulas()["triple_effect_given_temperatures"]
    given = {"feed": FEED, "x_in": THIN, "x_out": THICK, "t_feed": FED, "t_steam": STEAM,
             "t_cond": BOILS[2], "t1": BOILS[0], "t2": BOILS[1], "bled": bled}  # fmt: skip
    given |= {f"lam{i}": heat for i, heat in enumerate(LATENT)}
    given |= {f"U{i}": u for i, u in enumerate(U, 1)}
    given |= {f"loss{i}": 100.0 * loss for i, loss in enumerate(losses, 1)}
    for name, expected in by_hand(losses, bled).items():
        inputs = {n: str(value) for n, value in given.items()} | {"output": name}
        assert station.worked(inputs) == pytest.approx(expected, rel=1e-6), name
