"""What the machines of a station can take, beside its figures: of the mill file, or of the day.

A plausible range says what a reading can be at all; these say from where on a machine is asked for
more than it can give. Ratings are the mill's own; its makers' and the site's limits come first.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ratoon.base import units
from ratoon.base.addresses import AddressInfo
from ratoon.reports.numbers import grouped, unit_as_read
from ratoon.settings.records import Settings

AT_MOST, AT_LEAST = "at most", "at least"


def machine_limits(
    settings: Settings, addresses: Mapping[str, AddressInfo], figures: Mapping[str, Any]
) -> dict[str, str]:
    """Address -> its limit in words, for what has one.

    Parameters
    ----------
    figures : the day's figures by address, value and sigma in trade units.
    """
    found: dict[str, str] = {}

    def told(address: str, side: str, inside: float | None) -> None:
        info = addresses.get(address)
        if info is not None and inside is not None:
            _tell(found, address, side, units.from_inside(inside, info.unit), info.unit)

    for address, info in addresses.items():
        # a mill's load is its share of the tandem's power: no limit of its own
        if address.endswith(".load") and info.unit == "%":
            _tell(found, address, AT_MOST, 100.0, "%")
    told("clarifier.rise_rate", AT_MOST, settings.clarifier.rise_rate)
    told("shredder.power", AT_MOST, settings.tandem.shredder_power)
    if settings.boiler_house is not None:
        for n, rating in enumerate(settings.boiler_house.ratings, start=1):
            told(f"boiler.{n}.steam.flow", AT_MOST, rating)
    if settings.turbines is not None:
        told("power.back_pressure", AT_MOST, settings.turbines.back_pressure)
        told("power.condensing", AT_MOST, settings.turbines.condensing)
    for letter, rows in settings.centrifugals.items():
        told(f"centrifugal.{letter}.massecuite.flow", AT_MOST, rows.count * rows.capacity)
    if settings.drying is not None:
        told("sugar.flow", AT_MOST, settings.drying.rating)
    for letter, pan in settings.pans.items():
        _strike(found, f"pan.{letter}", pan.cycle, figures)
    for address in addresses:
        most = figures.get(f"{address}_limit") if address.endswith(".velocity") else None
        if most is not None:
            _tell(found, address, AT_MOST, most[0], addresses[address].unit)
    return found


def _strike(
    found: dict[str, str], pan: str, cycle: float | None, figures: Mapping[str, Any]
) -> None:
    """From drop to drop no pan may be asked for less than a strike takes."""
    takes = figures.get(f"{pan}.strike_takes")
    if takes is not None:
        _tell(found, f"{pan}.strike_time", AT_LEAST, takes[0], "h")
    elif cycle is not None:
        _tell(found, f"{pan}.strike_time", AT_LEAST, units.from_inside(cycle, "h"), "h")


def _tell(found: dict[str, str], address: str, side: str, value: float, unit: str) -> None:
    digits = 0 if value >= 100.0 or value == round(value) else 1 if value >= 10.0 else 2
    found[address] = f"{side} {grouped(value, digits)} {unit_as_read(unit)}".strip()
