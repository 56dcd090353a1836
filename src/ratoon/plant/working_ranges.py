"""The range over which each setting of a simulation is meant to be moved.

The limits of a table are what a quantity can be at all; these are what a mill would try. Ranges
are common practice, with no source. Wherever all settings stand inside theirs, the plant has an
answer: the tests draw them at random.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fnmatch import fnmatchcase

from ratoon.base.errors import UnknownName
from ratoon.base.units import to_inside
from ratoon.plant.plant import Plant

OWN = "own"


@dataclass(frozen=True, slots=True)
class WorkingRange:
    """Lowest and highest of the settings that a pattern names, in their trade unit.

    With `of` they are shares instead: of the mill file's own value, or of another setting (`*`
    stands for what it stands for in the pattern).
    """

    pattern: str
    low: float
    high: float
    of: str = ""


RANGES = (
    WorkingRange("cane.rate", 0.75, 1.25, OWN),
    WorkingRange("cane.fibre_laboratory", 12.5, 17.5),
    WorkingRange("cane.brix", 16.0, 19.2),
    WorkingRange("cane.pol", 0.83, 0.895, "cane.brix"),
    WorkingRange("cane.temperature", 15.0, 35.0),
    WorkingRange("lime.on_cane", 0.6, 1.4, OWN),
    WorkingRange("mud.insolubles", 4.0, 9.0),
    WorkingRange("clear_juice.temperature", 92.0, 99.0),
    WorkingRange("mill.*.fibre_content", 43.0, 52.0),
    WorkingRange("imbibition.on_fibre", 140.0, 320.0),
    WorkingRange("imbibition.temperature", 30.0, 85.0),
    WorkingRange("bagasse.temperature", 40.0, 65.0),
    WorkingRange("heater.primary.set_point", 65.0, 85.0),
    WorkingRange("heater.secondary.set_point", 98.0, 106.0),
    WorkingRange("heater.*.htc", 0.65, 1.35, OWN),
    WorkingRange("filter.wash_on_cake", 60.0, 240.0),
    WorkingRange("cake.moisture", 68.0, 80.0),
    WorkingRange("effect.*.htc", 0.65, 1.35, OWN),
    WorkingRange("effect.*.vapour.temperature", 48.0, 60.0),
    WorkingRange("liquor.brix_set", 62.0, 74.0),
    WorkingRange("pan.*.vapour.temperature", 0.91, 1.09, OWN),
    WorkingRange("pan.*.massecuite.dry_substance", 0.987, 1.013, OWN),
    WorkingRange("pan.*.purity_set", 0.974, 1.026, OWN),
    WorkingRange("pan.*.room", 0.3, 1.0, OWN),
    WorkingRange("crystalliser.temperature", 40.0, 55.0),
    WorkingRange("molasses.*.dry_substance", 68.0, 76.0),
    WorkingRange("final_molasses.dry_substance", 74.0, 82.0),
    WorkingRange("sugar.A.purity", 98.8, 99.7),
    WorkingRange("sugar.moisture", 0.15, 0.5),
    WorkingRange("magma.dry_substance", 86.0, 91.0),
    WorkingRange("exhaust.pressure", 170.0, 250.0),
    WorkingRange("exhaust.temperature", 128.0, 160.0),
    WorkingRange("power.back_pressure", 4.0, 12.0),
    WorkingRange("power.condensing", 4.0, 18.0),
    WorkingRange("feed_water.temperature", 80.0, 102.0),
    WorkingRange("boiler.stack.temperature", 160.0, 260.0),
    WorkingRange("boiler.air_ratio", 1.25, 1.9),
    WorkingRange("undetermined.*", -0.4, 1.0),
    WorkingRange("stock.*.opening", 0.7, 1.3, OWN),
    # A simulation lasts one hour: tanks hardly move.
    WorkingRange("stock.*.closing", 0.99, 1.01, "stock.*.opening"),
)


def working_range(address: str) -> WorkingRange:
    """The working range of a setting.

    Raises
    ------
    UnknownName : nobody has stated one.
    """
    for row in RANGES:
        if fnmatchcase(address, row.pattern):
            return row
    raise UnknownName("setting", address, [row.pattern for row in RANGES])


def settings_at(plant: Plant, shares: Mapping[str, float]) -> dict[str, float]:
    """Every setting of a plant at a share of the way through its working range [inside units].

    Parameters
    ----------
    shares : 0 (lowest) to 1 (highest) by address; one left out keeps the mill file's own value.
    """
    own = plant.set_values
    found: dict[str, float] = {}
    # Those that are shares of another setting come after it.
    for address in sorted(own, key=lambda a: working_range(a).of not in ("", OWN)):
        row = working_range(address)
        if address not in shares:
            found[address] = own[address]
            continue
        value = row.low + shares[address] * (row.high - row.low)
        if not row.of:
            found[address] = to_inside(value, plant.addresses[address].unit)
            continue
        middle = address.removeprefix("stock.").removesuffix(".closing")
        base = own[address] if row.of == OWN else found[row.of.replace("*", middle)]
        found[address] = value * base
    return found
