"""Effects in series on one juice: masses by heat, temperatures from the last effect back.

The steam valve holds the brix of the liquor, so the first chest is what is found.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from true_mill.juice import inverted
from true_mill.properties import (
    N,
    S,
    Stream,
    brix,
    dry,
    exhaust,
    heat,
    juice,
    liquid,
    rise,
    stream,
    vapour,
)  # fmt: skip


@dataclass
class Evaporated:
    juices: list[Stream]
    vapours: list[float]  # made in each effect [t a day]
    saturated: list[float]  # of each vapour [degC]
    boils: list[float]
    chests: list[float]
    heats: list[float]  # [J a day]
    steam: float  # exhaust [t a day]
    inverted: float
    entrained: float
    liquor: Stream
    lost: float
    areas: list[float] = field(default_factory=list)


def drop(c: Mapping[str, float], i: int) -> float:
    """Fall of saturation temperature in the vapour line behind effect i."""
    return max(c["effect.drop"] + c[f"effect.drop.{i}"], 0.05)


def evaporate(clear: Stream, temperature: float, liquor_brix: float, bleeds: Sequence[float],
              conductance: Sequence[float], last: float, main: tuple[float, float],
              unseen: float, c: Mapping[str, float],
              chests: Sequence[float] | None = None) -> Evaporated:  # fmt: skip
    """Clear juice to liquor.

    Parameters
    ----------
    bleeds : vapour taken from each effect by heaters and pans [t a day].
    conductance : heat-transfer coefficient times area times time, each effect [J a day/K].
    last : saturation temperature of the last vapour. main : exhaust pressure and temperature.
    unseen : sucrose lost unseen [t a day]. chests : where given, the temperatures are held and
    `heats` tells what areas they need: how a mill is laid out.
    """
    n = len(bleeds)
    after = _solids(clear, c, n)
    whole = juice(clear) - dry(after[-1]) / liquor_brix - float(sum(
        juice(clear) - juice(a) for a in after[-1:]))  # fmt: skip
    made = np.full(n, whole / n)
    saturated = np.linspace(105.0, last, n)
    boil, chest = saturated + 1.0, np.linspace(113.0, last + 20.0, n)
    for _ in range(60):
        before = np.concatenate([made, boil])
        juices = [after[i] - stream(float(made[: i + 1].sum())) for i in range(n)]
        made = _vapours(clear, temperature, juices, made, boil, saturated, chest, bleeds, whole, c)
        juices = [after[i] - stream(float(made[: i + 1].sum())) for i in range(n)]
        heats = _heats(clear, temperature, juices, made, boil, saturated, c)
        if chests is not None:
            chest = np.array(chests)
            for i in range(n - 1):
                saturated[i] = chest[i + 1] + drop(c, i + 1)
            saturated[-1] = last
            boil = saturated + [rise(j, c["effect.rise"]) for j in juices]
        else:
            saturated[-1] = last
            for i in range(n - 1, -1, -1):
                boil[i] = saturated[i] + rise(juices[i], c["effect.rise"])
                chest[i] = boil[i] + heats[i] / conductance[i]
                if i:
                    saturated[i - 1] = chest[i] + drop(c, i)
        if np.abs(np.concatenate([made, boil]) - before).max() < 1e-7 * whole / n:
            break
    gives = exhaust(*main) - liquid(float(chest[0]))
    carried = c["entrained"] * float(juices[-1][S])
    spilt = unseen / float(juices[-1][S])
    out = juices[-1] * (1.0 - spilt)
    part = carried / float(juices[-1][S])
    out[S], out[N] = out[S] - part * juices[-1][S], out[N] - part * juices[-1][N]
    lost = float(clear[S]) - float(after[-1][S])
    return Evaporated(juices, made.tolist(), saturated.tolist(), boil.tolist(), chest.tolist(),
                      heats.tolist(), float(heats[0]) / (1000.0 * gives), lost, carried, out,
                      unseen)  # fmt: skip


def _solids(clear: Stream, c: Mapping[str, float], n: int) -> list[Stream]:
    """The juice behind each effect as inversion leaves it, its water not yet boiled off."""
    found, now = [], clear
    for i in range(1, n + 1):
        now = inverted(now, c[f"inverted.{i}"] * float(now[S]))
        found.append(now)
    return found


def _latent(t: float) -> float:
    return 1000.0 * (vapour(t) - liquid(t))


def _off(boils: float, saturated: float) -> float:
    """Enthalpy of a vapour as it leaves its juice [J/t]."""
    return 1000.0 * (vapour(saturated) + 1900.0 * (boils - saturated))


def _heats(clear: Stream, temperature: float, juices: Sequence[Stream], made: np.ndarray,
           boil: np.ndarray, saturated: np.ndarray, c: Mapping[str, float],
           ) -> np.ndarray:  # fmt: skip
    """Heat that each effect needs, its loss with it [J a day]."""
    found = np.zeros(len(made))
    comes = heat(clear, temperature)
    for i, juice_out in enumerate(juices):
        leaves = heat(juice_out, float(boil[i]))
        taken = float(made[i]) * _off(float(boil[i]), float(saturated[i])) + leaves - comes
        found[i] = taken / (1.0 - max(c["effect.loss"] + c[f"effect.loss.{i + 1}"], 0.001))
        comes = leaves
    return found


def _vapours(clear: Stream, temperature: float, juices: Sequence[Stream], made: np.ndarray,
             boil: np.ndarray, saturated: np.ndarray, chest: np.ndarray, bleeds: Sequence[float],
             whole: float, c: Mapping[str, float]) -> np.ndarray:  # fmt: skip
    """Vapour of each effect such that each gives the next its heat and all boil off `whole`."""
    n = len(made)
    need = _heats(clear, temperature, juices, made, boil, saturated, c)
    a, b = np.zeros((n, n)), np.zeros(n)
    for i in range(1, n):
        # heat needed grows with its own vapour; what the vapour before gives less the bleed
        slope = _off(float(boil[i]), float(saturated[i])) - 1000.0 * liquid(float(boil[i]))
        gives = _off(float(boil[i - 1]), float(saturated[i - 1])) - 1000.0 * liquid(float(chest[i]))
        flash = 0.0
        if i >= 2:
            condensate = sum(float(made[k] - bleeds[k]) for k in range(i - 1))
            fall = liquid(float(chest[i - 1])) - liquid(float(chest[i]))
            flash = c["effect.flash"] * condensate * 1000.0 * fall
        a[i - 1, i], a[i - 1, i - 1] = slope, -gives
        b[i - 1] = slope * made[i] - need[i] - gives * bleeds[i - 1] + flash
    a[n - 1, :], b[n - 1] = 1.0, whole
    return np.linalg.solve(a, b)


def steam_for(duty: float, saturated: float, c: Mapping[str, float]) -> float:
    """Vapour to a heater [t a day] for the heat that its juice takes."""
    t = saturated - c["effect.drop"]
    gives = 1000.0 * (vapour(t) - liquid(t - c["heater.below"]))
    return duty * (1.0 + c["heater.loss"]) / gives


__all__ = ["Evaporated", "brix", "drop", "evaporate", "steam_for"]
