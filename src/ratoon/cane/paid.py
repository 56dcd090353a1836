"""One consignment's pay in exact decimals: figure, relative figure, price per tonne, cents."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal, localcontext

from ratoon.base.errors import BadInput
from ratoon.cane import prices
from ratoon.cane.payment import CENT, PaymentRule
from ratoon.cane.records import Analysis
from ratoon.laboratory.cane_analysis import recoverable_value
from ratoon.laboratory.first_juice import (
    BRIX_ALLOWANCE,
    POL_ALLOWANCE,
    brix_in_cane,
    pol_in_cane,
)  # fmt: skip
from ratoon.laboratory.rounding import rounded


def paid(value: float, rule: PaymentRule) -> Decimal:
    """The one step from a measured analysis to the decimal that is paid.

    Parameters
    ----------
    value : [kg/kg].

    Returns
    -------
    Per cent, rounded to the rule's digits from the shortest text of the measured number.
    """
    with localcontext(prec=34, rounding=ROUND_HALF_EVEN):
        return rounded(Decimal(repr(float(value))) * 100, rule.analysis_digits, rule.rounding)


def figure_of(one: Analysis, rule: PaymentRule) -> Decimal:
    """What the rule pays on, in per cent: CCS, recoverable value, or kg/t over ten.

    Notes
    -----
    Sucrose is taken as pol in cane by the first-juice convention, non-sucrose as Brix less pol.
    An agreement that analyses press juice of a core sample pays on that analysis instead.
    """
    if rule.form == "sugar price":
        return paid(one.ccs, rule)
    sucrose = float(pol_in_cane(one.pol, one.fibre, POL_ALLOWANCE))
    if rule.form == "recoverable value":
        brix = float(brix_in_cane(one.brix, one.fibre, BRIX_ALLOWANCE))
        factors = (rule.constants["nonsucrose_factor"], rule.constants["fibre_factor"])
        d, c = (float(f) for f in factors)
        return paid(float(recoverable_value(sucrose, brix - sucrose, one.fibre, d, c)), rule)
    from ratoon.cane.recoverable_sugar import reducing_sugars_in_cane, total_recoverable

    reducing = reducing_sugars_in_cane(one.pol / one.brix, one.fibre)
    return paid(float(total_recoverable(sucrose, reducing)), rule)


def relative_figure(
    own: Decimal, mill_week: Decimal | None, rule: PaymentRule, season: Decimal | None = None
) -> Decimal:
    """The figure after the seasonal curve is taken out [per cent], rounded as the analysis.

    `season`: the season figure that holds for the cane; the rule's when left out.
    """
    season = rule.season_figure if season is None else season
    if rule.relative == "none":
        return own
    if mill_week is None or mill_week <= 0 or season is None:
        raise BadInput("no mean of the mill's week to compare with", where="relative payment")
    with localcontext(prec=34, rounding=ROUND_HALF_EVEN):
        form = (
            prices.relative_additive
            if rule.relative == "additive"
            else prices.relative_multiplicative
        )
        found: Decimal = form(own, mill_week, season)
        return rounded(found, rule.analysis_digits, rule.rounding)


def price_per_tonne(figure: Decimal, rule: PaymentRule) -> Decimal:
    """Price of a tonne of cane whose figure is `figure` per cent, rounded to the rule's digits.

    Not cut off at zero: cane below the base would cost its grower, unless the agreement says
    otherwise (`minimum_figure`, `floor_figure`, `floor_price`); such cane lies far below the
    plausible CCS and is held before it comes here.
    """
    if rule.minimum_figure is not None and figure < rule.minimum_figure:
        return rounded(rule.minimum_price, rule.price_digits, rule.rounding)
    if rule.floor_figure is not None:
        figure = max(figure, rule.floor_figure)
    price = _by_formula(figure, rule)
    return price if rule.floor_price is None else max(price, rule.floor_price)


def _by_formula(figure: Decimal, rule: PaymentRule) -> Decimal:
    c = rule.constants
    with localcontext(prec=34, rounding=ROUND_HALF_EVEN):
        share = figure / 100
        if rule.form == "sugar price":
            price = prices.cane_price(
                c["sugar_price"], share, c["recovery"], c["base_ccs"] / 100, c["constant"]
            )
        elif rule.form == "recoverable value":
            price = prices.recoverable_value_price(c["value_price"], share)
        else:
            price = prices.recoverable_sugar_price(c["price_per_kg"], share * 1000)
        return rounded(price, rule.price_digits, rule.rounding)


def amount_of(kilograms: int, price: Decimal, rule: PaymentRule) -> Decimal:
    """Pay for whole kilograms at a price per tonne, to the cent."""
    with localcontext(prec=34, rounding=ROUND_HALF_EVEN):
        return rounded(Decimal(kilograms) * price / 1000, CENT, rule.rounding)
