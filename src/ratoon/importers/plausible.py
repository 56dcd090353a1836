"""What a reading can be at all, and what it hardly is.

A share of a material lies between 0 and 100 %: outside it a row is refused. Inside, each kind of
analysis has a range in which nearly every mill's figure lies: common practice, no source. A
reading outside that range is possible, so it is kept, and said, since a slip of the pen looks
just like it.
"""

from __future__ import annotations

from ratoon.base import units
from ratoon.base.addresses import AddressInfo
from ratoon.base.records import Reading

SHARES = (
    "brix", "pol", "purity", "moisture", "fibre_laboratory", "insolubles", "ash",
    "reducing_sugars", "dry_substance",
)  # fmt: skip
"""Last words of addresses whose figure is a share of a material, 0 to 100 %."""

_POSITIVE = {"absolute pressure", "pressure", "turbidity"}

USUAL_PH = (4.5, 9.5)


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
    return USUAL_PH if info.unit == "pH" else info.usual


def doubt_of(reading: Reading, info: AddressInfo) -> str:
    """Why an accepted reading is hardly what it says; empty when nothing is odd about it."""
    usual = usual_of(info)
    if usual is not None:
        low, high = usual
        value = units.from_inside(reading.value, info.unit)
        if low <= value <= high:
            return ""
        own = "" if reading.unit == info.unit else f" (that is {value:.4g} {info.unit})"
        return f"kept, but outside the usual range {low:g} to {high:g} {info.unit}{own}: look again"
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
