"""The money of a state: the same terms for numbers and symbols, against sums by hand."""

import casadi
import pytest

from ratoon.account.money.earned import earned, terms
from ratoon.plant.declared import Accounted, Material
from ratoon.plant.roles import Roles
from ratoon.plant.station import Station
from ratoon.settings.records import PriceSettings

PRICES = PriceSettings(sugar=500.0, sugar_pol=0.989, molasses=100.0, power=60.0, bagasse=20.0)
STATE = {
    "sugar.flow.water": 0.03, "sugar.flow.sucrose": 9.89, "sugar.flow.nonsucrose": 0.08,
    "final_molasses.flow.water": 1.0, "final_molasses.flow.sucrose": 1.5,
    "final_molasses.flow.nonsucrose": 2.5, "store": -2.0, "export": 7.2e6,
}  # fmt: skip


class Sells(Station):
    """Sugar and molasses, bagasse out of the store, and power of two sets."""

    name = "sells"

    def materials(self):
        yield Material("sugar", "sugar")
        yield Material("final molasses", "final_molasses")

    def accounted(self):
        yield Accounted("fuel stored", "bagasse", "", "store")
        yield Accounted("power sent out", "one", "", "export")
        yield Accounted("power sent out", "two", "", lambda q: 0.5 * q["export"])


def test_an_hour_is_worth_what_its_products_are():
    sold = terms(Roles([Sells()]), PRICES)
    # 35.6 t of pol at 500 for 0.989 t of it, 18 t of molasses, 7.2 t of bagasse taken, 10.8 MWh
    by_hand = 35.604 / 0.989 * 500.0 + 18.0 * 100.0 - 7.2 * 20.0 + 10.8 * 60.0
    assert 3600.0 * earned(sold, STATE) == pytest.approx(by_hand, rel=1e-12)
    assert all(t.name and t.unit and t.source.startswith("mill.toml: prices.") for t in sold)


def test_symbols_give_the_same_money_and_its_slopes():
    sold = terms(Roles([Sells()]), PRICES)
    q = {name: casadi.SX.sym(name) for name in STATE}
    money = earned(sold, q)
    slope = casadi.gradient(money, q["export"])
    at = casadi.Function("money", list(q.values()), [money, slope])(*STATE.values())
    assert float(at[0]) == pytest.approx(earned(sold, STATE), rel=1e-12)
    assert float(at[1]) == pytest.approx(1.5 * 60.0 / 3.6e9, rel=1e-12)


def test_without_a_set_that_sends_out_there_is_no_money_for_power():
    class Burns(Sells):
        def accounted(self):
            return ()

    state = {k: v for k, v in STATE.items() if "." in k}
    sold = terms(Roles([Burns()]), PRICES)
    by_hand = 9.89e-3 / 0.989 * 500.0 + 5.0e-3 * 100.0
    assert earned(sold, state) == pytest.approx(by_hand, rel=1e-12)
    assert sold[3].rests_on == ()
