"""Addresses: the grammar, the natural order, and the units a quantity takes."""

from ratoon.base.addresses import AddressInfo, natural


def test_natural_order() -> None:
    given = ["effect.10.brix", "effect.2.brix", "cane.rate", "pan.B.x", "pan.A.x"]
    assert natural(given) == ["cane.rate", "effect.2.brix", "effect.10.brix", "pan.A.x", "pan.B.x"]


def test_flow_takes_its_total_and_level_does_not() -> None:
    flow = AddressInfo("mixed_juice.flow", "mixed juice", "t/h")
    tank = AddressInfo("tank.liquor.stock", "liquor in tank", "m3", level=True)
    assert flow.takes("t") and flow.takes("kg/h") and not flow.takes("m3/h")
    assert tank.takes("L") and not tank.takes("m3/h")
    assert flow.accepted_units()[0] == "t/h"
    assert "t" in flow.accepted_units() and "m3" not in tank.accepted_units()[1:]
