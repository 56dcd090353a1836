"""What IAPWS-IF97 does alike in every region: derivatives of a Gibbs energy, and what they give.

A region gives the specific Gibbs energy as gamma(pi, tau) = g/RT with pi = p/p*, tau = T*/T.
Volume, enthalpy, entropy and specific heat follow from its derivatives ([IF97] Tables 3 and 12).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from ratoon.base.maths import Quantity, powers
from ratoon.properties.water.saturation import ZERO_CELSIUS

GAS_CONSTANT = 461.526  # [J/kg.K], [IF97] eq. 1
ORDERS = {"": (0, 0), "pi": (1, 0), "tau": (0, 1), "tautau": (0, 2)}
"""Name of a derivative -> how often it is taken by pi and by tau."""


@dataclass(frozen=True, slots=True)
class Region:
    """One region: its reducing pressure [Pa] and temperature [K], and gamma's derivatives."""

    pressure_scale: float
    temperature_scale: float
    gibbs: Callable[[Quantity, Quantity, str], Quantity]

    def volume(self, pressure: Quantity, temperature: Quantity) -> Quantity:
        """Specific volume [m3/kg] at a pressure [Pa a] and temperature [degC]."""
        pi, tau, kelvin = self._reduced(pressure, temperature)
        return GAS_CONSTANT * kelvin / pressure * pi * self.gibbs(pi, tau, "pi")

    def enthalpy(self, pressure: Quantity, temperature: Quantity) -> Quantity:
        """Enthalpy [J/kg] at a pressure [Pa a] and temperature [degC]."""
        pi, tau, _ = self._reduced(pressure, temperature)
        return GAS_CONSTANT * self.temperature_scale * self.gibbs(pi, tau, "tau")

    def entropy(self, pressure: Quantity, temperature: Quantity) -> Quantity:
        """Entropy [J/kg.K] at a pressure [Pa a] and temperature [degC]."""
        pi, tau, _ = self._reduced(pressure, temperature)
        return GAS_CONSTANT * (tau * self.gibbs(pi, tau, "tau") - self.gibbs(pi, tau, ""))

    def specific_heat(self, pressure: Quantity, temperature: Quantity) -> Quantity:
        """Isobaric specific heat [J/kg.K] at a pressure [Pa a] and temperature [degC]."""
        pi, tau, _ = self._reduced(pressure, temperature)
        return -GAS_CONSTANT * tau**2 * self.gibbs(pi, tau, "tautau")

    def _reduced(
        self, pressure: Quantity, temperature: Quantity
    ) -> tuple[Quantity, Quantity, Quantity]:
        kelvin = temperature + ZERO_CELSIUS
        return pressure / self.pressure_scale, self.temperature_scale / kelvin, kelvin


def power_series(
    terms: Iterable[tuple[int, int, float]],
    first: Quantity,
    second: Quantity,
    order_first: int = 0,
    order_second: int = 0,
) -> Quantity:
    """A derivative of the sum of n first^i second^j over the terms (i, j, n).

    Examples
    --------
    The first derivative of 2 x^3 y at x = 2, y = 3 is 6 x^2 y; worked by hand.

    >>> power_series([(3, 1, 2.0)], 2.0, 3.0, 1)
    72.0
    """
    kept = [
        (
            i - order_first,
            j - order_second,
            n * _falling(i, order_first) * _falling(j, order_second),
        )
        for i, j, n in terms
    ]
    kept = [(i, j, factor) for i, j, factor in kept if factor != 0.0]
    a = powers(first, (i for i, _, _ in kept))
    b = powers(second, (j for _, j, _ in kept))
    return sum(factor * a[i] * b[j] for i, j, factor in kept)


def _falling(exponent: int, order: int) -> int:
    """exponent (exponent - 1) ... over `order` factors: what a derivative brings down."""
    result = 1
    for step in range(order):
        result *= exponent - step
    return result
