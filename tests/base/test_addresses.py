"""Addresses: the grammar, the natural order, and the units a quantity takes."""

import pytest

from ratoon.base.addresses import AddressInfo, is_address, natural


@pytest.mark.parametrize(
    "text", ["cane.weight", "mill.3.bagasse.moisture", "pan.A.massecuite.brix"]
)
def test_dotted_words_are_addresses(text: str) -> None:
    assert is_address(text)


@pytest.mark.parametrize("text", ["", "cane", "cane.", ".weight", "cane weight.x", "a..b", "a.b\n"])
def test_anything_else_is_not(text: str) -> None:
    assert not is_address(text)


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
