"""Fouling of a heating surface and the boiling time between cleans.

Cleaning itself (hot caustic, acid, confined vessels) follows the site's procedures; these formulas
only say when a clean pays.
"""

from __future__ import annotations

from ratoon.base.maths import Quantity, sqrt


def heat_between_cleans(
    clean_term: Quantity,
    slope: Quantity,
    time: Quantity,
    area: Quantity,
    temperature_difference: Quantity,
) -> Quantity:
    """Heat passed in a boiling time at a constant temperature difference [J].

    Parameters
    ----------
    clean_term, slope : b [(m2.K/W)^2] and a [(m2.K/W)^2/s] of the coefficient U after a time t of
        boiling, 1/U^2 = a t + b, [CoulsonRichardson] eq. 14.11 (print seen).
    time : since the clean [s].
    area : [m2]. temperature_difference : [K].

    Notes
    -----
    Source: [CoulsonRichardson] sec. 14.6 (print seen).
    """
    roots = sqrt(slope * time + clean_term) - sqrt(clean_term)
    return 2.0 * area * temperature_difference / slope * roots


def time_of_most_throughput(clean_term: Quantity, slope: Quantity, cleaning: Quantity) -> Quantity:
    """Boiling time that passes most heat per time, with a clean of a given length [s].

    Notes
    -----
    Source: [CoulsonRichardson] sec. 14.6 (print seen): Ex. 14.7 gives 28.1 ks.

    Examples
    --------
    >>> round(time_of_most_throughput(0.2e-6, 7e-11, 15000.0), -2)
    28100.0
    """
    return cleaning + 2.0 / slope * sqrt(slope * clean_term * cleaning)


def time_of_least_cost(
    clean_term: Quantity, slope: Quantity, cost_of_clean: Quantity, cost_of_boiling: Quantity
) -> Quantity:
    """Boiling time of least cost per heat passed [s].

    Parameters
    ----------
    cost_of_clean : a clean and its stop [$]. cost_of_boiling : while boiling [$/s].

    Notes
    -----
    Source: [CoulsonRichardson] sec. 14.6 (print seen): Ex. 14.7 gives 52.9 ks.
    """
    spread = sqrt(slope * clean_term * cost_of_clean * cost_of_boiling)
    return cost_of_clean / cost_of_boiling + 2.0 / (slope * cost_of_boiling) * spread


def time_when_rate_falls(loss: Quantity, cleaning: Quantity) -> Quantity:
    """Best time between cleans when the mill's rate falls in a straight line.

    Parameters
    ----------
    loss : fall of rate per time, as a share of the clean rate. cleaning : length of a clean; both
        in one unit of time, in which the answer is given.

    Notes
    -----
    Own: the mean rate (T - a T^2/2)/(T + d) is greatest at T = -d + sqrt(d^2 + 2 d/a).

    Examples
    --------
    >>> round(time_when_rate_falls(0.01, 0.5), 1)
    9.5
    """
    return -cleaning + sqrt(cleaning**2 + 2.0 * cleaning / loss)


def mean_rate(loss: Quantity, cleaning: Quantity, time: Quantity) -> Quantity:
    """Mean rate over boiling and clean as a share of the clean rate; see above."""
    return (time - 0.5 * loss * time**2) / (time + cleaning)
