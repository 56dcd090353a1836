"""Printed examples of cane payment, paid in decimals through the whole of a statement."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from ratoon.cane import prices
from ratoon.cane.lines import PayItem
from ratoon.cane.payment import PaymentRule
from ratoon.cane.records import Analysis
from ratoon.cane.statement import make_statement


def australian(sugar_price: str, constant: str) -> PaymentRule:
    """[CanePriceNote]: 0.009 Ps (CCS - 4) + constant, that is recovery 0.90 and base CCS 4."""
    constants = {"sugar_price": sugar_price, "recovery": "0.90", "base_ccs": "4",
                 "constant": constant}  # fmt: skip
    return PaymentRule(name="printed", form="sugar price",
                       constants={k: Decimal(v) for k, v in constants.items()})  # fmt: skip


def paid_per_tonne(ccs: float, rule: PaymentRule) -> Decimal:
    one = Analysis("C1", "sample", 0.22, 0.19, 0.15, ccs, 0, 0, 0, 0)
    day = date(2031, 6, 10)
    item = PayItem("C1", "A", day, 1000, one)
    return make_statement("A", day, day, [item], rule, None).total


def test_break_even_of_the_growers_table() -> None:
    """[Canegrower2023]: cost 38.00 $/t, CCS 13.7, constant 0.66: 428 $/t IPS."""
    found = prices.break_even_sugar_price(
        Decimal("38.00"), Decimal("0.137"), Decimal("0.90"), Decimal("0.04"), Decimal("0.66")
    )
    assert abs(found - 428) <= Decimal("0.5")
    # and a tonne paid at the printed price meets the cost: 0.5 $/t IPS is 0.04 $/t cane
    assert abs(paid_per_tonne(0.137, australian("428", "0.66")) - Decimal("38.00")) <= Decimal(
        "0.045"
    )


def test_two_thirds_to_the_grower_at_ccs_12() -> None:
    """[CanePriceNote]: standard recovery 90 and average CCS 12 give 2/3 to the grower."""
    proceeds = Decimal("600") * Decimal("0.90") * Decimal("0.12")
    share = paid_per_tonne(0.12, australian("600", "0")) / proceeds
    assert abs(share - Decimal(2) / 3) < Decimal("0.0001")


def test_burnt_cane_delay_of_the_printed_case() -> None:
    """[Canaoeste]: 61.00 h less 34.00 h; both limits leave the factor at 1.0000."""
    from ratoon.cane.recoverable_sugar import burnt_cane_factor, counted_delay

    hours = 3600.0
    delay = counted_delay(61.0 * hours, 34.0 * hours)
    assert delay == 27.0 * hours
    assert burnt_cane_factor(delay, 72 * hours) == 1.0
    assert burnt_cane_factor(delay, 60 * hours) == 1.0


def test_core_sampling_factor_of_the_printed_case() -> None:
    """[JamaicaCore]: fibre 0.14 gives 0.9584, 0.18 gives 0.9408."""
    from ratoon.laboratory.first_juice import press_juice_factor

    assert abs(press_juice_factor(0.14) - 0.9584) < 5e-5
    assert abs(press_juice_factor(0.18) - 0.9408) < 5e-5


def test_season_to_date_ccs_of_a_printed_week() -> None:
    """[CrushReports], week 18 of 2019: 980 000 t at 14.30 and 57 931 t at 15.75 give 14.38."""
    from ratoon.cane.sums import Sums

    sums = Sums()
    for tonnes, ccs in ((980_000.0, 0.1430), (57_931.0, 0.1575)):
        sums.with_analysis(tonnes, ccs, 0.0, 0.0, 0.14)
    assert sums.mean_ccs is not None
    assert abs(100.0 * sums.mean_ccs - 14.38) <= 0.005
