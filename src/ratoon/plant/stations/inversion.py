"""Inversion of sucrose from pH, temperature and residence: heaters, clarifier and effects.

Juice below neutral, hot and long enough turns sucrose into reducing sugars. The rate follows from
the pH *at temperature*: with a pH read at room temperature five effects sum to about a tenth of
what is lost. The pH falls from clear juice to liquor by even steps, effect by effect. The model
carries 10 to 30 % error and the pH more, so shares come with wide intervals.

A mill chooses whether its known loss is what it states for clarifier and effects, with this beside
it, or what stands here. Then a doubtful `inversion.model` carries the model's own error. Where it
states shares, a trial moves them from the day's as the shares here move.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ratoon.base.validity import unchecked
from ratoon.equations import Eq, Var
from ratoon.plant.declared import Named, Setting
from ratoon.plant.laws import from_the_day, on_the_day
from ratoon.plant.station import Downstream, Follows, shared
from ratoon.plant.stations.clarifier import Clarifier
from ratoon.plant.stations.evaporator import Evaporator
from ratoon.plant.streams import RAW_JUICE, Quantities, Quantity, Stream, read
from ratoon.properties.solution import density
from ratoon.properties.solution.inversion import inversion_rate, inverted, ph_at_temperature

VUKOV = "[Vukov1965], constants from memory"
COMMON = "common practice, no source"
HOUR = 3600.0
RATE, DENSITY = unchecked(inversion_rate), unchecked(density)  # figures that only tell
PH = (
    ("mixed_juice", 5.3, 0.15, "common practice, no source: unlimed juice 5.0 to 5.5"),
    ("limed_juice", 7.6, 0.15, COMMON),
    ("clear_juice", 7.2, 0.15, "[Eggleston-pH], seen: 7.1 to 7.3 with liquor at 6.3 to 6.5"),
    ("liquor", 6.4, 0.15, "[Eggleston-pH], seen: 6.3 to 6.5 with clear juice at 7.1 to 7.3"),
)


@dataclass(frozen=True)
class Place:
    """Where juice is hot for a time: its address, words, volume [m3] and addresses of its heat."""

    name: str
    text: str
    volume: float
    stream: str
    temperature: str
    raw: bool = False
    effect: int = 0
    ph: str = ""  # stream whose pH holds here; the stream itself when left out


@dataclass(frozen=True)
class Inversion(Downstream):
    """What pH, temperature and residence say of inversion, place by place."""

    clarifier: Clarifier
    evaporator: Evaporator
    places: tuple[Place, ...]
    replaces: bool = False  # whether clarifier and effects take their shares from here
    name: str = "inversion"

    @property
    def closes(self) -> bool:
        return self.replaces

    def stated(self) -> Iterator[Var]:
        for stream, value, sigma, source in PH:
            yield Var(f"{stream}.ph", "pH", 3.5, 12.0, value, 1.0, "assumed",
                      f"pH of {stream.replace('_', ' ')} at 20 °C", "pH", sigma, source,
                      )  # fmt: skip
        yield Var("inversion.ph_slope", "1", 0.0, 0.03, 0.0075, 0.01, "assumed",
                  "fall of pH for each K above 20 °C", "1", 0.0010,
                  "from memory, low confidence: 0.006 to 0.010")  # fmt: skip
        yield Var("inversion.model", "1", 0.05, 20.0, 1.0, 1.0, "assumed",
                  "true rate of inversion over the model's", "1", 0.25,
                  "own: models of inversion carry 10 to 30 %")  # fmt: skip
        for address in self._leads:
            yield on_the_day(address, "1", "%", "sucrose inverted on the way, by pH and heat")

    @property
    def _leads(self) -> list[str]:
        """Shares that lead what is stated of clarifier and effects, in a trial."""
        return [] if self.replaces else [f"inversion.{p.name}.share" for p in self._stated]

    @property
    def _stated(self) -> list[Place]:
        """Places of whose inversion a mill states the share."""
        return [p for p in self.places if p.effect or p.name == self.clarifier.name]

    def settings(self) -> Iterator[Setting]:
        for address in self._leads:
            yield from_the_day(address)

    def follows(self) -> Iterator[Follows]:
        for p in self.places:
            yield from self._place(p)
        yield Follows("inversion.expected.flow", "kg/s", "t/h", "sucrose inverted, by pH and heat",
                      "sum of shares times the sucrose that comes", self._expected,
                      0.01)  # fmt: skip
        yield Follows("inversion.expected_on_stated", "1", "1",
                      "sucrose inverted by pH and heat over what is accounted", "ratio",
                      lambda q: q["inversion.expected.flow"] / (self._accounted(q) + 1e-9),
                      )  # fmt: skip

    def _place(self, p: Place) -> Iterator[Follows]:
        n = f"inversion.{p.name}"
        yield Follows(f"{n}.ph", "pH", "pH", f"pH at temperature, {p.text}",
                      "falls in a straight line with temperature; from memory",
                      lambda q: ph_at_temperature(self.ph_at_20(q, p), q[p.temperature],
                                                  q["inversion.ph_slope"]))  # fmt: skip
        yield Follows(f"{n}.residence", "s", "min", f"time that juice spends in {p.text}",
                      "volume held over flow, each at the place's density",
                      lambda q: self._residence(q, p), 100.0)  # fmt: skip
        yield Follows(f"{n}.rate", "1", "%", f"sucrose inverted in an hour in {p.text}", VUKOV,
                      lambda q: inverted(self._rate(q, p), HOUR), 1e-4)  # fmt: skip
        yield Follows(f"{n}.share", "1", "%", f"sucrose inverted on the way through {p.text}",
                      "first order over the residence; " + VUKOV,
                      lambda q: inverted(self._rate(q, p), q[f"{n}.residence"]),
                      1e-4)  # fmt: skip

    def ph_at_20(self, q: Quantities, p: Place) -> Quantity:
        """pH of the juice leaving a place, as a laboratory reads it."""
        if not p.effect:
            return q[f"{p.ph or p.stream}.ph"]
        clear, liquor = q["clear_juice.ph"], q["liquor.ph"]
        return clear + (liquor - clear) * (p.effect / self.evaporator.count)

    @shared
    def _juice(self, q: Quantities, p: Place) -> Stream:
        return read(q, p.stream, RAW_JUICE) if p.raw else read(q, p.stream)

    def _residence(self, q: Quantities, p: Place) -> Quantity:
        juice, own = self._juice(q, p), q["hours.evaporator"] / q["hours.crushing"]
        held = p.volume * DENSITY(juice.brix, q[p.temperature])
        # Flows are means over crushing hours; the juice passes in the station's own.
        return held / juice.mass * own

    @shared
    def _rate(self, q: Quantities, p: Place) -> Quantity:
        """Sucrose inverted a second, as a share."""
        juice = self._juice(q, p)
        rate = RATE(juice.brix, juice.purity, q[p.temperature], q[f"inversion.{p.name}.ph"])
        return q["inversion.model"] * rate

    def _expected(self, q: Quantities) -> Quantity:
        total = 0.0
        for p in self.places:
            feed = self.evaporator.feed_to(q, p.effect) if p.effect else self._juice(q, p)
            total = total + q[f"inversion.{p.name}.share"] * feed.sucrose
        return total

    def _accounted(self, q: Quantities) -> Quantity:
        return self.evaporator.inverted(q) + self.clarifier.inverted(q)

    def named(self) -> Iterator[Named]:
        yield Named("inversion expected", "inversion.expected_on_stated")
        yield Named("inversion model", "inversion.model")

    def equations(self, q: Quantities) -> Iterator[Eq]:
        yield from super().equations(q)
        for p in self._stated if self.replaces else ():
            yield Eq(f"{p.text}: inversion by pH and heat",
                     q[f"{p.name}.inversion"] - q[f"inversion.{p.name}.share"], 1e-4,
                     "the mill's choice: inversion by pH, temperature and residence")  # fmt: skip
