"""The account sums what stations declare by role, whatever stations a mill has."""

from dataclasses import dataclass

import pytest

from ratoon.account.figures.balances import accounts, balances
from ratoon.base.errors import BadInput
from ratoon.plant.declared import Accounted, Material
from ratoon.plant.roles import Roles
from ratoon.plant.station import Station
from ratoon.plant.streams import RAW_JUICE


@dataclass(frozen=True)
class Diffuser(Station):
    """A station that no account has heard of: its water comes in on a line of its own."""

    name: str = "diffuser"

    def accounted(self):
        yield Accounted("water in", "steeping", "Steeping water", "steeping.flow")
        yield Accounted("water out", "bagasse", "In bagasse", "megasse.flow.water")

    def materials(self):
        yield Material("final bagasse", "bagasse", RAW_JUICE, "megasse")


@dataclass(frozen=True)
class Filter(Station):
    """Takes back from the line of another station."""

    name: str = "filter"

    def accounted(self):
        yield Accounted("water out", "bagasse", "", lambda q: -0.1 * q["megasse.flow.water"])
        yield Accounted("water in", "filter_wash", "Filter wash", "filter.wash.flow")


Q = {"steeping.flow": 40.0, "filter.wash.flow": 9.0, "megasse.flow.water": 20.0,
     "hours.crushing": 10.0}  # fmt: skip


def test_a_station_unknown_to_the_account_has_its_line_in_it():
    roles = Roles([Filter(), Diffuser()])
    terms = accounts(roles)["water"]
    assert [(t.address, t.text, t.way) for t in terms] == [
        ("account.water.filter_wash", "Filter wash", "in"),
        ("account.water.steeping", "Steeping water", "in"),
        ("account.water.bagasse", "In bagasse", "out"),
        ("account.water.rest", "Rest: inversion and spills", "out"),
    ]
    made = {f.address: f.of(Q) for f in balances(roles)}
    assert made["account.water.steeping"] == 400.0
    assert made["account.water.bagasse"] == pytest.approx(180.0)
    assert made["account.water.rest"] == pytest.approx(490.0 - 180.0)


def test_a_role_that_no_station_has_is_nothing():
    roles = Roles([Diffuser()])
    assert roles.total("power made", Q) == 0.0
    assert accounts(roles)["steam"] == accounts(Roles([]))["steam"]
    assert roles.addresses("water in") == ("steeping.flow",)
    with pytest.raises(BadInput, match="one station must make sugar; 0 do"):
        roles.material("sugar")


def test_the_flow_of_a_material_is_read_where_its_station_says():
    q = {f"megasse.flow.{c}": float(n) for n, c in enumerate(RAW_JUICE)}
    assert Roles([Diffuser()]).stream("final bagasse", q).fibre == 3.0
