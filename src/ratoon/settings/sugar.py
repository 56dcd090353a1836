"""What a mill file can say of sugar after it is made: sheds, keeping, the refinery, buyers.

Defaults have their source, or are the mill's choice; a plan says which it had to take.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ratoon.settings.fields import setting
from ratoon.settings.season import PlannedStop

ENDS = ("half cones", "end walls")


def _name(text: str) -> Any:
    return setting("", text, unique=True)


@dataclass(frozen=True, kw_only=True)
class ShedRow:
    name: str = _name("name of the shed, as movements begin")
    width: float | None = setting("m", "inside, between its walls", None, low=1.0, high=500.0)
    length: float | None = setting("m", "inside", None, low=1.0, high=2000.0)
    push_wall: float = setting("m", "height of the walls that sugar may lie against", 0.0,
                               high=30.0)  # fmt: skip
    ends: str = setting("", "how a pile ends: half cones, or at end walls", "half cones",
                        one_of=ENDS)  # fmt: skip
    angle: float = setting(
        "", "degrees, angle of repose; fresh raw sugar 35 to 38 (common practice, no source)", 37.0,
        low=10.0, high=60.0,
    )  # fmt: skip
    density: float = setting(
        "", "t/m3 of stowed raw sugar; 0.815 to 0.855 [StowageList], denser at the base", 0.85,
        low=0.5, high=1.2,
    )  # fmt: skip
    tonnes: float | None = setting(
        "t", "what it holds, full; by its shape where left out", None, low=1.0
    )
    heel: float = setting("t", "that stays in it (mill's choice)", 0.0)
    cells: tuple[str, ...] = setting(
        "", "names of its cells along its length, or how many there are: 1, 2, ...; any where "
        "left out", (),
    )  # fmt: skip
    in_rate: float | None = setting("t/h", "most that can be put in", None)
    out_rate: float | None = setting("t/h", "most that can be drawn", None)


@dataclass(frozen=True, kw_only=True)
class KeepingRow:
    figure: str = setting("", "what changes in store", one_of=("pol", "colour"), unique=True)
    rate: float = setting(
        "", "lost or gained in 30 days at 30 degC: pol in %, colour in % of itself; for each unit "
        "of safety factor over `above` where that is given", low=0.0, high=100.0,
    )  # fmt: skip
    sigma: float = setting("", "its standard uncertainty, in the same unit", low=0.0, high=100.0)
    doubling: float | None = setting(
        "K", "of warmth that double it; left out: the same at any warmth", None, low=1.0, high=100.0
    )
    above: float | None = setting("", "safety factor above which it goes on", None, low=0.0,
                                  high=1.0)  # fmt: skip
    source: str = setting("", "whose word that is")


@dataclass(frozen=True, kw_only=True)
class SisterMillRow:
    name: str = _name("name of the mill")
    folder: str = setting("", "its own folder, seen from this one; else files mill_weeks", "")
    brand: str = setting("", "brand that it makes", "")
    cost: float = setting("", "money to haul a tonne from it", 0.0, low=0.0)
    most: float | None = setting("t", "that can be hauled from it in a week", None)


@dataclass(frozen=True, kw_only=True)
class ProductRow:
    name: str = _name("name of the product")
    pack: float = setting("kg", "of one pack", low=0.001)
    yield_: float = setting("%", "product from sugar melted for it", low=1.0, high=100.0)
    store: float | None = setting("t", "packed, that its store holds", None)
    value: float = setting("", "money for a tonne of it", low=0.0)
    short_cost: float = setting("", "money for a tonne that is ordered and not there", 0.0,
                                low=0.0)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class RefinerySettings:
    melt_least: float = setting("t", "melted in a week that it runs (mill's choice)", 0.0)
    melt_most: float | None = setting("t", "that it can melt in a week", None)
    stops: tuple[PlannedStop, ...] = setting("", "stops of the refinery, as planned", ())
    pol_least: float | None = setting("%", "least mean pol of a week's melt", None)
    colour_most: float | None = setting("", "IU, most mean colour of a week's melt", None, low=0.0)
    heel: float = setting("t", "of raw sugar that it keeps before it (mill's choice)", 0.0)
    hire_cost: float | None = setting(
        "", "money for a tonne over a shed's room, a week; none can be hired where left out", None,
        low=0.0,
    )  # fmt: skip
    hire_most: float | None = setting("t", "of room that can be hired", None)
    spill_cost: float | None = setting(
        "", "money that a tonne costs which finds no room, beside its sale; the price of sugar "
        "where left out", None, low=0.0,
    )  # fmt: skip
    left_value: float | None = setting(
        "", "money that a tonne of raw sugar is worth which is there when the year ends; nine "
        "tenths of what the buyer of least price pays where left out (mill's choice)", None,
        low=0.0,
    )  # fmt: skip
    products: tuple[ProductRow, ...] = setting("", "what it makes and packs", ())


@dataclass(frozen=True, kw_only=True)
class BuyerRow:
    name: str = _name("who buys raw sugar")
    brand: str = setting("", "brand that it takes; any where left out", "")
    most: float | None = setting("t", "that it takes in a week", None)
    price: float = setting("", "money a tonne", low=0.0)


def _nutrient(name: str) -> Any:
    return setting("kg/t", f"{name}, on wet tonnes", 0.0)


@dataclass(frozen=True, kw_only=True)
class SpreadProductRow:
    name: str = _name("mud, ash, or what it is called")
    N: float = _nutrient("nitrogen")
    P: float = _nutrient("phosphorus")
    K: float = _nutrient("potassium")
    S: float = _nutrient("sulphur")
    Ca: float = _nutrient("calcium")
    limit: float | None = setting(
        "", "t/ha, wet, from which `words` hold; the mill's own", None, low=0.0, high=10_000.0
    )
    words: str = setting("", "what is said of a block above the limit", "")
