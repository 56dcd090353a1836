"""Stocks between stations: levels are state, and over a period their change enters the balance.

A stock holds the material of one stream. Its purity at the opening may have been another than the
period's analyses tell: the shift is an assumed quantity with a doubt of its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial

from ratoon.equations import Eq, Report, Var
from ratoon.plant.declared import (
    OWN,
    SUPERVISOR,
    Accounted,
    Check,
    Named,
    Range,
    Setting,
)
from ratoon.plant.station import Station, usually
from ratoon.plant.streams import (
    JUICE,
    MASSECUITE,
    Quantities,
    Quantity,
    Stream,
    read,
)


@dataclass(frozen=True)
class Stock:
    """One stock: what it holds, how dense that is, and how much is usual."""

    called: str
    stream: str
    density: float  # kg/m3; 1 where the stock is kept in kg
    usual: float  # m3
    text: str
    components: tuple[str, ...] = JUICE
    unit: str = "m3"

    @property
    def trade(self) -> str:
        return "t" if self.unit == "kg" else self.unit


KNOWN = {
    s.called: s
    for s in (
        Stock("juice", "clear_juice", 1035.0, 200.0, "mixed and clear juice"),
        Stock("liquor", "pan_liquor", 1325.0, 250.0, "liquor"),
        Stock("A_massecuite", "pan.A.massecuite", 1471.0, 200.0, "A massecuite", MASSECUITE),
        Stock("B_massecuite", "pan.B.massecuite", 1482.0, 120.0, "B massecuite", MASSECUITE),
        Stock("C_massecuite", "pan.C.massecuite", 1489.0, 560.0,
              "C massecuite with crystallisers", MASSECUITE),
        Stock("A_molasses", "molasses.A", 1360.0, 90.0, "A molasses"),
        Stock("B_molasses", "molasses.B", 1365.0, 70.0, "B molasses"),
        Stock("magma", "magma", 1450.0, 40.0, "magma"),
        Stock("final_molasses", "final_molasses", 1425.0, 4000.0, "final molasses"),
        Stock("sugar", "sugar", 1.0, 180e3, "sugar in the bins", JUICE, "kg"),
    )
}  # fmt: skip


USUAL_RATE = 470.0 / 3.6  # kg/s: of the mill whose stocks are the usual ones above
UNREAD = 0.5  # of a stock's usual level: standard uncertainty where nobody took it
PRODUCTS = ("final_molasses", "sugar")  # made already: their stock only parts made from weighed
WEIGHED = ("final_molasses",)  # a dip that checks the weigher of what goes out


STEM = "stock."
ENDS = ("opening", "closing")


def level_of(called: str) -> str:
    """Address by which a stock is read at any time."""
    return f"{STEM}{called}"


def end_of(called: str, end: str) -> str:
    """Address of a stock at an end of the period."""
    return f"{STEM}{called}.{end}"


def is_stock(address: str) -> bool:
    """Whether an address tells of a stock."""
    return address.startswith(STEM)


def called_of(address: str) -> str:
    """What a stock is called, by its address or that of an end; "" for another address."""
    return without_end(address).removeprefix(STEM) if is_stock(address) else ""


def without_end(address: str) -> str:
    """The stock whose end an address tells of; any other address as it is."""
    stem, _, end = address.rpartition(".")
    return stem if is_stock(address) and end in ENDS else address


def _addresses(called: str) -> tuple[str, str, str]:
    return f"stock.{called}.opening", f"stock.{called}.closing", f"stock.{called}.purity_shift"


def growth(q: Quantities, called: str, density: float = 0.0) -> Quantity:
    """Growth of a stock's mass [kg/s]; zero when the flowsheet has no such stock.

    `density` [kg/m3] is the mill's own; 0 takes the usual one.
    """
    opening, closing, _ = _addresses(called)
    if opening not in q:
        return 0.0
    density = density or KNOWN[called].density
    return density * (q[closing] - q[opening]) / q["hours.crushing"]


def change(q: Quantities, called: str, density: float = 0.0) -> Stream:
    """Change of a stock as a stream [kg/s]; positive when the stock has grown."""
    opening, _, shift = _addresses(called)
    if opening not in q:
        return Stream()
    stock = KNOWN[called]
    holds = read(q, stock.stream, stock.components)
    grown = holds.share(growth(q, called, density) / holds.mass)
    if shift not in q:
        return grown
    dry = (density or stock.density) * q[opening] * holds.dry_substance / q["hours.crushing"]
    moved = dry * q[shift]
    return grown + Stream(sucrose=moved, nonsucrose=-1.0 * moved)


@dataclass(frozen=True)
class Stocks(Station):
    """All stocks of a flowsheet; `products` only part what was made from what was weighed."""

    names: tuple[str, ...]
    densities: Mapping[str, float] = field(default_factory=dict)  # the mill's own, kg/m3
    rate: float = USUAL_RATE  # kg/s of cane: a mill's tanks follow its size
    purity_shift_sigma: float = 0.005
    name: str = "stocks"

    def _usual(self, called: str) -> float:
        return KNOWN[called].usual * self.rate / USUAL_RATE

    def table(self) -> Iterator[Var]:
        for called in self.names:
            stock, usual = KNOWN[called], self._usual(called)
            opening, closing, shift = _addresses(called)
            for address, when in ((opening, "opening"), (closing, "closing")):
                yield usually(address, stock.unit, usual, UNREAD * usual, stock.trade,
                              f"{when} stock of {stock.text}", -0.2 * usual, 20.0 * usual,
                              )  # fmt: skip
            if called not in PRODUCTS:
                yield Var(shift, "kg/kg", -0.2, 0.2, 0.0, kind="assumed", trade="%",
                          sigma=self.purity_shift_sigma, text=f"rise of purity of {stock.text} "
                          "over the period, beyond what the analyses tell",
                          source="common practice, no source: stock purities +-0.5 unit "
                          "at each end")  # fmt: skip
        if "final_molasses" in self.names:
            yield Var("final_molasses.despatched", "kg/s", 0.0, 1e3, 0.0, kind="constant",
                      trade="t", text="final molasses sent away")  # fmt: skip

    def settings(self) -> Iterator[Setting]:
        for called in self.names:
            opening, closing, shift = _addresses(called)
            usual = self._usual(called)
            if called not in PRODUCTS:
                yield Setting(shift, still=OWN)
            if called != "final_molasses":
                yield Setting(opening, usual, Range(0.7, 1.3, OWN), still=opening)
                # A simulation lasts one hour: tanks hardly move.
                yield Setting(closing, usual, Range(0.99, 1.01, opening), still=opening)

    def equations(self, q: Quantities) -> Iterator[Eq]:
        if "final_molasses" in self.names:
            made = read(q, "final_molasses").mass
            yield Eq("final molasses: dip",
                     made - q["final_molasses.despatched"] - growth(q, "final_molasses"), 1.0,
                     "mass balance of the molasses tanks", only="account")  # fmt: skip

    def reports(self, q: Quantities) -> Iterator[Report]:
        for called in self.names:
            stock = KNOWN[called]
            holds = read(q, stock.stream, stock.components)
            opening, closing, shift = _addresses(called)
            if called not in PRODUCTS:
                yield Report(f"stock.{called}.opening_purity", holds.true_purity - q[shift],
                             "kg/kg", "%",
                             f"purity of the opening stock of {stock.text}")  # fmt: skip
            for address, when in ((opening, "opening"), (closing, "closing")):
                mass = (self.densities.get(called) or stock.density) * q[address]
                yield Report(f"stock.{called}.{when}_pol",
                             mass * holds.all_sucrose / holds.mass, "kg", "t",
                             f"pol in the {when} stock of {stock.text}", 1e4)  # fmt: skip
                yield Report(f"stock.{called}.{when}_dry", mass * holds.dry / holds.mass, "kg",
                             "t", f"dry substance in the {when} stock of {stock.text}",
                             1e4)  # fmt: skip

    def checks(self) -> Iterator[Check]:
        for called in self.names:
            yield Check(f"stock.{called}", f"Take the stock of {called.replace('_', ' ')} again, "
                        "same hour, same levels.", SUPERVISOR)  # fmt: skip

    def _sucrose(self, called: str, q: Quantities) -> Quantity:
        return change(q, called, self.densities.get(called, 0.0)).all_sucrose

    def _water(self, called: str, q: Quantities) -> Quantity:
        return change(q, called, self.densities.get(called, 0.0)).water

    def accounted(self) -> Iterator[Accounted]:
        for called in self.names:
            if called not in PRODUCTS:  # those count as made already
                yield Accounted("stock", called, KNOWN[called].text, partial(self._sucrose, called))
                yield Accounted("water out", "stock", "Into stock", partial(self._water, called))

    def named(self) -> Iterator[Named]:
        if "final_molasses" in self.names:
            yield Named("molasses sent away", "final_molasses.despatched")

    def start(self, s: dict[str, float]) -> None:
        for called in self.names:
            opening, closing, _ = _addresses(called)
            s[opening] = s[closing] = self._usual(called)
