"""Addresses beside the plant's: levels of tanks, hours lost to causes, rain.

They are read as they are, and the account makes the plant's readings out of them.
"""

from __future__ import annotations

from itertools import pairwise

from ratoon.base.addresses import AddressInfo, word_of
from ratoon.base.errors import BadInput, UnknownName
from ratoon.base.season import RAIN
from ratoon.settings import Settings

TANK, LEVEL, LOST = "tank.", ".level", "lost_time."
_LEVEL_UNITS = ("m", "mm", "%")


def tank_address(name: str) -> str:
    """Address of a tank's level."""
    return f"{TANK}{word_of(name)}{LEVEL}"


def lost_address(cause: str) -> str:
    """Address of the hours lost to a cause."""
    return f"{LOST}{word_of(cause)}"


def own_addresses(settings: Settings) -> dict[str, AddressInfo]:
    """What can be read beside the plant's own quantities.

    Raises
    ------
    BadInput, UnknownName : a tank whose table or stock is not sound; one line names it.
    """
    found: dict[str, AddressInfo] = {
        RAIN: AddressInfo(RAIN, "rain in the mill day", "mm", "weather", 0.0, 1000.0)
    }
    for name, tank in settings.tanks.items():
        where = f"mill.toml: tanks.{name}"
        if tank.stock not in settings.stocks:
            raise UnknownName("stock", tank.stock, settings.stocks, where=where)
        if tank.unit not in _LEVEL_UNITS:
            raise BadInput("unknown unit of level", where=where, value=tank.unit,
                           allowed=", ".join(_LEVEL_UNITS))  # fmt: skip
        _check_table(tank.table, where)
        low, high = tank.table[0][0], tank.table[-1][0]
        address = tank_address(name)
        if address in found:
            raise BadInput("two tanks whose names are spelt alike", where=where)
        found[address] = AddressInfo(address, f"level of {name}", tank.unit, "tank", low, high,
                                     level=True)  # fmt: skip
    for cause in settings.lost_time_causes:
        address = lost_address(cause)
        found[address] = AddressInfo(address, f"time lost: {cause}", "h", "lost time", 0.0, None)
    return found


def _check_table(table: tuple[tuple[float, ...], ...], where: str) -> None:
    if len(table) < 2 or any(len(pair) != 2 for pair in table):
        raise BadInput("the table must be two or more pairs of level and m3", where=where,
                       allowed="such as [[0.0, 0.0], [4.0, 100.0]]")  # fmt: skip
    for (low, small), (high, large) in pairwise(table):
        if high <= low or large < small:
            raise BadInput("levels and volumes of the table must rise", where=where,
                           value=f"[{high:g}, {large:g}] after [{low:g}, {small:g}]")  # fmt: skip


def in_unit(level: float, unit: str) -> float:
    """A level kept in inside units, in the unit of its tank's table."""
    factor = {"m": 1.0, "mm": 1e3, "%": 100.0}[unit]
    return level * factor
