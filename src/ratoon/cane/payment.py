"""A payment rule as data, and one consignment's pay in exact decimals.

Every step of rounding is a choice of the rule and is written on the line: the analysis paid, the
relative figure, the price per tonne, and the amount in whole cents.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from decimal import ROUND_HALF_EVEN, Decimal, localcontext
from typing import Literal

from ratoon.base.errors import BadInput
from ratoon.cane import prices
from ratoon.cane.records import Analysis
from ratoon.laboratory.cane_analysis import recoverable_value
from ratoon.laboratory.first_juice import (
    BRIX_ALLOWANCE,
    POL_ALLOWANCE,
    brix_in_cane,
    pol_in_cane,
)  # fmt: skip
from ratoon.laboratory.rounding import RULES, rounded

Form = Literal["sugar price", "recoverable value", "recoverable sugar"]
Relative = Literal["none", "additive", "multiplicative"]
CENT = 2
NEEDED: dict[str, tuple[str, ...]] = {
    "sugar price": ("sugar_price", "recovery", "base_ccs", "constant"),
    "recoverable value": ("value_price", "nonsucrose_factor", "fibre_factor"),
    "recoverable sugar": ("price_per_kg",),
}


@dataclass(frozen=True, slots=True)
class Charge:
    """A levy (negative) or allowance (positive): so much per tonne of cane, or share of cane pay.

    `basis` "per tonne" [money/t] or "share" [-] of the pay for cane.
    """

    name: str
    basis: Literal["per tonne", "share"]
    rate: Decimal


@dataclass(frozen=True, slots=True)
class Pool:
    """A pool, or a fixed price: its share of a grower's sugar [-] and its price [money/t sugar]."""

    name: str
    share: Decimal
    price: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class PaymentRule:
    """The mill's agreement, as data.

    Parameters
    ----------
    name : as the agreement calls it. form : which price formula. constants : its coefficients by
        name, see `NEEDED`. relative : how the seasonal curve is taken out.
    season_figure : season mean of what is paid on [per cent]; an estimate unless `final`.
    advance : share of the pay that is paid now. charges : levies and allowances, lines of their
        own. pools : by grower ("" for all others): its sugar price is their weighted price,
        instead of the constant `sugar_price`.
    analysis_digits : after the point, of the analysis in per cent. price_digits : of the price
        per tonne. rounding : "half_even" or "half_up".
    """

    name: str
    form: Form
    constants: dict[str, Decimal] = field(default_factory=dict)
    relative: Relative = "none"
    season_figure: Decimal | None = None
    final: bool = False
    advance: Decimal = Decimal(1)
    charges: tuple[Charge, ...] = ()
    pools: dict[str, tuple[Pool, ...]] = field(default_factory=dict)
    analysis_digits: int = 2
    price_digits: int = 4
    rounding: str = "half_even"
    currency: str = "$"

    def __post_init__(self) -> None:
        if self.form not in NEEDED:
            raise BadInput("unknown form of payment", value=self.form, allowed=", ".join(NEEDED))
        for name in NEEDED[self.form]:
            if name not in self.constants:
                raise BadInput(f"constant {name!r} is missing", where=f"payment {self.name!r}")
        if self.rounding not in RULES:
            raise BadInput("unknown rounding", value=self.rounding, allowed=", ".join(RULES))
        if self.relative != "none" and self.season_figure is None:
            raise BadInput("relative payment needs season_figure", where=f"payment {self.name!r}")
        if not Decimal(0) <= self.advance <= Decimal(1):
            raise BadInput("advance must be a share", value=str(self.advance), allowed="0 to 1")

        for grower, pools in self.pools.items():
            if sum((p.share for p in pools), Decimal(0)) != 1:
                raise BadInput("shares of pools do not sum to 1", where=f"pools of {grower!r}")

    def of_grower(self, grower: str) -> PaymentRule:
        """The rule with the grower's own sugar price, weighted over the pools it chose."""
        pools = self.pools.get(grower, self.pools.get(""))
        if not pools:
            return self
        price = sum((p.share * p.price for p in pools), Decimal(0))
        return replace(self, constants=self.constants | {"sugar_price": price})

    def rounding_text(self) -> str:
        """The rounding in words, for the statement."""
        rule = "half to even" if self.rounding == "half_even" else "half up"
        return (
            f"analysis to {self.analysis_digits} digits in per cent, price per tonne to "
            f"{self.price_digits} digits, amounts to the cent; {rule}"
        )


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


def relative_figure(own: Decimal, mill_week: Decimal | None, rule: PaymentRule) -> Decimal:
    """The figure after the seasonal curve is taken out [per cent], rounded as the analysis."""
    if rule.relative == "none":
        return own
    if mill_week is None or mill_week <= 0 or rule.season_figure is None:
        raise BadInput("no mean of the mill's week to compare with", where="relative payment")
    with localcontext(prec=34, rounding=ROUND_HALF_EVEN):
        form = (
            prices.relative_additive
            if rule.relative == "additive"
            else prices.relative_multiplicative
        )
        found: Decimal = form(own, mill_week, rule.season_figure)
        return rounded(found, rule.analysis_digits, rule.rounding)


def price_per_tonne(figure: Decimal, rule: PaymentRule) -> Decimal:
    """Price of a tonne of cane whose figure is `figure` per cent, rounded to the rule's digits.

    Not cut off at zero: cane below the base would cost its grower, unless the agreement says
    otherwise; such cane lies far below the plausible CCS and is held before it comes here.
    """
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
