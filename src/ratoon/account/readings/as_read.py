"""Readings as people gave them: their words, and values in the unit in which each was given."""

from __future__ import annotations

from ratoon.account.period import PeriodAccount
from ratoon.base import units
from ratoon.base.addresses import AddressInfo
from ratoon.base.words import capital
from ratoon.plant.stations.stocks import is_stock


def info_of(account: PeriodAccount, address: str) -> AddressInfo:
    """What is known of a reading's address; both ends of a stock are known by the stock."""
    addresses = account.mill.addresses
    return addresses[address]


def called(account: PeriodAccount, address: str) -> str:
    """The words for an address, starting with a capital."""
    name = info_of(account, address).name
    return capital(name)


def reading_unit(account: PeriodAccount, address: str) -> tuple[str, float]:
    """Unit in which a reading is shown, and the factor from the plant's inside value.

    What was given as a total of the period is shown as that total.
    """
    rows = account.gathered.origins.get(address)
    unit = rows[0].unit if rows else info_of(account, address).unit
    if rows and rows[0].address != address and not is_stock(rows[0].address):
        return info_of(account, address).unit, 1.0  # a stock out of its tanks' levels
    if units.is_total(unit) and not is_stock(address):
        return unit, units.from_inside(account.seconds_of(address, unit), unit)
    return unit, 1.0


def show(account: PeriodAccount, address: str, value: float | None, spread: bool) -> float | None:
    """A plant value of a reading in the unit in which it was given."""
    if value is None:
        return None
    unit, factor = reading_unit(account, address)
    if factor != 1.0:
        return value * factor
    rows = account.gathered.origins.get(address)
    setting = account.mill.settings.readings.get(address)
    if rows and setting and units.dimension(unit) in ("mass flow", "volume flow", "power"):
        value = value * account.gathered.crushing / account.gathered.seconds(setting.hours)
    return units.spread_from_inside(value, unit) if spread else units.from_inside(value, unit)
