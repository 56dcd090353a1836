"""Plain records of sugar made, moved and wanted, shared by all rooms, in the mill's trade units.

Masses in t, analyses in %, temperatures in degC, lengths in m. What nobody read is None.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import ClassVar

REFINERY = "refinery"
"""The place of the refinery; what it packs is at ``refinery/PRODUCT``."""
KINDS = ("in", "turn", "melt", "load", "adjust")
"""What a movement of sugar is: into a store, within one, to the melt, out to a buyer, put right."""
SLOT = "/"
"""Between a shed and its cell, or the refinery and its product."""


def place(shed: str, cell: str) -> str:
    """A cell of a shed as a movement names it.

    Examples
    --------
    >>> place("North", "3")
    'North/3'
    """
    return f"{shed}{SLOT}{cell}"


@dataclass(frozen=True, slots=True)
class Lot:
    """Sugar made between two moments as one, with its analyses, and the cell that it was put in.

    Parameters
    ----------
    mill : who made it; "" for this mill. pol, moisture : [%]. colour : [IU]. temperature : as it
        went in [degC]. shed, cell : both "" where it went to no shed.
    """

    lot: str
    start: datetime
    end: datetime
    mill: str
    brand: str
    tonnes: float
    pol: float | None = None
    moisture: float | None = None
    colour: float | None = None
    temperature: float | None = None
    shed: str = ""
    cell: str = ""

    LIMITS: ClassVar = (
        ("tonnes", 0.001, 1e6, "t"), ("pol", 80.0, 100.0, "%"), ("moisture", 0.0, 10.0, "%"),
        ("colour", 0.0, 100_000.0, "IU"), ("temperature", -10.0, 120.0, "degC"),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Movement:
    """Sugar moved from one place to another.

    Parameters
    ----------
    from_, to : SHED/CELL, a mill, ``refinery``, ``refinery/PRODUCT``, a buyer or customer; an
        adjustment has one of them alone. lot : "" where the movement does not say which.
    """

    movement: str
    time: datetime
    kind: str
    from_: str
    to: str
    tonnes: float
    lot: str = ""
    document: str = ""

    LIMITS: ClassVar = (("tonnes", 0.001, 1e6, "t"),)


@dataclass(frozen=True, slots=True)
class ShedSurvey:
    """What was measured of a shed, or of one cell: its tonnes, or the shape of the pile.

    Parameters
    ----------
    cell : "" for the whole shed. tonnes, sigma : [t]. height : of the ridge [m]. length : of the
        foot [m]. angle : of repose [degrees]. density : [t/m3].
    """

    shed: str
    time: datetime
    cell: str = ""
    tonnes: float | None = None
    sigma: float | None = None
    height: float | None = None
    length: float | None = None
    angle: float | None = None
    density: float | None = None

    LIMITS: ClassVar = (
        ("tonnes", 0.0, 1e7, "t"), ("sigma", 0.001, 1e6, "t"), ("height", 0.0, 100.0, "m"),
        ("length", 0.1, 2000.0, "m"), ("angle", 10.0, 60.0, "degrees"),
        ("density", 0.5, 1.2, "t/m3"),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Order:
    """Packs that a customer wants between two days, both included."""

    order: str
    customer: str
    product: str
    packs: float
    earliest: date
    due: date

    LIMITS: ClassVar = (("packs", 0.001, 1e8, "packs"),)


@dataclass(frozen=True, slots=True)
class MillWeek:
    """Sugar that a sister mill made, or means to make, in one mill week [t]."""

    mill: str
    week: date
    brand: str
    tonnes: float
    sigma: float | None = None

    LIMITS: ClassVar = (("tonnes", 0.0, 1e6, "t"), ("sigma", 0.0, 1e6, "t"))


@dataclass(frozen=True, slots=True)
class SpreadLoad:
    """A load of mud or ash spread on a block: wet tonnes, moisture [%]."""

    load: str
    time: datetime
    product: str
    farm: str
    block: str
    tonnes: float
    moisture: float | None = None

    LIMITS: ClassVar = (("tonnes", 0.001, 1e4, "t"), ("moisture", 0.0, 100.0, "%"))
