"""Stocks between stations: levels are state, and over a period their change enters the balance.

A stock holds the material of one stream. What it held at the opening may have been of another brix
and purity than the period's analyses tell: both shifts are assumed quantities with uncertainties of
their own, and an analysis of the opening stock stands in the place of either.
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
    ABSENT,
    JUICE,
    MASSECUITE,
    Quantities,
    Quantity,
    Stream,
    read,
    told_brix,
    told_purity,
)
from ratoon.plant.thick import read_thick


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
    def is_juice(self) -> bool:
        """Whether a laboratory reads it as a juice: thin, and pol for sucrose."""
        return self.called in ("juice", "liquor")

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
UNREAD = 0.5  # of a stock's usual level: standard uncertainty where it was not taken
PRODUCTS = ("final_molasses", "sugar")  # made already: their stock only parts made from weighed
STEADY = 0.05  # the same of a product: its weigher tells far better what was made than a wide bin
WEIGHED = ("final_molasses",)  # a dip that checks the weigher of what goes out


STEM = "stock."
ENDS = ("opening", "closing")
SHIFT = 0.005  # kg/kg, of dry substance and of purity
ANALYSES = {"brix": "brix of", "purity": "purity of", "apparent_purity": "apparent purity of",
            "pol_content": "pol in"}  # fmt: skip


def level_of(called: str) -> str:
    """Address by which a stock is read at any time."""
    return f"{STEM}{called}"


def end_of(called: str, end: str) -> str:
    """Address of a stock at an end of the period."""
    return f"{STEM}{called}.{end}"


def opening_of(called: str, analysis: str) -> str:
    """Address of an analysis of the opening stock."""
    return f"{STEM}{called}.opening_{analysis}"


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


def _ends_of(called: str) -> tuple[str, str]:
    return end_of(called, "opening"), end_of(called, "closing")


def shifts_of(called: str) -> tuple[str, str]:
    """Addresses of what its dry substance and its purity rose by over the period."""
    return f"{STEM}{called}.dry_shift", f"{STEM}{called}.purity_shift"


def growth(q: Quantities, called: str, density: float = 0.0) -> Quantity:
    """Growth of a stock's mass [kg/s]; zero when the flowsheet has no such stock.

    `density` [kg/m3] is the mill's own; 0 takes the usual one.
    """
    opening, closing = _ends_of(called)
    if opening not in q:
        return 0.0
    density = density or KNOWN[called].density
    return density * (q[closing] - q[opening]) / q["hours.crushing"]


def opened(q: Quantities, called: str) -> Stream:
    """What a kilogram of the opening stock held: the stream's composition, less what it rose."""
    stock, (drier, shift) = KNOWN[called], shifts_of(called)
    holds = read(q, stock.stream, stock.components)
    if shift not in q:
        return holds.share(1.0 / holds.mass)
    dry = holds.dry_substance - q[drier]
    sucrose = dry * (holds.true_purity - q[shift])
    crystal = ABSENT if holds.crystal is ABSENT else holds.crystal / holds.mass
    return Stream(1.0 - dry, sucrose - crystal, dry - sucrose, crystal=crystal)


def change(q: Quantities, called: str, density: float = 0.0) -> Stream:
    """Change of a stock as a stream [kg/s]; positive when the stock has grown."""
    opening, closing = _ends_of(called)
    if opening not in q:
        return Stream()
    stock = KNOWN[called]
    holds = read(q, stock.stream, stock.components)
    each = (density or stock.density) / q["hours.crushing"]  # kg/s for a unit of stock
    now = holds.share(each * q[closing] / holds.mass)
    return now - opened(q, called).share(each * q[opening])


@dataclass(frozen=True)
class Stocks(Station):
    """All stocks of a flowsheet; `products` only part what was made from what was weighed."""

    names: tuple[str, ...]
    densities: Mapping[str, float] = field(default_factory=dict)  # the mill's own, kg/m3
    rate: float = USUAL_RATE  # kg/s of cane: a mill's tanks follow its size
    magma_of: str = ""  # the grade whose sugar is mingled
    name: str = "stocks"

    def _usual(self, called: str) -> float:
        return KNOWN[called].usual * self.rate / USUAL_RATE

    def table(self) -> Iterator[Var]:
        for called in self.names:
            stock, usual = KNOWN[called], self._usual(called)
            for address, when in zip(_ends_of(called), ENDS):
                yield usually(address, stock.unit, usual, UNREAD * usual, stock.trade,
                              f"{when} stock of {stock.text}", -0.2 * usual, 20.0 * usual,
                              )  # fmt: skip
            if called in PRODUCTS:
                continue
            for address, what, analyses in zip(
                shifts_of(called), ("dry substance", "purity"),
                (("brix",), ("purity",) if stock.is_juice else ("purity", "apparent_purity")),
            ):  # fmt: skip
                yield Var(address, "kg/kg", -0.2, 0.2, 0.0, kind="assumed", trade="%",
                          sigma=SHIFT, text=f"rise of {what} of {stock.text} over the period, "
                          "beyond what the analyses tell", source="common practice, no source: "
                          "brix and purity of stocks +-0.5 unit at each end",
                          told_by=tuple(opening_of(called, a) for a in analyses))  # fmt: skip
        if "final_molasses" in self.names:
            yield Var("final_molasses.despatched", "kg/s", 0.0, 1e3, 0.0, kind="constant",
                      trade="t", text="final molasses sent away")  # fmt: skip

    def settings(self) -> Iterator[Setting]:
        for called in self.names:
            opening, closing = _ends_of(called)
            usual = self._usual(called)
            if called not in PRODUCTS:
                for shift in shifts_of(called):
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
            closed, begun = holds.share(1.0 / holds.mass), opened(q, called)
            if called not in PRODUCTS:
                yield from self._analyses(q, stock, begun)
            for address, when, held in zip(_ends_of(called), ENDS, (begun, closed)):
                mass = (self.densities.get(called) or stock.density) * q[address]
                yield Report(f"{address}_pol", mass * held.all_sucrose, "kg", "t",
                             f"pol in the {when} stock of {stock.text}", 1e4)  # fmt: skip
                yield Report(f"{address}_dry", mass * held.dry, "kg", "t",
                             f"dry substance in the {when} stock of {stock.text}",
                             1e4)  # fmt: skip

    def _analyses(self, q: Quantities, stock: Stock, held: Stream) -> Iterator[Report]:
        """The opening stock as a laboratory reads it."""
        what = f"the opening stock of {stock.text}"
        if stock.is_juice:
            brix, pol = told_brix(q, held), held.sucrose
            told = {"brix": brix, "purity": told_purity(q, held), "pol_content": pol}
        else:
            letter = self.magma_of if stock.called == "magma" else stock.called[0]
            pol, brix = read_thick(q, held, letter, f"{stock.stream}.dry_on_brix")
            told = {"brix": brix, "purity": held.true_purity, "apparent_purity": pol / brix,
                    "pol_content": pol}  # fmt: skip
        for analysis, value in told.items():
            yield Report(opening_of(stock.called, analysis), value, "kg/kg", "%",
                         f"{ANALYSES[analysis]} {what}")  # fmt: skip

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
            yield Named("sent away", "final_molasses.despatched")

    def start(self, s: dict[str, float]) -> None:
        for called in self.names:
            for address in _ends_of(called):
                s[address] = self._usual(called)
