"""Price formulas of cane, and what they pay on. Each takes its coefficients as arguments.

One line serves Decimal, float and symbol. CCS, recoverable value and shares are fractions; a price
is money per tonne. The supply agreement decides: these are forms in print, not advice.
"""

from __future__ import annotations

from typing import Any

# Decimal, float, array or symbol: whatever + - * / takes
Amount = Any


def cane_price(sugar_price: Amount, ccs: Amount, recovery: Amount, base: Amount,
               constant: Amount) -> Amount:  # fmt: skip
    """Price of cane [money/t] by CCS and sugar price, the Australian form.

    Parameters
    ----------
    sugar_price : per tonne of sugar. ccs : [kg/kg]. recovery : standard recovery, 0.90.
    base : CCS kept by the miller, 0.04. constant : added per tonne of cane, by agreement.

    Notes
    -----
    Source: [CanePriceNote] (print seen): 0.009 Ps (CCS - 4) + constant, CCS in units.

    Examples
    --------
    >>> round(cane_price(428.0, 0.137, 0.90, 0.04, 0.66), 2)
    38.02
    """
    return sugar_price * recovery * (ccs - base) + constant


def break_even_sugar_price(cost: Amount, ccs: Amount, recovery: Amount, base: Amount,
                           constant: Amount) -> Amount:  # fmt: skip
    """Sugar price at which the price of cane meets a cost [money/t].

    Notes
    -----
    Source: [Canegrower2023] (print seen): 38.00 at 13.7 and 0.66 gives 428.

    Examples
    --------
    >>> round(break_even_sugar_price(38.0, 0.137, 0.90, 0.04, 0.66))
    428
    """
    return (cost - constant) / (recovery * (ccs - base))


def grower_share(ccs: Amount, recovery: Amount, base: Amount) -> Amount:
    """Grower's share of sugar proceeds when the mill recovers `recovery` of CCS [-].

    Notes
    -----
    Source: [CanePriceNote] (print seen): CCS 12 gives two thirds.
    """
    return recovery * (ccs - base) / (recovery * ccs)


def relative_additive(own: Amount, mill_week: Amount, mill_season: Amount) -> Amount:
    """Relative CCS or recoverable value [kg/kg]: own less the mill's week, plus its season.

    Notes
    -----
    Source: the same rule for recoverable value [SAIA2000] (print seen); for CCS from memory.
    """
    return own - mill_week + mill_season


def relative_multiplicative(own: Amount, mill_week: Amount, mill_season: Amount) -> Amount:
    """Relative CCS [kg/kg]: own times the mill's season over its week.

    Notes
    -----
    Source: argued for in [Wynne-Rel] (print seen); the formula from memory.
    """
    return own * mill_season / mill_week


def recoverable_value_price(price: Amount, recoverable_value: Amount) -> Amount:
    """Price of cane [money/t] from a price per tonne of recoverable value.

    Notes
    -----
    Source: [SACanegrowers] (print seen).
    """
    return price * recoverable_value


def recoverable_sugar_price(price_per_kg: Amount, sugar_kg_per_t: Amount) -> Amount:
    """Price of cane [money/t] from a price per kg of total recoverable sugars.

    Notes
    -----
    Source: [Alcopar] (print seen).
    """
    return price_per_kg * sugar_kg_per_t
