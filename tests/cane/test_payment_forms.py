"""Every form of the price on one statement, by hand from the formula, pools and charges beside."""

from datetime import date
from decimal import ROUND_HALF_EVEN, Decimal

import pytest

from ratoon.cane.lines import PayItem
from ratoon.cane.payment import Charge, PaymentRule, Pool
from ratoon.cane.records import Analysis
from ratoon.cane.statement import make_statement, week_mean
from ratoon.laboratory.first_juice import ccs

DAY = date(2031, 8, 14)
FIBRE = 0.15
# sucrose 13 and non-sucrose 2 % cane by the first-juice convention, at fibre 15
POL, BRIX = 0.13 / (1 - (FIBRE + 0.05)), 0.15 / (1 - (FIBRE + 0.03))


def paid(rule: PaymentRule, kilograms: int = 10_000):
    value = float(ccs(BRIX, POL, FIBRE))
    one = Analysis("C1", "sample", BRIX, POL, FIBRE, value, 0.001, 0.001, 0.004, 0.002)
    items = [PayItem("C1", "A", DAY, kilograms, one)]
    return make_statement("A", DAY, DAY, items, rule, week_mean(items, rule))


def test_recoverable_value_pays_on_sucrose_less_its_factors() -> None:
    """[SASA-RV] RV = S - d N - c F; [SACanegrowers] revenue = price x t x RV/100 (both seen)."""
    rule = PaymentRule(name="r", form="recoverable value", constants={
        "value_price": Decimal("4525.34"), "nonsucrose_factor": Decimal("0.4"),
        "fibre_factor": Decimal("0.02"),
    })  # fmt: skip
    found = paid(rule)
    assert found.lines[0].figure == Decimal("11.90")  # 13 - 0.4 x 2 - 0.02 x 15
    assert found.lines[0].price == Decimal("538.5155")  # 538.51546
    assert found.total == Decimal("5385.16")  # 5385.155, half to even


def test_recoverable_sugar_pays_by_the_kilogram() -> None:
    """[Alcopar] 9.5263 PC + 9.05 AR, AR = (9.9408 - 0.1049 Q)(1 - 0.01 F)(1.0313 - 0.00575 F)."""
    rule = PaymentRule(name="r", form="recoverable sugar",
                       constants={"price_per_kg": Decimal("0.62")})  # fmt: skip
    reducing = (9.9408 - 0.1049 * 100 * POL / BRIX) * (1 - 0.15) * (1.0313 - 0.00575 * 15)
    kilograms_per_tonne = 9.5263 * 13.0 + 9.05 * reducing
    found = paid(rule)
    figure = found.lines[0].figure
    assert float(figure) == pytest.approx(kilograms_per_tonne / 10, abs=0.0051)
    price = (Decimal("0.62") * figure * 10).quantize(Decimal("0.0001"))
    assert found.lines[0].price == price
    assert found.total == (price * 10).quantize(Decimal("0.01"), ROUND_HALF_EVEN)


def test_relative_recoverable_value_is_settled_like_ccs() -> None:
    """Clause 149 [SAIA2000] (seen): own less the mill's week plus its season."""
    rule = PaymentRule(
        name="r", form="recoverable value", relative="additive", season_figure=Decimal("12.40"),
        constants={"value_price": Decimal("4525.34"), "nonsucrose_factor": Decimal("0.4"),
                   "fibre_factor": Decimal("0.02")},
    )  # fmt: skip
    found = paid(rule)
    # alone in its week, a parcel is paid on the season's mean
    assert found.lines[0].relative == Decimal("12.40")
    assert found.estimated


@pytest.mark.parametrize(
    ("relative", "expected"), [("additive", "16.97"), ("multiplicative", "16.75")]
)
def test_relative_ccs_on_printed_weekly_figures(relative: str, expected: str) -> None:
    """18.44 in a week of 16.01 and a season of 14.54 (figures printed [CrushReports])."""
    from ratoon.cane.paid import relative_figure

    rule = PaymentRule(
        name="r", form="sugar price", relative=relative, season_figure=Decimal("14.54"),
        constants={"sugar_price": Decimal(400), "recovery": Decimal("0.9"),
                   "base_ccs": Decimal(4), "constant": Decimal("0.6")},
    )  # fmt: skip
    assert relative_figure(Decimal("18.44"), Decimal("16.01"), rule) == Decimal(expected)


def test_pool_and_fixed_price_advance_and_levies_are_lines_of_their_own() -> None:
    rule = PaymentRule(
        name="r", form="sugar price", advance=Decimal("0.80"), price_digits=4,
        constants={"recovery": Decimal("0.90"), "base_ccs": Decimal(4), "constant": Decimal("0.66"),
                   "sugar_price": Decimal(1)},
        pools={"": (Pool("season pool", Decimal("0.7"), Decimal(400)),
                    Pool("fixed", Decimal("0.3"), Decimal(500)))},
        charges=(Charge("levy", "per tonne", Decimal("-0.35")),
                 Charge("allowance", "share", Decimal("0.01"))),
    )  # fmt: skip
    found = paid(rule, 20_000)
    figure = Decimal("12.00")  # 13 less half of the 2 of impurities
    price = Decimal("0.9") * 430 * (figure - 4) / 100 + Decimal("0.66")
    assert found.lines[0].figure == figure
    assert found.lines[0].price == price == Decimal("31.62")
    amounts = {line.text.split(":")[0]: line.amount for line in found.lines[1:]}
    assert found.lines[0].amount == Decimal("632.40")
    assert amounts == {"kept until settlement": Decimal("-126.48"), "levy": Decimal("-7.00"),
                       "allowance": Decimal("6.32")}  # fmt: skip
    assert found.total == Decimal("505.24")
