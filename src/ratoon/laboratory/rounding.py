"""Rounding of an analysis as an agreement says, in decimal arithmetic."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal

from ratoon.base.errors import UnknownName

RULES = {"half_even": ROUND_HALF_EVEN, "half_up": ROUND_HALF_UP}


def rounded(value: Decimal | str | int, digits: int, rule: str = "half_even") -> Decimal:
    """A decimal rounded to a number of digits after the point.

    Parameters
    ----------
    value : decimal, or its text; a float is not accepted, since 12.345 is not a float.
    digits : after the point. rule : "half_even" ([SASTA-LM] ch. 3) or "half_up".

    Examples
    --------
    >>> rounded("12.345", 2)
    Decimal('12.34')
    """
    if rule not in RULES:
        raise UnknownName("rounding rule", rule, RULES)
    return Decimal(value).quantize(Decimal(1).scaleb(-digits), rounding=RULES[rule])
