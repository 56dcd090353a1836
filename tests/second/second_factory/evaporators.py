"""The evaporator, shot from the first chest: two numbers are tried until both ends fit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from second_factory.juice_end import inverted
from second_factory.properties import (
    S,
    Stream,
    boils_at,
    brix,
    heat,
    purity,
    rise,
    secant,
    smaller,
    steam,
    stream,
    vapour,
    water,
)

Given = Mapping[str, float]
LOSS, DROP, SUPERHEAT = 0.015, 0.5, 1900.0


def effect(
    feed: Stream, t_feed: float, share: float, given: float, t: float
) -> dict[str, Any]:  # fmt: skip
    """Vapour that one effect makes at boiling temperature t with the heat given to it [W].

    A share of the sucrose that comes is inverted there.
    """
    found: dict[str, Any] = {}
    inside = inverted(feed, share)

    def left(v: float) -> float:
        out = inside - stream(v)
        sat = t
        for _ in range(40):
            before, sat = sat, t - rise(brix(out), purity(out), sat)
            if abs(sat - before) < 1e-12:
                break
        carried = vapour(sat) + SUPERHEAT * (t - sat)
        found.update(juice=out, saturated=sat, boiling=t, vapour=v, enthalpy=carried)
        return heat(feed, t_feed) + (1.0 - LOSS) * given - v * carried - heat(out, t)

    first = given / 2.3e6
    secant(left, 0.98 * first, first, 1e-13)
    if not (first > 0.0 and 0.0 < brix(found["juice"]) < 0.85):
        raise ValueError("boiled dry")
    return found


def shoot(
    g: Given, effects: list[dict[str, float]], clear: Stream, bled: list[float], flow: float,
    chest: float,
) -> list[dict[str, Any]]:  # fmt: skip
    """All effects in turn for a flow of exhaust and a temperature of the first chest."""
    own = g["hours.evaporator"] / g["hours.crushing"]
    done: list[dict[str, Any]] = []
    feed, t_feed = clear, g["clear_juice.temperature"]
    for i, e in enumerate(effects, 1):
        if i == 1:
            given = flow * (steam(g["exhaust.pressure"], g["exhaust.temperature"]) - water(chest))
        else:
            given = done[-1]["net"] * (done[-1]["enthalpy"] - water(chest))
            flashing = sum(d["net"] for d in done[:-1])
            if i > 2:
                cools = water(done[-1]["chest"]) - water(chest)
                given += flashing * cools
        t = chest - given / (g[f"effect.{i}.htc"] * e["area"] * own)
        here = effect(feed, t_feed, g[f"effect.{i}.inversion"], given, t)
        here.update(chest=chest, heat=given, net=here["vapour"] - bled[i - 1], feed=feed)
        done.append(here)
        feed, t_feed, chest = here["juice"], t, here["saturated"] - DROP
    return done


def liquor(g: Given, last: Stream) -> Stream:
    spilt = g["undetermined.evaporators"] / last[S]
    lost = spilt + g["evaporator.entrainment"]
    return stream((1.0 - spilt) * last[0], (1.0 - lost) * last[1], (1.0 - lost) * last[2])


def evaporator(
    g: Given, effects: list[dict[str, float]], clear: Stream, bled: list[float],
    guess: tuple[float, float],
) -> tuple[list[dict[str, Any]], tuple[float, float]]:  # fmt: skip
    """Newton on exhaust flow and first chest: last vapour as set, valve or brix as set."""
    top = boils_at(g["exhaust.pressure"]) - DROP
    last = f"effect.{len(effects)}.vapour.temperature"
    done: list[dict[str, Any]] = []

    def miss(u: np.ndarray) -> np.ndarray:
        nonlocal done
        done = shoot(g, effects, clear, bled, float(u[0]), float(u[1]))
        spare = (top - u[1]) / 10.0
        short = (g["liquor.brix_set"] - brix(liquor(g, done[-1]["juice"]))) / 0.05
        return np.array([done[-1]["saturated"] - g[last], smaller(spare, short, 1e-4)])

    def size(r: np.ndarray) -> float:
        return float(np.abs(r / (1.0, 0.01)).max())

    def tried(u: np.ndarray) -> np.ndarray | None:
        try:
            return miss(u)
        except (IndexError, ValueError, OverflowError):  # boiled dry, or no such state of water
            return None

    u = np.array(guess)
    r = tried(u)
    if r is None:  # take what is nearest of a row of flows of exhaust
        row = [(x, tried(x)) for x in (np.array([k * guess[0], guess[1]])
                                       for k in np.linspace(0.4, 4.0, 37))]  # fmt: skip
        u, r = min(((x, y) for x, y in row if y is not None), key=lambda p: size(p[1]))
    for _ in range(60):
        if np.abs(r).max() < 1e-11:
            break
        slope = np.array([(miss(u + 1e-5 * k) - r) / 1e-5 for k in np.eye(2)]).T
        move = -np.linalg.solve(slope, r)
        for _ in range(25):
            trial = tried(u + move)
            if trial is not None and size(trial) < size(r):
                break
            move = 0.5 * move
        else:
            break
        u, r = u + move, trial
    miss(u)
    return done, (float(u[0]), float(u[1]))
