"""What a reading can be at all, and what it hardly is.

A share of a material lies between 0 and 100 %: outside it a row is refused. Inside, each kind of
analysis has a range in which nearly every mill's figure lies: common practice, no source. A
reading outside that range is possible, so it is kept, and said, since a slip of the pen looks
just like it.
"""

from __future__ import annotations

from fnmatch import fnmatchcase

from ratoon.base import units
from ratoon.base.addresses import AddressInfo
from ratoon.base.records import Reading

SHARES = (
    "brix", "pol", "purity", "moisture", "fibre_laboratory", "insolubles", "ash",
    "reducing_sugars", "dry_substance",
)  # fmt: skip
"""Last words of addresses whose figure is a share of a material, 0 to 100 %."""

_POSITIVE = {"absolute pressure", "pressure", "turbidity"}

# Address, then the range in which nearly every figure lies, in the unit named.
USUAL: tuple[tuple[str, float, float, str], ...] = (
    ("first_juice.brix", 12.0, 27.0, "%"),
    ("first_juice.pol", 8.0, 25.0, "%"),
    ("cane.fibre_laboratory", 9.0, 22.0, "%"),
    ("bagasse.pol", 0.8, 3.5, "%"),
    ("bagasse.moisture", 42.0, 58.0, "%"),
    ("bagasse.ash", 0.3, 12.0, "%"),
    ("mill.*.bagasse.pol", 1.0, 16.0, "%"),
    ("mill.*.bagasse.moisture", 42.0, 68.0, "%"),
    ("mill.*.juice.brix", 0.5, 27.0, "%"),
    ("mixed_juice.brix", 9.0, 21.0, "%"),
    ("mixed_juice.pol", 7.0, 19.0, "%"),
    ("mixed_juice.insolubles", 0.05, 4.0, "%"),
    ("clear_juice.brix", 9.0, 21.0, "%"),
    ("clear_juice.pol", 7.0, 19.0, "%"),
    ("mud.insolubles", 1.0, 15.0, "%"),
    ("filtrate.brix", 3.0, 20.0, "%"),
    ("filtrate.pol", 2.0, 18.0, "%"),
    ("cake.pol", 0.1, 6.0, "%"),
    ("cake.moisture", 60.0, 88.0, "%"),
    ("effect.*.brix", 10.0, 76.0, "%"),
    ("liquor.brix", 50.0, 76.0, "%"),
    ("liquor.purity", 74.0, 95.0, "%"),
    ("pan.*.massecuite.brix", 86.0, 99.0, "%"),
    ("pan.A.massecuite.purity", 76.0, 94.0, "%"),
    ("pan.*.massecuite.purity", 50.0, 90.0, "%"),
    ("pan.*.nutsch.purity", 35.0, 85.0, "%"),
    ("crystalliser.nutsch.purity", 28.0, 55.0, "%"),
    ("magma.purity", 70.0, 98.0, "%"),
    ("magma.brix", 80.0, 96.0, "%"),
    ("molasses.*.brix", 60.0, 88.0, "%"),
    ("molasses.*.purity", 40.0, 85.0, "%"),
    ("final_molasses.brix", 72.0, 92.0, "%"),
    ("final_molasses.purity", 28.0, 55.0, "%"),
    ("final_molasses.reducing_sugars", 4.0, 26.0, "%"),
    ("final_molasses.ash", 6.0, 22.0, "%"),
    ("sugar.pol", 96.0, 99.95, "%"),
    ("sugar.*.pol", 93.0, 99.95, "%"),
    ("sugar.moisture", 0.02, 1.2, "%"),
    ("*.ph", 4.5, 9.5, "pH"),
    ("condenser.sugar", 0.0, 500.0, "ppm"),
    ("condensate.sugar", 0.0, 200.0, "ppm"),
)


def limits_of(info: AddressInfo) -> tuple[float | None, float | None]:
    """The least and the most that a quantity can be, in its own unit; None where it has no limit.

    What the mill file or the plant states counts first.
    """
    low, high = info.low, info.high
    last = info.address.rpartition(".")[2]
    if last in SHARES and info.unit == "%":
        return (0.0 if low is None else low), (100.0 if high is None else high)
    if info.unit == "pH":
        return (0.0 if low is None else low), (14.0 if high is None else high)
    if low is None and (units.dimension(info.unit) in _POSITIVE or info.unit == "ppm"):
        return 0.0, high
    return low, high


def usual_of(info: AddressInfo) -> tuple[float, float] | None:
    """The range in which nearly every figure of a quantity lies, in its own unit; None unknown."""
    for pattern, low, high, unit in USUAL:
        if fnmatchcase(info.address, pattern):
            if units.dimension(unit) != units.dimension(info.unit):
                return None
            least, most = (units.from_inside(units.to_inside(x, unit), info.unit)
                           for x in (low, high))  # fmt: skip
            return round(least, 9), round(most, 9)
    return None


def doubt_of(reading: Reading, info: AddressInfo) -> str:
    """Why an accepted reading is hardly what it says; empty when nothing is odd about it."""
    for pattern, low, high, unit in USUAL:
        if fnmatchcase(reading.address, pattern):
            if units.dimension(unit) != units.dimension(info.unit):
                return ""
            value = units.from_inside(reading.value, unit)
            if low <= value <= high:
                return ""
            own = "" if reading.unit == unit else f" (that is {value:.4g} {unit})"
            return f"kept, but hardly ever outside {low:g} to {high:g} {unit}{own}: look again"
    last = reading.address.rpartition(".")[2]
    signed = ".store." in reading.address  # to a store and out of it
    if (
        reading.value < 0.0
        and not signed
        and info.low is None
        and last in ("flow", "weight", "used", "volume")
    ):
        return "kept, but a flow below zero is odd: look again"
    return ""
