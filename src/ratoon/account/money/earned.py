"""What a state of the plant earns: the money of what it sells, once for float, array and symbol.

Worth of a unit, a trial and an optimum use the same terms. What is estimated here is never paid.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ratoon.plant.roles import Roles
from ratoon.plant.streams import Quantities, Quantity
from ratoon.settings.records import PriceSettings, Settings

TONNE = 1e-3  # t/kg
PER_THOUSAND, PER_MILLION = 1e-3, 1e-6  # kg/kg
MEGAWATT_HOUR = 1.0 / 3.6e9  # MWh/J

Amount = Callable[[Quantities], Quantity]


@dataclass(frozen=True, slots=True)
class Term:
    """Something sold or bought.

    Parameters
    ----------
    name, unit : what is sold and in what it is priced. price : money for one `unit`.
    amount : `unit` sold a second, from the quantities by address [inside units].
    rests_on : addresses of the figures without which the term says nothing of a day.
    source : where the price stands.
    """

    name: str
    unit: str
    price: float
    amount: Amount
    rests_on: tuple[str, ...]
    source: str


def terms(roles: Roles, prices: PriceSettings) -> tuple[Term, ...]:
    """What a plant sells: sugar by its pol, molasses, surplus bagasse, power sent out."""
    molasses, sugar = roles.material("final molasses"), roles.material("sugar")
    return (
        Term("pol in sugar", "t", prices.sugar / prices.sugar_pol,
             lambda q: TONNE * sugar.of(q).sucrose, ("account.sugar", "account.sugar_pol"),
             "mill.toml: prices.sugar, prices.sugar_pol"),
        Term("final molasses", "t", prices.molasses, lambda q: TONNE * molasses.of(q).mass,
             (f"{molasses.stem}.weight",), "mill.toml: prices.molasses"),
        Term("bagasse stored", "t", prices.bagasse, lambda q: TONNE * roles.total("fuel stored", q),
             roles.addresses("fuel stored"), "mill.toml: prices.bagasse"),
        Term("power sent out", "MWh", prices.power,
             lambda q: MEGAWATT_HOUR * roles.total("power sent out", q),
             roles.addresses("power sent out"), "mill.toml: prices.power"),
    )  # fmt: skip


def costs(roles: Roles, settings: Settings) -> tuple[Term, ...]:
    """What is spent, prices negative: cane, other cost on it, chemicals at the dose aimed at."""
    cane, prices = roles.material("cane"), settings.prices
    flows: dict[str, Amount] = {
        "cane": lambda q: TONNE * cane.of(q).mass,
        "juice": lambda q: TONNE * roles.stream("mixed juice", q).mass,
        "steam": lambda q: TONNE * roles.total("steam in", q),
    }
    weight = (f"{cane.stem}.weight",)
    found = [
        Term("cane paid for", "t", -prices.cane, flows["cane"], weight, "mill.toml: prices.cane"),
        Term("other cost on cane", "t", -prices.beside_cane, flows["cane"], weight,
             "mill.toml: prices.other_on_cane"),
    ]  # fmt: skip
    for address, one in settings.chemicals.items():
        if one.price and one.target and one.on in flows:
            dose = one.target * (PER_THOUSAND if one.on == "cane" else PER_MILLION)
            found.append(Term(
                one.name or address.removesuffix(".used").replace("_", " "), "t", -one.price,
                _dosed(dose, flows[one.on]), weight,
                f"mill.toml: chemicals.{address}: price, target",
            ))  # fmt: skip
    return tuple(found)


def _dosed(dose: float, flow: Amount) -> Amount:
    return lambda q: dose * flow(q)


def earned(sold: tuple[Term, ...], q: Quantities) -> Quantity:
    """Money earned a second, less what is spent where `sold` holds costs."""
    return sum((t.price * t.amount(q) for t in sold[1:]), sold[0].price * sold[0].amount(q))
