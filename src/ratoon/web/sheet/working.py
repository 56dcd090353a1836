"""What is behind one number, and what rests on it: of a figure of the account, or of any quantity.

A figure has its formula; a quantity of the plant the equations in which it stands; either its
reading, or what is taken where nobody reads it. Each input leads on to its own page, down to rows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ratoon.base.units import from_inside, spread_from_inside
from ratoon.base.words import capital
from ratoon.reports.compose import day_in_words
from ratoon.reports.morning import LossRow, MorningSheet, Row, Working
from ratoon.reports.numbers import Shown, show
from ratoon.web.days import DayPlace
from ratoon.web.plant.works import flow_name
from ratoon.web.sheet.pages import ReadingRow

if TYPE_CHECKING:
    from ratoon.account.mill import Mill

NONE = "0 %"
MOST = 12
"""Equations shown of one quantity; the hours of the day stand in a hundred."""
WIDER = ("The ± above is wider, since the day's readings contradict one another by more than their "
         "stated uncertainty.")  # fmt: skip
BESIDE = {
    "account.cane": "the bins' net weights as they were tipped, by consignment. Here the cane is "
                    "that which agrees best with juice, bagasse, water and sugar of these hours.",
    "account.ccs": "the mean of the consignments by their own bottles, as it is paid. Here it is "
                   "that of the day's first juice, one sample stream over all the cane.",
    "account.pol_in_cane": "the mean of the consignments by their own bottles. Here it is what "
                           "mixed juice and bagasse carry together, per cane.",
}  # fmt: skip
TOGETHER = "found by the plant's equations together with all readings"


@dataclass(frozen=True, slots=True)
class Holding:
    """An equation in which a quantity stands: where it is from, and what else stands in it."""

    name: str
    source: str
    inputs: tuple[tuple[str, str, Shown], ...]


@dataclass(frozen=True, slots=True)
class WorkingPage:
    """One number's working, and what it feeds.

    Attributes
    ----------
    equations : those in which a quantity of the plant stands, `left_out` more beside them.
    taken : what is taken for it where nobody reads it, and `taken_from` what file or source.
    station : key and title of its station.
    feeds : address and name of what rests on it, and how.
    """

    place: DayPlace
    title: str
    working: Working
    row: Row | None = None
    loss: LossRow | None = None
    reading: ReadingRow | None = None
    equations: tuple[Holding, ...] = ()
    left_out: int = 0
    taken: Shown | None = None
    taken_from: str = ""
    of_file: bool = False
    station: tuple[str, str] = ("", "")
    feeds: tuple[tuple[str, str, str], ...] = ()
    by_day: bool = True
    """Whether its days and rows have a page."""

    @property
    def apart(self) -> str:
        """Why the figure and its own reading, as reconciled, are not told alike."""
        if self.reading is None or None in (self.reading.adjusted.value, self.working.shown.value):
            return ""
        own, whole = self.reading.adjusted, self.working.shown
        if own.text != whole.text:
            return "The reading is a mean over its own hours, the figure above one while crushing."
        return WIDER if own.interval != whole.interval else ""

    @property
    def beside(self) -> str:
        """Why the cane's own page has another figure for it; "" where it has none."""
        return BESIDE.get(self.working.address, "")


def figure_page(place: DayPlace, sheet: MorningSheet, working: Working) -> WorkingPage:
    """The page of a figure whose working the account gave."""
    address = working.address
    row = next((r for r in sheet.rows() if r.address == address), None)
    loss = next((r for r in sheet.losses if r.address == address), None)
    return WorkingPage(place, day_in_words(place.date), working, row, loss)


class Quantities:
    """The quantities of a mill on a day: what is known of each, and what it is found by."""

    def __init__(self, mill: Mill, works: Mapping[str, Any], sheet: MorningSheet) -> None:
        self.mill, self.sheet = mill, sheet
        self._figures: Mapping[str, Any] = works.get("figures", {})
        self._assumed = frozenset(works.get("assumed", ()))

    def has(self, address: str) -> bool:
        """Whether it is a quantity of the mill, or the sum of a stream's components."""
        return address in self.mill.addresses or address in self._figures

    def shown(self, address: str) -> Shown:
        """The day's figure of an address."""
        info = self.mill.addresses.get(address)
        value, sigma = self._figures.get(address, (None, None))
        return show(value, sigma, info.unit if info else "t/h")

    def name(self, address: str) -> str:
        """What people call it."""
        info = self.mill.addresses.get(address)
        return capital(info.name) if info else flow_name(address)

    def named(self, addresses: list[str]) -> tuple[tuple[str, str, Shown], ...]:
        """Those that the mill has, with name and figure."""
        return tuple((a, self.name(a), self.shown(a)) for a in addresses if self.has(a))

    def working(self, address: str) -> Working:
        """The working of what is no headline of the account."""
        told = self.mill.figures.get(address)
        report = self.mill.plant.equations.reports.get(address)
        formula, source, inputs = TOGETHER, "component balances", []
        if told is not None:
            formula, source, inputs = told.formula, told.source, list(told.inputs)
        if not inputs and report is not None:
            inputs = self.mill.plant.equations.names_in(report)
            formula = formula if told is not None else "worked out from"
        if address not in self.mill.addresses:
            formula = "what it is made of, together"
            inputs = [a for a in self._figures if a.startswith(f"{address}.")]
        return Working(
            address, self.name(address), self.shown(address),
            "not read" if report is None else "found", formula, source, self.named(inputs), (), (),
            address in self._assumed,
        )  # fmt: skip

    def page(self, page: WorkingPage, reading: ReadingRow | None) -> WorkingPage:
        """A page with all that the mill knows of its address beside the working."""
        from ratoon.plant.stages import owner, places

        address, equations = page.working.address, self.mill.plant.equations
        holding = equations.holding.get(address, [])
        var, info = equations.variables.get(address), self.mill.addresses.get(address)
        taken, source = None, ""
        if info is not None and var is not None and var.sigma and reading is None:
            taken = show(from_inside(var.expected, info.unit),
                         spread_from_inside(var.sigma, info.unit), info.unit)  # fmt: skip
            source = var.source
        known = places(self.mill.plant.works)
        station = owner(address, known)
        return WorkingPage(
            page.place, page.title, page.working, page.row, page.loss, reading,
            tuple(Holding(e.name, e.source,
                          self.named([a for a in equations.names_in(e) if a != address]))
                  for e in holding[:MOST]),
            max(len(holding) - MOST, 0), taken, source, address in self.mill.settings.assumed,
            (station, known[station].title if station else ""), self._feeds(address),
            info is not None,
        )  # fmt: skip

    def _feeds(self, address: str) -> tuple[tuple[str, str, str], ...]:
        """Figures that it enters, and those whose uncertainty it makes."""
        found = {
            f.address: "enters it" for f in self.mill.figures.values()
            if (address in f.inputs or address == f.reading)
        }  # fmt: skip
        for w in self.sheet.workings:
            share = next((s for _, _, s, a in w.shares if a == address), NONE)
            if share != NONE:
                entered = f"{found[w.address]}, " if w.address in found else ""
                found[w.address] = f"{entered}{share} of its uncertainty"
        return tuple((a, name, found[a]) for a, name, _ in self.named(list(found)) if a != address)
