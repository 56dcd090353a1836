"""How crystals grow in a pan, dissolve and are born: rates of the six moments of a population."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ratoon.base.maths import Quantity, exp, maximum, minimum, power

GAS = 8.314  # [J/mol.K], as printed with the constants below
ACTIVATION = 57_000.0  # [J/mol]
PURITY = 8.36  # [-]
BIRTHS = 2.894e12
SLOWEST = 1e-10  # [m/s], far below what pans show; keeps a power's slope finite at saturation
FEWEST = 1e-8  # [m3/m3], the same for the share of crystal


@dataclass(frozen=True, slots=True)
class Crystallisation:
    """A grade's own constants; none is published, all are to be fitted to the mill's strikes.

    Attributes
    ----------
    growth : [m/s] before the activation factor; about 400 for A, 650 for C strikes by practice.
    births : share of the secondary nucleation of `birth_rate`, 0 for none.
    proportional : share of growth that goes in proportion to a crystal's size, 0 to 1; at 1 the
        CV stays as it was in the footing, as Iswanto et al. 2007 saw it.
    dispersion : spread of growth rates, as a length [m].
    slope : fall of solubility with non-sucrose on water, see `saturation_coefficient`.
    """

    growth: Quantity = 400.0
    births: Quantity = 0.0
    proportional: float = 1.0
    dispersion: Quantity = 0.0
    activation: float = ACTIVATION
    purity: Quantity = PURITY
    slope: Quantity = 0.088


def growth_rate(
    over: Quantity,
    temperature: Quantity,
    purity: Quantity,
    crystal_to_massecuite: Quantity,
    constant: Quantity = 1.0,
    activation: Quantity = ACTIVATION,
    fall: Quantity = PURITY,
) -> Quantity:
    """Linear growth of a crystal [m/s]; negative where it dissolves.

    Parameters
    ----------
    over : supersaturation less 1 [-]. temperature : [degC]. purity : of the mother liquor [kg/kg].
    crystal_to_massecuite : volume of crystal on massecuite [m3/m3]. constant : growth constant.

    Notes
    -----
    Form and constants from memory [Georgieva2003; Lauret2000], the growth constant is not known;
    dissolving as fast as growing is our own assumption.

    Examples
    --------
    >>> round(growth_rate(0.10, 70.0, 0.90, 0.2) * 1e10, 3)
    1.266
    """  # fmt: skip
    heat = exp(-activation / (GAS * (temperature + 273.0)))
    return (
        constant * heat * over * exp(-fall * (1.0 - purity)) * (1.0 + 2.0 * crystal_to_massecuite)
    )


def birth_rate(growth: Quantity, crystal_to_massecuite: Quantity, volume: Quantity) -> Quantity:
    """New crystals by those that are there [1/s], for a share of 1.

    Parameters
    ----------
    growth : linear growth [m/s], zero or above. crystal_to_massecuite : [m3/m3]. volume : [m3].

    Notes
    -----
    From memory, medium sure. Both powers have an infinite slope at zero, so they begin a little
    above it, and what they are worth there is taken off.
    """
    by_growth = power(growth**2 + SLOWEST**2, 0.255) - SLOWEST**0.51
    by_crystal = power(crystal_to_massecuite**2 + FEWEST**2, 0.265) - FEWEST**0.53
    return BIRTHS * by_growth * by_crystal * volume


def moment_rates(
    moments: Sequence[Quantity],
    growth: Quantity,
    mean: Quantity,
    proportional: Quantity,
    dispersion: Quantity = 0.0,
) -> list[Quantity]:
    """Rates of moments 0 to 5 under growth; what dissolves does so in proportion to its size.

    Parameters
    ----------
    moments : [m^order]. growth : [m/s], negative dissolves. mean : size of which `growth` is said
        where it goes in proportion to size [m]. proportional : share of growth that does [-].
    dispersion : [m].

    Examples
    --------
    >>> moment_rates([2.0, 4.0, 9.0, 21.0, 50.0, 130.0], 0.5, 1.0, 0.0)[:4]
    [0.0, 1.0, 4.0, 13.5]
    """  # fmt: skip
    up, down = maximum(growth, 0.0), minimum(growth, 0.0)
    relative = (down + proportional * up) / mean
    rates: list[Quantity] = [0.0 * moments[0]]
    for order in range(1, 6):
        rate = order * (relative * moments[order] + (1.0 - proportional) * up * moments[order - 1])
        if order > 1:
            spread = order * (order - 1) * dispersion * up
            rate = rate + spread * moments[order - 2]
        rates.append(rate)
    return rates
