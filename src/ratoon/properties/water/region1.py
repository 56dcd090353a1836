"""Liquid water: the specific Gibbs energy of IAPWS-IF97 region 1 and its derivatives.

Source: [IF97] International Association for the Properties of Water and Steam, Release on the
Industrial Formulation 1997, Table 2 (coefficients as printed) and Table 5 (verification values).
"""

from __future__ import annotations

from ratoon.base.maths import Quantity, written_once
from ratoon.properties.water.formulation import ORDERS, Region, power_series

PRESSURE_SHIFT, TEMPERATURE_SHIFT = 7.1, 1.222

# [IF97] Table 2: I, J, n
COEFFICIENTS = (
    (0, -2, 0.14632971213167),
    (0, -1, -0.84548187169114),
    (0, 0, -0.37563603672040e1),
    (0, 1, 0.33855169168385e1),
    (0, 2, -0.95791963387872),
    (0, 3, 0.15772038513228),
    (0, 4, -0.16616417199501e-1),
    (0, 5, 0.81214629983568e-3),
    (1, -9, 0.28319080123804e-3),
    (1, -7, -0.60706301565874e-3),
    (1, -1, -0.18990068218419e-1),
    (1, 0, -0.32529748770505e-1),
    (1, 1, -0.21841717175414e-1),
    (1, 3, -0.52838357969930e-4),
    (2, -3, -0.47184321073267e-3),
    (2, 0, -0.30001780793026e-3),
    (2, 1, 0.47661393906987e-4),
    (2, 3, -0.44141845330846e-5),
    (2, 17, -0.72694996297594e-15),
    (3, -4, -0.31679644845054e-4),
    (3, 0, -0.28270797985312e-5),
    (3, 6, -0.85205128120103e-9),
    (4, -5, -0.22425281908000e-5),
    (4, -2, -0.65171222895601e-6),
    (4, 10, -0.14341729937924e-12),
    (5, -8, -0.40516996860117e-6),
    (8, -11, -0.12734301741641e-8),
    (8, -6, -0.17424871230634e-9),
    (21, -29, -0.68762131295531e-18),
    (23, -31, 0.14478307828521e-19),
    (29, -38, 0.26335781662795e-22),
    (30, -39, -0.11947622640071e-22),
    (31, -40, 0.18228094581404e-23),
    (32, -41, -0.93537087292458e-25),
)


@written_once
def gibbs(reduced_pressure: Quantity, reduced_temperature: Quantity, by: str) -> Quantity:
    """A derivative of the reduced Gibbs energy gamma(pi, tau).

    Parameters
    ----------
    reduced_pressure, reduced_temperature : pi = p/16.53 MPa [-], tau = 1386 K/T [-].
    by : which derivative: "" gamma itself, "pi", "tau", "tautau".

    Examples
    --------
    Volume at 300 K and 3 MPa, [IF97] table of verification, seen: 0.00100215168 m3/kg.

    >>> pi, tau = 3 / 16.53, 1386 / 300
    >>> round(gibbs(pi, tau, "pi") * pi * 461.526 * 300 / 3e6, 14)
    0.00100215167969
    """
    order_pi, order_tau = ORDERS[by]
    a, b = PRESSURE_SHIFT - reduced_pressure, reduced_temperature - TEMPERATURE_SHIFT
    # d/dpi of (7.1 - pi)^I brings a minus sign with each order
    return (-1) ** order_pi * power_series(COEFFICIENTS, a, b, order_pi, order_tau)


LIQUID = Region(pressure_scale=16.53e6, temperature_scale=1386.0, gibbs=gibbs)
"""[IF97] region 1: up to 350 degC and 100 MPa."""
