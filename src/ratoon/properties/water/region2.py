"""Steam: the specific Gibbs energy of IAPWS-IF97 region 2 and its derivatives.

Source: [IF97] Tables 10 and 11 (coefficients as printed), Table 15 (verification values).
"""

from __future__ import annotations

from ratoon.base.maths import Quantity, log, written_once
from ratoon.properties.water.formulation import ORDERS, Region, power_series

TEMPERATURE_SHIFT = 0.5

# [IF97] Table 10: J, n of the ideal-gas part
IDEAL = (
    (0, -0.96927686500217e1),
    (1, 0.10086655968018e2),
    (-5, -0.56087911283020e-2),
    (-4, 0.71452738081455e-1),
    (-3, -0.40710498223928),
    (-2, 0.14240819171444e1),
    (-1, -0.43839511319450e1),
    (2, -0.28408632460772),
    (3, 0.21268463753307e-1),
)
# [IF97] Table 11: I, J, n of the residual part
RESIDUAL = (
    (1, 0, -0.17731742473213e-2),
    (1, 1, -0.17834862292358e-1),
    (1, 2, -0.45996013696365e-1),
    (1, 3, -0.57581259083432e-1),
    (1, 6, -0.50325278727930e-1),
    (2, 1, -0.33032641670203e-4),
    (2, 2, -0.18948987516315e-3),
    (2, 4, -0.39392777243355e-2),
    (2, 7, -0.43797295650573e-1),
    (2, 36, -0.26674547914087e-4),
    (3, 0, 0.20481737692309e-7),
    (3, 1, 0.43870667284435e-6),
    (3, 3, -0.32277677238570e-4),
    (3, 6, -0.15033924542148e-2),
    (3, 35, -0.40668253562649e-1),
    (4, 1, -0.78847309559367e-9),
    (4, 2, 0.12790717852285e-7),
    (4, 3, 0.48225372718507e-6),
    (5, 7, 0.22922076337661e-5),
    (6, 3, -0.16714766451061e-10),
    (6, 16, -0.21171472321355e-2),
    (6, 35, -0.23895741934104e2),
    (7, 0, -0.59059564324270e-17),
    (7, 11, -0.12621808899101e-5),
    (7, 25, -0.38946842435739e-1),
    (8, 8, 0.11256211360459e-10),
    (8, 36, -0.82311340897998e1),
    (9, 13, 0.19809712802088e-7),
    (10, 4, 0.10406965210174e-18),
    (10, 10, -0.10234747095929e-12),
    (10, 14, -0.10018179379511e-8),
    (16, 29, -0.80882908646985e-10),
    (16, 50, 0.10693031879409),
    (18, 57, -0.33662250574171),
    (20, 20, 0.89185845355421e-24),
    (20, 35, 0.30629316876232e-12),
    (20, 48, -0.42002467698208e-5),
    (21, 21, -0.59056029685639e-25),
    (22, 53, 0.37826947613457e-5),
    (23, 39, -0.12768608934681e-14),
    (24, 26, 0.73087610595061e-28),
    (24, 40, 0.55414715350778e-16),
    (24, 58, -0.94369707241210e-6),
)


@written_once
def gibbs(reduced_pressure: Quantity, reduced_temperature: Quantity, by: str) -> Quantity:
    """A derivative of the reduced Gibbs energy gamma(pi, tau), ideal and residual parts together.

    Parameters
    ----------
    reduced_pressure, reduced_temperature : pi = p/1 MPa [-], tau = 540 K/T [-].
    by : which derivative: "" gamma itself, "pi", "tau", "tautau".

    Examples
    --------
    Volume at 300 K and 0.0035 MPa, [IF97] table of verification, seen: 39.4913866 m3/kg.

    >>> pi, tau = 0.0035, 540 / 300
    >>> round(gibbs(pi, tau, "pi") * pi * 461.526 * 300 / 3500, 7)
    39.4913866
    """
    pi, tau = reduced_pressure, reduced_temperature
    order_pi, order_tau = ORDERS[by]
    residual = power_series(RESIDUAL, pi, tau - TEMPERATURE_SHIFT, order_pi, order_tau)
    return _ideal(pi, tau, order_pi, order_tau) + residual


def _ideal(pi: Quantity, tau: Quantity, order_pi: int, order_tau: int) -> Quantity:
    """ln pi and a series of tau; its mixed derivatives vanish and are not asked for."""
    if order_pi == 1:
        return 1.0 / pi
    series = power_series(((0, j, n) for j, n in IDEAL), 1.0, tau, 0, order_tau)
    return series + log(pi) if order_tau == 0 else series


STEAM = Region(pressure_scale=1.0e6, temperature_scale=540.0, gibbs=gibbs)
"""[IF97] region 2: steam up to 800 degC."""
