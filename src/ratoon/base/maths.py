"""The few mathematical functions that formulas use: one line for float, array and symbol.

A formula is written once and asked three ways: with plain numbers (a check, a laboratory figure),
with numpy arrays (a season, a table) and with symbols (the plant's equations). CasADi is heavy, so
it is imported only after somebody has handed in a symbol, and numpy only after somebody has handed
in an array. There is no ``if`` on a quantity here or in any formula.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterable
from functools import wraps
from typing import Any, TypeAlias

Quantity: TypeAlias = Any
"""A float, a numpy array or a CasADi symbol; the unit is the docstring's business."""


SYMBOLS = "ratoon.base.symbol"


def is_symbol(quantity: Quantity) -> bool:
    """Whether `quantity` is a `Symbol` of the plant's equations (asked without importing it)."""
    return type(quantity).__module__ == SYMBOLS


def is_array(quantity: Quantity) -> bool:
    """Whether `quantity` is a numpy array (a numpy scalar counts as a float)."""
    numpy = sys.modules.get("numpy")
    return numpy is not None and isinstance(quantity, numpy.ndarray)


def _library(*quantities: Quantity) -> Any:
    """The module whose functions take these quantities: that of symbols, numpy or math."""
    if any(is_symbol(quantity) for quantity in quantities):
        return sys.modules[SYMBOLS]
    if any(is_array(quantity) for quantity in quantities):
        import numpy

        return numpy
    return math


def exp(x: Quantity) -> Quantity:
    """e to the power `x`."""
    return _library(x).exp(x)


def log(x: Quantity) -> Quantity:
    """Natural logarithm of `x`, x > 0."""
    return _library(x).log(x)


def log10(x: Quantity) -> Quantity:
    """Logarithm of `x` to the base 10, x > 0."""
    return _library(x).log10(x)


def sqrt(x: Quantity) -> Quantity:
    """Square root of `x`, x >= 0."""
    return _library(x).sqrt(x)


def power(x: Quantity, exponent: float) -> Quantity:
    """`x` to a fixed power; x > 0 unless the exponent is a whole number."""
    return x**exponent


def powers(x: Quantity, exponents: Iterable[int]) -> dict[int, Quantity]:
    """Whole powers of `x`, each built from the one below it, so that symbols share their work.

    Parameters
    ----------
    x : base, not zero when an exponent is negative.
    exponents : whole numbers, of either sign.

    Returns
    -------
    dict from exponent to power.

    Examples
    --------
    >>> powers(2.0, (3, -1, 0))[3]
    8.0
    """
    wanted = set(exponents)
    result: dict[int, Quantity] = {0: 1.0}
    for sign in (1, -1):
        ladder = sorted(sign * exponent for exponent in wanted if sign * exponent > 0)
        base = x if sign > 0 or not ladder else 1.0 / x
        below, value = 0, 1.0
        for step in ladder:
            value = value * base ** (step - below)
            result[sign * step] = value
            below = step
    return result


def maximum(a: Quantity, b: Quantity) -> Quantity:
    """The larger of two quantities (it has a corner: use `smooth_maximum` inside equations)."""
    library = _library(a, b)
    return max(a, b) if library is math else library.fmax(a, b)


def minimum(a: Quantity, b: Quantity) -> Quantity:
    """The smaller of two quantities (it has a corner: use `smooth_minimum` inside equations)."""
    library = _library(a, b)
    return min(a, b) if library is math else library.fmin(a, b)


def smooth_maximum(a: Quantity, b: Quantity, width: float) -> Quantity:
    """The larger of two quantities, rounded where they meet.

    Parameters
    ----------
    a, b : quantities of one unit.
    width : how far the corner is rounded, in the same unit; at a = b the answer is
        `width`/2 above them, and it tends to the true maximum as width tends to 0.

    Examples
    --------
    >>> round(smooth_maximum(3.0, 1.0, 1e-6), 9)
    3.0
    """
    return 0.5 * (a + b + sqrt((a - b) ** 2 + width**2))


def smooth_minimum(a: Quantity, b: Quantity, width: float) -> Quantity:
    """The smaller of two quantities, rounded where they meet; see `smooth_maximum`."""
    return 0.5 * (a + b - sqrt((a - b) ** 2 + width**2))


def written_once(
    formula: Callable[[Quantity, Quantity, str], Quantity],
) -> Callable[[Quantity, Quantity, str], Quantity]:
    """A long formula of two quantities and a name, written down for symbols only once.

    A plant asks for the same series at a hundred places. Symbols go through a CasADi function
    kept from the first time, which repeats its operations far faster than Python writes them;
    floats and arrays go straight through.
    """
    kept: dict[str, Callable[[Quantity, Quantity], Quantity]] = {}

    @wraps(formula)
    def asked(first: Quantity, second: Quantity, name: str) -> Quantity:
        if not (is_symbol(first) or is_symbol(second)):
            return formula(first, second, name)
        from ratoon.base.symbol import Series

        if name not in kept:
            kept[name] = Series(lambda x, y: formula(x, y, name))
        return kept[name](first, second)

    return asked
