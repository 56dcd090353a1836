"""The evaporator, shot from the first chest: two numbers are tried until both ends fit."""

from __future__ import annotations

from collections.abc import Mapping
from math import exp
from typing import Any

import numpy as np

from second_factory.juice_end import inverted
from second_factory.properties import (
    S,
    Stream,
    boils_at,
    brix,
    density,
    heat,
    inversion,
    mass,
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
LOSS, DROP, SUPERHEAT, EFFECTS = 0.015, 0.5, 1900.0, 5


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


def usual(brix_out: float, chest: float) -> float:
    """Three quarters of the published coefficient [W/m2.K]."""
    made = 0.001 * (100.0 - 100.0 * brix_out) * (chest - 54.0) / 3600.0
    return 0.75 * made * (vapour(chest) - water(chest))


def passing(
    g: Given, i: int, e: Mapping[str, float], feed: Stream, t_feed: float, given: float,
    chest: float,
) -> dict[str, Any]:  # fmt: skip
    """An effect with its coefficient as set, moved from the day's as the published one moves."""
    own = g["hours.evaporator"] / g["hours.crushing"]
    htc, share = g[f"effect.{i}.htc_set"], g[f"effect.{i}.inversion"]
    for _ in range(60):
        t = chest - given / (htc * e["area"] * own)
        here, before = effect(feed, t_feed, share, given, t), htc
        if g["day.known"]:
            htc = g[f"effect.{i}.htc_set"] * usual(brix(here["juice"]), chest)
            htc /= g[f"day.effect.{i}.htc_expected"]
            share = g[f"effect.{i}.inversion"] * by_heat(g, i, e, here["juice"], t)[-1]
            share /= g[f"day.inversion.effect.{i}.share"]
        if abs(htc - before) < 1e-11 * htc:
            break
    return {**here, "htc": htc, "inverts": share}


def by_heat(
    g: Given, i: int, e: Mapping[str, float], out: Stream, t: float
) -> tuple[float, float, float, float]:  # fmt: skip
    """pH at heat, time [s], rate [1/s] and share of sucrose inverted in an effect."""
    own = g["hours.evaporator"] / g["hours.crushing"]
    ph = g["clear_juice.ph"] + i * (g["liquor.ph"] - g["clear_juice.ph"]) / EFFECTS
    return inverts(g, e["volume"], out, t, ph, own)


def inverts(
    g: Given, volume: float, a: Stream, t: float, ph: float, hours: float
) -> tuple[float, float, float, float]:  # fmt: skip
    """pH at heat, time [s], rate [1/s] and share of sucrose inverted where juice is held."""
    hot = ph - g["inversion.ph_slope"] * (t - 20.0)
    time = volume * density(brix(a), t) / mass(a) * hours
    rate = g["inversion.model"] * inversion(brix(a), purity(a), t, hot)
    return hot, time, rate, 1.0 - exp(-rate * time)


def shoot(
    g: Given, effects: list[dict[str, float]], clear: Stream, bled: list[float], flow: float,
    chest: float,
) -> list[dict[str, Any]]:  # fmt: skip
    """All effects in turn for a flow of exhaust and a temperature of the first chest."""
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
        here = passing(g, i, e, feed, t_feed, given, chest)
        here.update(chest=chest, heat=given, net=here["vapour"] - bled[i - 1], feed=feed)
        done.append(here)
        feed, t_feed, chest = here["juice"], here["boiling"], here["saturated"] - DROP
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
