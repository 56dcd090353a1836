"""The grammar of addresses: every quantity of the mill has one name, ``station.quantity``.

An address is dotted words, such as ``mill.3.bagasse.moisture`` or ``pan.A.massecuite.purity``.
Readings, limits, reports and columns use addresses only, each spelt one way.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from ratoon.base import units

_DIGITS = re.compile(r"(\d+)")


@dataclass(frozen=True, slots=True)
class AddressInfo:
    """What is known of one address.

    Parameters
    ----------
    address : dotted words.
    name : the trade's name of the quantity.
    unit : the trade unit in which people read it.
    kind : "free", "assumed", "constant", "report", "stock" ...: how the plant treats it.
    low, high : limits of a reading, in `unit`; None for no limit.
    readable : False for what is only ever computed, such as ``account.ccs``.
    level : True for a stock or level, which is read at an instant.
    sigma_known : True when the settings state a standard uncertainty for it.
    usual : the range in which nearly every mill's figure lies, in `unit`; None where not known.
    check : what to look at when a reading of it is suspect. owner : who does.
    unread : value and standard uncertainty that an account takes where it was not read, in
        `unit`; None where nothing stands for it.
    """

    address: str
    name: str
    unit: str
    kind: str = "free"
    low: float | None = None
    high: float | None = None
    readable: bool = True
    level: bool = False
    sigma_known: bool = True
    usual: tuple[float, float] | None = None
    check: str = ""
    owner: str = ""
    unread: tuple[float, float] | None = None

    @property
    def dimension(self) -> str:
        """Dimension of the quantity, such as "mass flow"."""
        return units.dimension(self.unit)

    def takes(self, unit: str) -> bool:
        """True when a reading in `unit` can be of this quantity.

        A flow is read as a mean (t/h) or as its total over the period (t); a level is read only
        in units of its own dimension.
        """
        if self.level:
            return units.dimension(unit) == self.dimension
        return units.same_quantity(unit, self.unit)

    def accepted_units(self) -> list[str]:
        """The units in which it can be read, its own first."""
        dims = {self.dimension}
        if not self.level:
            pairs = units.MEAN_OF_TOTAL.items()
            dims |= {a for a, b in pairs if b in dims} | {b for a, b in pairs if a in dims}
        all_units = [unit for dim in sorted(dims) for unit in units.units_of(dim)]
        return [self.unit, *(unit for unit in all_units if unit != self.unit)]


def word_of(name: str) -> str:
    """A word of an address out of a name that people write.

    Examples
    --------
    >>> word_of("No cane, rain")
    'no_cane_rain'
    """
    kept = "".join(c if c.isascii() and c.isalnum() else "_" for c in name.strip().lower())
    return "_".join(filter(None, kept.split("_"))) or "_"


def sort_key(address: str) -> tuple[tuple[tuple[int, int, str], ...], ...]:
    """Key for the natural order: ``effect.2`` before ``effect.10``."""
    return tuple(
        tuple(
            (0, int(part), "") if part.isdigit() else (1, 0, part)
            for part in _DIGITS.split(word)
            if part
        )
        for word in address.split(".")
    )


def natural(addresses: Iterable[str]) -> list[str]:
    """Addresses in natural order.

    Examples
    --------
    >>> natural(["mill.10.juice", "mill.2.juice", "cane.rate"])
    ['cane.rate', 'mill.2.juice', 'mill.10.juice']
    """
    return sorted(addresses, key=sort_key)
