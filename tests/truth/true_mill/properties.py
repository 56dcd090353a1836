"""Water, steam, sugar solutions, crystal and bagasse, by other formulas than the program's."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Stream = NDArray[np.float64]
W, S, N, F, I, X = range(6)  # noqa: E741
"""Water, sucrose, dissolved non-sucrose, fibre, mud solids, crystal [t a day]."""

# Steam tables [IAPWS-95], kJ/kg every 10 degC from 0.
LIQUID = np.array([0.0, 42.02, 83.91, 125.73, 167.53, 209.34, 251.18, 293.07, 335.01, 377.04,
                   419.17, 461.42, 503.81, 546.38, 589.16, 632.18]) * 1e3  # fmt: skip
VAPOUR = np.array([2500.9, 2519.2, 2537.4, 2555.6, 2573.5, 2591.3, 2608.8, 2626.1, 2643.0, 2659.5,
                   2675.6, 2691.1, 2705.9, 2720.1, 2733.4, 2745.9]) * 1e3  # fmt: skip
CRITICAL = (647.096, 22.064e6)


def stream(water: float = 0.0, sucrose: float = 0.0, nonsucrose: float = 0.0, fibre: float = 0.0,
           soil: float = 0.0, crystal: float = 0.0) -> Stream:  # fmt: skip
    return np.array([water, sucrose, nonsucrose, fibre, soil, crystal])


def mass(a: Stream) -> float:
    return float(a.sum())


def juice(a: Stream) -> float:
    return float(a[W] + a[S] + a[N])


def brix(a: Stream) -> float:
    return float(a[S] + a[N]) / juice(a)


def purity(a: Stream) -> float:
    return float(a[S] / (a[S] + a[N]))


def all_sucrose(a: Stream) -> float:
    return float(a[S] + a[X])


def dry(a: Stream) -> float:
    return float(a[S] + a[N] + a[X])


def dry_substance(a: Stream) -> float:
    return dry(a) / mass(a)


def true_purity(a: Stream) -> float:
    return all_sucrose(a) / dry(a)


def pressure(t: float) -> float:
    """Saturation pressure [Pa], [WagnerPruss1993]."""
    absolute = t + 273.15
    x = 1.0 - absolute / CRITICAL[0]
    terms = (-7.85951783 * x + 1.84408259 * x**1.5 - 11.7866497 * x**3 + 22.6807411 * x**3.5
             - 15.9618719 * x**4 + 1.80122502 * x**7.5)  # fmt: skip
    return float(CRITICAL[1] * np.exp(CRITICAL[0] / absolute * terms))


def boils_at(p: float) -> float:
    """Saturation temperature [degC]."""
    low, high = 20.0, 260.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if pressure(middle) < p else (low, middle)
    return 0.5 * (low + high)


def liquid(t: float) -> float:
    return float(np.interp(t / 10.0, np.arange(len(LIQUID)), LIQUID))


def vapour(t: float) -> float:
    return float(np.interp(t / 10.0, np.arange(len(VAPOUR)), VAPOUR))


def exhaust(p: float, t: float) -> float:
    """Slightly superheated steam [J/kg]."""
    saturated = boils_at(p)
    return vapour(saturated) + 2150.0 * (t - saturated)


def live(p: float, t: float) -> float:
    """Steam from boilers [J/kg], linear about 2.5 MPa, 350 degC."""
    return 3.127e6 + 2310.0 * (t - 350.0) - 0.0215 * (p - 2.5e6)


def heat(a: Stream, t: float) -> float:
    """Enthalpy of a stream [J a day]; juice by [Janovskii]'s specific heat."""
    j = juice(a)
    solids = a[S] + a[N]
    impure = 80.0 * (1.0 - a[S] / solids) * 1e-3 if solids > 0.0 else 0.0
    less = 4186.8 * (0.6 * t - 0.0009 * t * t + impure * t)
    parts = j * liquid(t) - solids * less + (1380.0 * a[F] + 900.0 * a[I]) * t
    return 1000.0 * float(parts + a[X] * (1127.0 * t + 2.26 * t * t - 17e3))


def rise(a: Stream, factor: float) -> float:
    """Boiling-point rise of juice and liquor [K], [Rein2007]'s quick form."""
    b = brix(a)
    return factor * 2.0 * b / (1.0 - b)


def pan_rise(a: Stream, factor: float) -> float:
    """Boiling-point rise of a mother liquor [K], own."""
    b = brix(a)
    return factor * 3.2 * (1.45 - purity(a)) * b / (1.0 - b)


def dissolves(t: float, impurity: float) -> float:
    """Sucrose held by a part of water at saturation; `impurity` is non-sucrose on water."""
    x = t - 20.0
    return (2.0 + 0.0128 * x + 2.3e-4 * x * x) * float(np.exp(-0.105 * impurity))


def gross_heat(moisture: float, ash: float, pol: float, factor: float) -> float:
    """Calorific value of bagasse [J/kg], [Hugot] with a term for ash."""
    return factor * 4186.8 * (4600.0 * (1.0 - moisture - ash) - 1200.0 * pol)
