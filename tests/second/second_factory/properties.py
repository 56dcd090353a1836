"""Water, steam, sugar solutions and crystal; a secant for what must be found."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from math import exp, log10

import CoolProp
import numpy as np
from numpy.typing import NDArray

Stream = NDArray[np.float64]
W, S, N, F, I, X = range(6)  # noqa: E741
WATER = CoolProp.AbstractState("IF97", "Water")
GAS, SUCROSE, H2O = 8.314462618, 342.2965, 18.01528  # J/mol.K, g/mol, g/mol


def stream(*parts: float) -> Stream:
    return np.array([*parts, *[0.0] * (6 - len(parts))], dtype=float)


def dissolved(a: Stream) -> float:
    return float(a[S] + a[N])


def juice(a: Stream) -> float:
    return float(a[W] + a[S] + a[N])


def mass(a: Stream) -> float:
    return float(a.sum())


def brix(a: Stream) -> float:
    return dissolved(a) / juice(a)


def purity(a: Stream) -> float:
    return float(a[S]) / dissolved(a)


def all_purity(a: Stream) -> float:
    return float(a[S] + a[X]) / (dissolved(a) + float(a[X]))


def secant(f: Callable[[float], float], a: float, b: float, close: float = 1e-14) -> float:
    """Where f is zero, from two guesses."""
    fa, fb = f(a), f(b)
    for _ in range(60):
        if fb == fa or abs(b - a) <= close * max(1.0, abs(b)):
            break
        a, b, fa = b, b - fb * (b - a) / (fb - fa), fb
        fb = f(b)
    return b


def stands(
    turn: Callable[[Stream], Stream], x: Stream, close: float, memory: int = 10
) -> Stream:  # fmt: skip
    """Where `turn` changes nothing: going round, with each guess mixed from the ones before it.

    Method: Anderson's mixing. Plain going round drifts away where a recycle is strong.
    """
    points: list[Stream] = []
    moves: list[Stream] = []
    for _ in range(300):
        move = turn(x) - x
        points, moves = [*points[-memory:], x], [*moves[-memory:], move]
        if np.abs(move).max() <= close:
            return x + move
        if len(points) > 1:
            d_move = np.diff(np.array(moves), axis=0).T
            d_point = np.diff(np.array(points), axis=0).T
            weights = np.linalg.lstsq(d_move, move, rcond=1e-12)[0]
            x = x + move - (d_point + d_move) @ weights
        else:
            x = x + move
    raise AssertionError(f"does not stand still: moves by {np.abs(move).max():.2g}")


def smaller(a: float, b: float, width: float) -> float:
    """The smaller of two, rounded where they meet: (a + b - ((a - b)^2 + w^2)^0.5)/2."""
    return 0.5 * (a + b - ((a - b) ** 2 + width**2) ** 0.5)


def larger(a: float, b: float, width: float) -> float:
    return 0.5 * (a + b + ((a - b) ** 2 + width**2) ** 0.5)


# water and steam, [IF97] by CoolProp


@lru_cache(4096)
def pressure_at(t: float) -> float:
    WATER.update(CoolProp.QT_INPUTS, 0.0, t + 273.15)
    return float(WATER.p())


@lru_cache(4096)
def boils_at(p: float) -> float:
    WATER.update(CoolProp.PQ_INPUTS, p, 0.0)
    return float(WATER.T()) - 273.15


@lru_cache(4096)
def water(t: float) -> float:
    """Saturated liquid [J/kg]."""
    WATER.update(CoolProp.QT_INPUTS, 0.0, t + 273.15)
    return float(WATER.hmass())


@lru_cache(4096)
def vapour(t: float) -> float:
    """Saturated vapour [J/kg]."""
    WATER.update(CoolProp.QT_INPUTS, 1.0, t + 273.15)
    return float(WATER.hmass())


def saturated(t: float, quality: float, what: str) -> float:
    WATER.update(CoolProp.QT_INPUTS, quality, t + 273.15)
    return float(getattr(WATER, what)())


def steam(p: float, t: float, what: str = "hmass") -> float:
    """Superheated steam: enthalpy [J/kg], or what is asked for."""
    WATER.update(CoolProp.PT_INPUTS, p, t + 273.15)
    return float(getattr(WATER, what)())


# sugar solutions, crystal


def heat(a: Stream, t: float) -> float:
    """Enthalpy flow [W]: steam table's water, [Bubnik1995]'s difference from it, solids."""
    b, p = 100.0 * brix(a), 100.0 * purity(a)
    liquor = water(t) + 1000.0 * (-b * t * (0.0297 - 4.6e-5 * p) + 3.75e-5 * b * t * t)
    return juice(a) * liquor + (1400.0 * a[F] + 900.0 * a[I]) * t + a[X] * crystal(t)


def crystal(t: float) -> float:
    """Dissolved sucrose less the heat of crystallisation [J/kg], own."""
    return 1000.0 * (1.677 * t + 3.75e-3 * t * t) - 1000.0 * (8.5 + 0.82 * t)


def activity(dry: float, t: float) -> float:
    """Of water over a sucrose solution, [StarzakPeacock1998]."""
    x = (dry / SUCROSE) / (dry / SUCROSE + (1.0 - dry) / H2O)
    margules = -17638.0 / (GAS * (t + 273.15)) * x * x * (1.0 - 1.0038 * x - 0.24653 * x * x)
    return (1.0 - x) * exp(margules)


def rise(dry: float, pure: float, t: float) -> float:
    """Boiling-point rise [K] over saturation at t: pure sucrose's, times 2.5 - 1.5 purity."""
    p, boiling = pressure_at(t), t
    for _ in range(30):
        before, boiling = boiling, boils_at(p / activity(dry, boiling))
        if abs(boiling - before) < 1e-12:
            break
    return (boiling - t) * (2.5 - 1.5 * pure)


def pan_rise(dry: float, pure: float, t: float) -> float:
    """[Batterham1975], pan liquors [K]."""
    return (0.03 - 0.018 * pure) * (t + 84.0) * dry / (1.0 - dry)


def holds(t: float) -> float:
    """Sucrose for each water, saturated and pure, [Vavrinecz1962]."""
    s = 64.447 + t * (0.08222 + t * (1.6169e-3 + t * (-1.558e-6 - 4.63e-8 * t)))
    return s / (100.0 - s)


KELL = (999.83952, 16.952577, -7.9905127e-3, -46.241757e-6, 105.84601e-9, -281.03006e-12)
ICUMSA = (
    (385.1761, 135.3705, 40.9299, -3.9643, 13.4853, -17.2890),
    (-46.2720, -7.1720, 1.1597, 5.1126, 17.5254),
    (59.7712, 7.2491, 12.3630, -35.4791),
    (-47.2207, -21.6977, 27.6301),
    (18.3184, 12.3081),
)


def density(dry: float, t: float) -> float:
    """[Bubnik1995] p. 164 on [Kell1975]'s water [kg/m3]."""
    rho = sum(c * t**k for k, c in enumerate(KELL)) / (1.0 + 16.887236e-3 * t)
    tau = (t - 20.0) / 100.0
    for k, row in enumerate(ICUMSA):
        rho += tau**k * sum(c * dry**j for j, c in enumerate(row, 1))
    return rho


def inversion(dry: float, pure: float, t: float, ph: float) -> float:
    """First-order rate [1/s], [Vukov1965]."""
    waterlike = density(dry, t) / 1000.0 * (1.0 - dry * pure)
    return 10.0 ** (16.91 + log10(waterlike) - 5670.0 / (t + 273.15) - ph) / 60.0
