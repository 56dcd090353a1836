"""Settings of a simulation within the ranges in which they are meant to be moved.

The limits of a table are what a quantity can be at all; the range of a setting is what a mill would
try. Wherever all settings are inside theirs, the plant has an answer: the tests draw them at
random.
"""

from __future__ import annotations

from collections.abc import Mapping

from ratoon.base.errors import BadInput
from ratoon.base.units import to_inside
from ratoon.plant.declared import OWN, Range
from ratoon.plant.plant import Plant


def settings_at(plant: Plant, shares: Mapping[str, float]) -> dict[str, float]:
    """Every setting of a plant at a share of the way through its working range [inside units].

    Parameters
    ----------
    shares : 0 (lowest) to 1 (highest) by address; one left out keeps the mill file's own value.
    """
    own = plant.set_values
    found: dict[str, float] = {}
    # Those that are shares of another setting come after it.
    for address in sorted(own, key=lambda a: range_of(plant, a).of not in ("", OWN)):
        row = range_of(plant, address)
        if address not in shares:
            found[address] = own[address]
            continue
        value = row.low + shares[address] * (row.high - row.low)
        if not row.of:
            found[address] = to_inside(value, plant.addresses[address].unit)
        else:
            found[address] = value * (own[address] if row.of == OWN else found[row.of])
    return found


def range_of(plant: Plant, address: str) -> Range:
    """The range of a setting.

    Raises
    ------
    BadInput : its station declares none.
    """
    found = plant.declared[address].range
    if found is None:
        raise BadInput("a setting has no working range", where=address)
    return found
